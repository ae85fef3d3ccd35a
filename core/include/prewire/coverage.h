// Which instructions a program has executed, how often, and which way its branches went.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "prewire/cpu.h"
#include "prewire/watch.h"

namespace prewire {

class Machine;

/// Counts instructions by address.
class Coverage final : public Observer {
 public:
  struct Count {
    std::uint64_t executed = 0;
    std::uint64_t taken = 0, passed = 0;  ///< of a conditional branch: somewhere else, and on to the next instruction
    std::uint64_t entered = 0;            ///< of these, by a call or an interrupt
    int opcode = -1;                      ///< of the first byte, the last time; -1: never executed
    Flow flow = Flow::plain;
    std::uint16_t next = 0;  ///< address behind it
  };

  /// The machine must outlive it.
  explicit Coverage(const Machine& machine) : machine_(machine), counts_(65536) {}

  unsigned wants() const override { return kInstructions; }
  void on_instruction(const Cpu& /*cpu*/, std::uint16_t pc, int opcode, Cycle /*cycle*/) override {
    if (before_ != nullptr) [[unlikely]]
      follow(pc, opcode);
    if (opcode < 0) return enter(opcode);
    Count& count = counts_[pc];
    ++count.executed;
    if (count.opcode != opcode) [[unlikely]]
      learn(count, pc, opcode);
    if (count.flow != Flow::plain) before_ = &count;
  }

  /// Takes in what another machine of the same programs has executed; of a byte that has been two opcodes the lower one
  /// stays, so that the order of several does not matter.
  void add(const Coverage& other);

  const Count& at(std::uint16_t address) const { return counts_[address]; }
  const Machine& machine() const { return machine_; }
  /// How many others it has taken in.
  std::uint64_t merged() const { return merged_; }

 private:
  void follow(std::uint16_t pc, int opcode);
  void enter(int opcode);
  void learn(Count& count, std::uint16_t pc, int opcode) const;

  const Machine& machine_;
  std::vector<Count> counts_;
  std::uint64_t merged_ = 0;
  Count* before_ = nullptr;  // an instruction that may have gone somewhere else, or `entry_`
  Count entry_{.flow = Flow::call};
};

/// A tracefile as `lcov` reads it (geninfo(1), section FILES): lines, branches both ways, and as functions the labels
/// that are called or handle interrupts. Instructions executed where no source is known stand in a record of their own
/// under `kNoSource`, with their addresses in the place of line numbers.
std::string lcov_tracefile(const Coverage& coverage);
inline constexpr std::string_view kNoSource = "no-source";

/// Every line of source with its counts, then what was executed where no source is known.
std::string annotated_listing(const Coverage& coverage);

/// What the two begin with.
inline constexpr std::string_view kTracefileMark = "TN:\nSF:", kListingMark = "Coverage of ";

}  // namespace prewire
