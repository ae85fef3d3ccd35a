// One session at the console: the machine, its past, what stops it, and what is said about it.
#pragma once

#include <map>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "prewire/calls.h"
#include "prewire/history.h"
#include "prewire/machine.h"
#include "prewire/onlooker.h"
#include "shared/output.h"
#include "stops.h"

namespace prewire::front::debug {

/// What a run waits for, beside what stops it.
struct Goal {
  Cycle cycles = 0;      ///< of the machine's time
  bool limited = false;  ///< somebody has asked for that time
  const Test* test = nullptr;
  std::optional<std::uint16_t> place{};  ///< an instruction to come to...
  std::optional<int> stack{};            ///< ...with the stack pointer at least here
};

/// A state that was kept under a name.
struct KeptState {
  Cycle cycle = 0;
  Snapshot snapshot;
};

class Session {
 public:
  /// Both must outlive it. `most` is how long a run may take that nobody has limited.
  Session(Machine& machine, Output& out, Cycle most, std::size_t memory);

  Machine& machine() { return machine_; }
  const Machine& machine() const { return machine_; }
  const Cpu& cpu() const { return machine().cpu(); }
  History& history() { return history_; }
  Halts& halts() { return halts_; }
  std::map<std::string, KeptState>& states() { return states_; }
  Cycle most() const { return most_; }

  /// A line of output.
  void say(std::string_view line);
  /// Where the machine is: cycle, place, instruction; registers.
  void say_position();

  /// Runs until the goal is reached or something stops it, and says why. False if it was cut off: interrupted, or at
  /// the limit of what a run may take.
  bool go(const Goal& goal);
  /// One instruction, or less of it if the command is to end; false if the processor cannot go on.
  bool step();

  /// Somebody wants this command to end, or its time is over.
  static bool interrupted();
  /// To pass to the history.
  static bool give_up() { return interrupted(); }

  /// The routines and handlers that have been entered and not left, outermost first. Empty result: interrupted.
  std::optional<std::vector<CallFrame>> calls();
  /// What the eye sees: by group of digits, and LEDs.
  std::unique_ptr<Onlooker> look();
  /// Whether a group of digits, or any, shows a text.
  Shown shown();

  void quit() { over_ = true; }
  bool over() const { return over_; }

 private:
  void tell(const std::vector<Onlooker::Event>& events);

  Machine& machine_;
  Output& out_;
  const Cycle most_;
  History history_;
  Halts halts_;
  std::map<std::string, KeptState> states_;
  std::map<std::string, std::string> told_;  // what was last said of each display and LED
  bool over_ = false;
};

/// The stack pointer.
int stack_pointer(const Machine& machine);
/// The index of a register by its name, in either case; or a `Refusal`.
std::size_t need_register(const Machine& machine, const std::string& name);
/// The net as the machine lists it, or a `Refusal`.
NetView need_net(const Machine& machine, const std::string& name);

}  // namespace prewire::front::debug
