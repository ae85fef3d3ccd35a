// What a program still needs of a register, without running it.
#pragma once

#include <cstdint>

namespace prewire {

class Machine;

/// Whether accumulator 'A' or 'B' is overwritten on every way from the instruction at `address` before anything looks
/// at it: a guess that follows branches, jumps and calls as far as their bytes tell where they lead, a few dozen
/// instructions at most. False where it cannot be told.
bool unread_until_overwritten(const Machine& machine, std::uint16_t address, char accumulator);

}  // namespace prewire
