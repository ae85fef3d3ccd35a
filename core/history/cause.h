// Why a net has changed: everything that one bus cycle brings, and the way back through it.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "machine/impl.h"
#include "prewire/history.h"

namespace prewire {

/// Everything that one bus cycle brings, and the instruction that it belongs to.
class Witness final : public Observer {
 public:
  explicit Witness(Machine::Impl& machine) : machine_(machine) {}

  unsigned wants() const override { return kCycles | kInstructions | kNets | kEvents; }
  void on_cycle(const BusCycle& cycle) override { access = cycle; }
  void on_instruction(const Cpu& cpu, std::uint16_t pc, int opcode, Cycle cycle) override {
    instruction = {cycle, pc, opcode, to_string(cpu), {}};
    if (opcode < 0) return;
    instruction->text = disassemble(cpu.type(), pc, machine_.code_at(pc)).text;
  }
  void on_net(std::string_view name, const NetState& state, Stamp when) override {
    if (!rolling_) return;
    const NetId net = find(name);
    const auto now = static_cast<int>(changes.size());
    for (std::size_t pin = 0; pin < drives_.size(); ++pin) {
      if (drives_[pin] == machine_.board.driving(static_cast<PinId>(pin))) continue;
      drives_[pin] = machine_.board.driving(static_cast<PinId>(pin));
      driven_[pin] = now;
    }
    Change change{net, states_[static_cast<std::size_t>(net)], state, when, -1, now};
    states_[static_cast<std::size_t>(net)] = state;
    for (const PinId pin : machine_.board.pins(net)) {
      const int driven = std::exchange(driven_[static_cast<std::size_t>(pin)], -1);
      if (driven < 0 || change.pin >= 0) continue;
      change.pin = pin;
      change.driven = driven;
    }
    changes.push_back(change);
  }
  void on_event(std::string_view chip, std::string_view event, std::int64_t /*value*/, Stamp when) override {
    if (rolling_) events.push_back({std::string(chip), std::string(event), when, static_cast<int>(changes.size())});
  }

  /// From now on nets and events count.
  void roll() {
    rolling_ = true;
    access.reset();
    for (NetId net = 0; net < static_cast<NetId>(machine_.board.nets()); ++net) {
      states_.push_back(machine_.board.state(net));
    }
    for (std::size_t pin = 0; pin < machine_.pin_owner.size(); ++pin) {
      drives_.push_back(machine_.board.driving(static_cast<PinId>(pin)));
      driven_.push_back(-1);
    }
  }

  struct Change {
    NetId net;
    NetState before, after;
    Stamp when;
    PinId pin;   // the first that drives otherwise than before; -1: none
    int driven;  // the first change that was told after it did
  };
  struct ChipEvent {
    std::string chip, event;
    Stamp when;
    int next;  // the change that came next
  };
  std::optional<BusCycle> access;
  std::optional<PastInstruction> instruction;
  std::vector<Change> changes;
  std::vector<ChipEvent> events;

 private:
  NetId find(std::string_view name) const {
    NetId net = 0;
    while (machine_.board.net_name(net) != name) ++net;
    return net;
  }

  Machine::Impl& machine_;
  bool rolling_ = false;
  std::vector<NetState> states_;
  std::vector<Drive> drives_;
  std::vector<int> driven_;  // by pin: as in `Change`, until that of its net is told; or -1
};

/// From a change of a net to what made it, as far as that lies within one moment: the last step first.
std::vector<NetStep> trace_net(const Machine::Impl& machine, const Witness& witness, NetId net, Stamp when);

}  // namespace prewire
