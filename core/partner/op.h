// What the partner wants to know of an opcode, from the instruction tables.
#pragma once

#include <array>
#include <cstdint>

#include "cpu/instruction.h"

namespace prewire::partner {

enum Trait : std::uint32_t {
  kDefined = 1,
  kCall = 1 << 1,       ///< JSR, BSR, LBSR
  kRts = 1 << 2,        ///< takes a return address
  kRti = 1 << 3,        ///
  kSwi = 1 << 4,        ///< any of the software interrupts
  kWait = 1 << 5,       ///< WAI, CWAI: registers are stacked, then it waits
  kPush = 1 << 6,       ///< PSHA, PSHB, PSHS
  kPull = 1 << 7,       ///< PULS, which may take a return address, too
  kSetsStack = 1 << 8,  ///< may load S
  kStore = 1 << 9,
  kStore16 = 1 << 10,  ///< of two bytes
  kModify = 1 << 11,   ///< reads a byte, writes it back
  kRead = 1 << 12,     ///< a byte or two as data
  kSign = 1 << 13,     ///< BPL, BMI
  kCarry = 1 << 14,    ///< a conditional branch that looks at C
  kBranch = 1 << 15,   ///< any conditional branch
  kDaa = 1 << 16,
  kSpoilsDaa = 1 << 17,  ///< changes A and leaves no half carry that DAA could use
  kCpx = 1 << 18,        ///< of the MC6800, which leaves C alone
  kPrefix = 1 << 19,
  kSkips = 1 << 21,         ///< BIT, CMP, CPX with a value, BRN: often only there to skip what stands in the operand
  kDrops = 1 << 22,         ///< a load of a value that the next load may replace: there to skip, too
  kImmediateToo = 1 << 20,  ///< a direct or extended read that exists with a value in the instruction as well
};

/// Opcodes with these need a look each time they come by.
constexpr std::uint32_t kMoves = kCall | kRts | kRti | kSwi | kWait | kPush | kPull | kSetsStack;
constexpr std::uint32_t kWrites = kStore | kStore16 | kModify;

struct Op {
  std::uint32_t traits = 0;
  Mode mode = Mode::inherent;
  std::uint8_t bytes = 1;

  bool has(std::uint32_t some) const { return (traits & some) != 0; }
  bool indexed() const { return mode == Mode::offset || mode == Mode::indexed; }
};

class Ops {
 public:
  explicit Ops(bool mc6809);
  /// `page` is 0, or 1 and 2 behind $10 and $11.
  const Op& of(int page, int opcode) const {
    return ops_[static_cast<std::size_t>(page) * 256 + static_cast<std::size_t>(opcode)];
  }

 private:
  std::array<Op, 3 * 256> ops_{};
};

}  // namespace prewire::partner
