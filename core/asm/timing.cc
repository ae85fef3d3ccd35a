#include "asm/timing.h"

namespace prewire::assembler {

Timing timing_of(const Instruction& instruction, std::span<const std::uint8_t> bytes) {
  const int cycles = least_cycles(instruction, bytes);
  Timing timing{cycles, cycles};
  if (instruction.group == "lbcc") ++timing.most;                                              // M6809PM: taken
  if (instruction.group == "rti" && instruction.prefix == 0 && cycles == 6) timing.most = 15;  // MC6809, E set
  const bool waits = instruction.group == "wai" || instruction.group == "cwai" || instruction.group == "sync";
  if (waits) timing.most = 0;
  return timing;
}

}  // namespace prewire::assembler
