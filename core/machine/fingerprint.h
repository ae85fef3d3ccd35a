// What a saved state belongs to, as a number.
#pragma once

#include <cstdint>

#include "description/spec.h"

namespace prewire {

/// Two machines have the same if a state of one means the same to the other. Titles, file names and how something was
/// written do not count, nor does the seed, which is part of the state.
std::uint64_t fingerprint_of(const MachineSpec& spec);

}  // namespace prewire
