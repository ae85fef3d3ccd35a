// Where the cycles of a program go: by subroutine, by interrupt, by the way they were called.
#pragma once

#include <cstdint>
#include <map>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "prewire/calls.h"
#include "prewire/watch.h"

namespace prewire {

/// Follows a program from the moment of its making. Every cycle since then belongs to one routine: the innermost one
/// that has been entered and not left, or "(main)". A calling instruction belongs to the caller, a return to the
/// subroutine, and what the processor does on its own for an interrupt to the handler.
class Profile final : public Observer, private CallListener {
 public:
  /// The machine must outlive it.
  explicit Profile(const Machine& machine);

  unsigned wants() const override { return kInstructions | kNets; }
  void on_instruction(const Cpu& cpu, std::uint16_t pc, int opcode, Cycle cycle) override {
    follower_.on_instruction(cpu, pc, opcode, cycle);
    if (opcode < 0) [[unlikely]]
      note_request(opcode);
  }
  void on_net(std::string_view net, const NetState& state, Stamp when) override;

  struct Routine {
    std::string name;  ///< its label or address; "(main)" for what is outside
    std::uint16_t address = 0;
    std::uint64_t calls = 0;
    Cycle own = 0;    ///< in it, not in what it calls
    Cycle total = 0;  ///< from entry to exit; of a recursion the outermost
    Cycle worst = 0;  ///< the longest call that is over
    Cycle worst_at = 0;
  };
  /// "(main)" first, the others by their own cycles, most first.
  std::vector<Routine> routines() const;

  /// Of a number of occurrences.
  struct Spread {
    std::uint64_t count = 0;
    std::int64_t least = 0, most = 0, sum = 0;
    void add(std::int64_t value);
  };
  struct Interrupt {
    CallKind kind = CallKind::irq;
    std::string handler;
    std::uint64_t count = 0;
    Spread latency;        ///< quarter cycles from the fall of the line to the first instruction of the handler
    Spread duration;       ///< cycles from the beginning of the entry to the instruction after the return
    Cycle slowest_at = 0;  ///< entry with the longest latency
  };
  std::vector<Interrupt> interrupts() const;

  const DeepestStack& deepest() const { return follower_.deepest(); }
  /// Cycles since the profile was made.
  Cycle cycles() const;
  const Machine& machine() const { return machine_; }

  /// For tools that draw flame graphs: a line for each way to be somewhere, its routines from the outside in with
  /// semicolons between, a space, the cycles (common practice). The counts add up to `cycles()`.
  std::string folded() const;
  /// Tables for people.
  std::string text() const;
  /// What the two begin with.
  static constexpr std::string_view kFoldedMark = "(main)", kTextMark = "Profile of ";

 private:
  struct Key {
    CallKind kind = CallKind::call;
    std::uint16_t address = 0;
    friend auto operator<=>(const Key&, const Key&) = default;
  };
  /// A way to be somewhere.
  struct Node {
    Key key;
    std::size_t parent = 0;
    Cycle own = 0;
    std::vector<std::size_t> inside;
  };
  struct Tally {
    std::uint64_t calls = 0;
    Cycle total = 0, worst = 0, worst_at = 0;
    int open = 0;  ///< calls that are not over
  };
  struct Line {
    CallKind kind;
    std::string net;
    bool low = false;
    Stamp asked = -1;  ///< since when it asks for an interrupt that has not come; -1: it does not
  };

  void on_enter(const CallFrame& frame) override;
  void on_leave(const CallFrame& frame, Leave how, const Departure& departure) override;
  void note_request(int opcode);
  void spend(Cycle until);
  void step_into(Key key);
  std::string name_of(Key key) const;
  Line* line_of(CallKind kind);

  const Machine& machine_;
  CallFollower follower_;
  const Cycle begin_;
  Cycle since_;  // what is before is accounted for
  std::vector<Node> nodes_{1};
  std::size_t here_ = 0;
  std::map<Key, Tally> tallies_;
  std::map<Key, Interrupt> interrupts_;
  std::vector<Line> lines_;
  Stamp requested_ = -1;  // of the interrupt that is being entered
};

}  // namespace prewire
