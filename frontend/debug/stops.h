// Breakpoints and watchpoints: what ends a run, and what was there.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "prewire/machine.h"
#include "test.h"

namespace prewire::front::debug {

struct Halt {
  enum class Kind : std::uint8_t { execute, read, write, access, net };
  enum class Edge : std::uint8_t { any, rise, fall };
  int number = 0;
  Kind kind = Kind::execute;
  std::uint16_t first = 0, last = 0;
  std::string net{};  ///< as the machine names it
  Edge edge = Edge::any;
  std::optional<Test> test{};
  int hits = 0;
};

/// "break 1: $F834 show, if A=$35".
std::string to_string(const Machine& machine, const Halt& halt);

/// The list of them. Numbers are not used again.
class Halts {
 public:
  const Halt& add(Halt halt);
  bool remove(int number);
  void clear() { list_.clear(); }
  std::vector<Halt>& list() { return list_; }
  const std::vector<Halt>& list() const { return list_; }

 private:
  std::vector<Halt> list_;
  int numbers_ = 0;
};

/// Ends a run at the first cycle in which a watchpoint or a test is met.
class Watch final : public Observer {
 public:
  /// All must outlive it; `test` may be null. Watches until it is gone.
  Watch(Machine& machine, Halts& halts, const Test* test);
  ~Watch() override;

  unsigned wants() const override;
  void on_cycle(const BusCycle& cycle) override;
  void on_instruction(const Cpu& cpu, std::uint16_t pc, int opcode, Cycle cycle) override;
  void on_net(std::string_view net, const NetState& state, Stamp when) override;

  /// What has ended the run, a line each: "watch 2: $0000 level written $7D, before it $19".
  const std::vector<std::string>& reasons() const { return reasons_; }
  bool test_met() const { return test_met_; }
  /// The end of the instruction after which the test was met; empty if a net decided.
  std::optional<Cycle> met_after() const { return met_after_; }

 private:
  bool met(const Halt& halt) const { return !halt.test || halt.test->holds(machine_, {}); }
  void end(Halt& halt, std::string what);
  void look_at_test();

  Machine& machine_;
  Halts& halts_;
  const Test* test_;
  std::vector<Level> levels_;                     // of watched nets, by place in the list
  std::vector<std::vector<std::uint8_t>> bytes_;  // what watched addresses held, likewise
  std::vector<std::string> reasons_;
  bool test_met_ = false;
  std::optional<Cycle> met_after_;
  bool begun_ = false;
};

}  // namespace prewire::front::debug
