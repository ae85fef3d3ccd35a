// The lab partner: rules that look over the student's shoulder while a machine runs.
#pragma once

#include <cstdint>
#include <memory>
#include <span>
#include <string_view>

#include "prewire/clock.h"
#include "prewire/rule.h"
#include "prewire/watch.h"

namespace prewire {

class Machine;

/// Watches a machine and reports findings to it. It changes nothing else: a run is the same with and without.
///
/// The machine must outlive the partner and stay where it is. After a restore into the past the partner begins anew
/// from there.
class Partner final : public Observer {
 public:
  /// Looks at the board, and from now on at what it does.
  explicit Partner(Machine& machine);
  ~Partner() override;
  Partner(const Partner&) = delete;
  Partner& operator=(const Partner&) = delete;

  unsigned wants() const override { return kNewInstructions | kNets | kEvents; }
  void on_instruction(const Cpu& cpu, std::uint16_t pc, int opcode, Cycle cycle) override;
  void on_moment(const Cpu& cpu, Cycle cycle) override;
  void on_net(std::string_view net, const NetState& state, Stamp when) override;
  void on_event(std::string_view chip, std::string_view event, std::int64_t value, Stamp when) override;

  /// Says what should have happened by now and has not. Call it when a run is over; the run may go on afterwards.
  void conclude();

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

/// Reports to the machine what board, source and program say together before anything runs: what a partner says as it
/// begins, and of each instruction that the vectors lead to by jumps, branches and calls whose bytes say where, what
/// would be found as soon as it is executed.
void look_before_run(Machine& machine);
/// The rules that may speak then.
std::span<const std::string_view> rules_before_run();

}  // namespace prewire
