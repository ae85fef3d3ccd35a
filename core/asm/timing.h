// How many cycles an instruction takes.
#pragma once

#include <cstdint>
#include <span>

#include "cpu/instruction.h"

namespace prewire::assembler {

struct Timing {
  int cycles = 0;  ///< the least
  int most = 0;    ///< 0: until an interrupt comes
};

/// `bytes` are those of the instruction.
Timing timing_of(const Instruction& instruction, std::span<const std::uint8_t> bytes);

}  // namespace prewire::assembler
