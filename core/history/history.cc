#include "prewire/history.h"

#include <algorithm>
#include <array>
#include <cassert>
#include <utility>

#include "machine/inside.h"

namespace prewire {

namespace {

// How long the past is run again before somebody is asked whether to give up.
constexpr Cycle kBreath = 1'000'000;
// Enough to see an instruction begin, with cycles that others steal from it.
constexpr Cycle kLeadIn = 256;

/// When something happened: in a cycle, or from outside with that many cycles over.
struct Spot {
  Stamp when = 0;
  Cycle cycle = 0;
  bool outside = false;
};

/// Sees when something happens, the last time.
class Spotter final : public Observer {
 public:
  Spotter(const Machine::Impl& machine, const Wanted& wanted, std::string net)
      : machine_(machine), wanted_(wanted), net_(std::move(net)) {}

  unsigned wants() const override {
    switch (wanted_.kind) {
      case Wanted::Kind::execute: return kInstructions;
      case Wanted::Kind::net: return kNets;
      default: return kCycles;
    }
  }
  void on_cycle(const BusCycle& cycle) override {
    if (!cycle.vma || cycle.rw != (wanted_.kind == Wanted::Kind::read) || !within(cycle.address)) return;
    note();
  }
  void on_instruction(const Cpu& /*cpu*/, std::uint16_t pc, int opcode, Cycle /*cycle*/) override {
    if (opcode >= 0 && within(pc)) note();
  }
  void on_net(std::string_view net, const NetState& /*state*/, Stamp /*when*/) override {
    if (net == net_) note();
  }

  std::optional<Spot> seen;

 private:
  bool within(std::uint16_t address) const { return address >= wanted_.first && address <= wanted_.last; }
  void note() { seen = {machine_.clock.moment, machine_.clock.now, machine_.past.acting()}; }

  const Machine::Impl& machine_;
  const Wanted& wanted_;
  const std::string net_;
};

/// Everything that one bus cycle brings, and the instruction that it belongs to.
class Scene final : public Observer {
 public:
  explicit Scene(Machine::Impl& machine) : machine_(machine) {}

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
    Change change{net, states_[static_cast<std::size_t>(net)], state, when, -1};
    states_[static_cast<std::size_t>(net)] = state;
    for (const PinId pin : machine_.board.pins(net)) {
      Drive& before = drives_[static_cast<std::size_t>(pin)];
      if (before == machine_.board.driving(pin)) continue;
      before = machine_.board.driving(pin);
      if (change.pin < 0) change.pin = pin;
    }
    changes.push_back(change);
  }
  void on_event(std::string_view chip, std::string_view event, std::int64_t /*value*/, Stamp when) override {
    if (rolling_) events.push_back({std::string(chip), std::string(event), when});
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
    }
  }

  struct Change {
    NetId net;
    NetState before, after;
    Stamp when;
    PinId pin;  // the first that drives otherwise than before; -1: none
  };
  struct ChipEvent {
    std::string chip, event;
    Stamp when;
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
};

/// Goes from a change of a net to what made it, as far as that lies within one moment.
class Detective {
 public:
  Detective(const Machine::Impl& machine, const Scene& scene) : machine_(machine), scene_(scene) {}

  std::vector<NetStep> trace(NetId net, Stamp when) {
    auto at = static_cast<int>(scene_.changes.size()) - 1;
    while (at >= 0 && (change(at).net != net || change(at).when != when)) --at;
    std::vector<NetStep> steps;
    std::vector<int> seen;
    while (at >= 0) {
      seen.push_back(at);
      steps.push_back({});
      at = explain(at, steps.back(), seen);
    }
    return steps;
  }

 private:
  const Scene::Change& change(int at) const { return scene_.changes[static_cast<std::size_t>(at)]; }

  /// Returns the change that made this one; -1 if it was something else.
  int explain(int at, NetStep& step, const std::vector<int>& seen) const {
    const Scene::Change& here = change(at);
    step.net = machine_.board.net_name(here.net);
    step.before = here.before;
    step.after = here.after;
    step.when = here.when;
    int from = -1;
    if (here.pin >= 0) {
      from = explain_pin(at, step);
    } else {
      from = explain_link(at, step, seen);
    }
    for (const Scene::ChipEvent& event : scene_.events) {
      if (event.chip == step.chip && event.when == here.when) step.event = event.event;
    }
    return from;
  }

  int explain_pin(int at, NetStep& step) const {
    const Scene::Change& here = change(at);
    step.pin = machine_.board.pin_name(here.pin);
    const std::int32_t chip = machine_.pin_owner[static_cast<std::size_t>(here.pin)].first;
    step.chip = chip >= 0    ? machine_.spec.chips[static_cast<std::size_t>(chip)].name
                : chip == -1 ? machine_.cpu_seat->wiring.name
                             : machine_.board.pin_name(here.pin);
    if (chip == -1) {
      step.why = NetStep::Why::processor;
      return -1;
    }
    if (input_at(here.when, chip == -2 ? Input::kReset : chip)) {
      step.why = NetStep::Why::input;
      return -1;
    }
    if (chip >= 0 && accessed(step.chip, here.when)) {
      step.why = NetStep::Why::access;
      step.address = scene_.access->address;
      step.data = scene_.access->data;
      step.write = !scene_.access->rw;
      return -1;
    }
    for (int other = at - 1; chip >= 0 && other >= 0 && change(other).when == here.when; --other) {
      if (!hears(chip, change(other).net)) continue;
      step.why = NetStep::Why::net;
      return other;
    }
    step.why = NetStep::Why::time;
    return -1;
  }

  /// A part that can join nets, and has: either it has moved itself, or the net behind it has changed.
  int explain_link(int at, NetStep& step, const std::vector<int>& seen) const {
    const Scene::Change& here = change(at);
    step.why = NetStep::Why::time;
    for (const PinId pin : machine_.board.pins(here.net)) {
      const auto [chip, index] = machine_.pin_owner[static_cast<std::size_t>(pin)];
      if (chip < 0) continue;
      const Machine::Impl::Seat& seat = *machine_.seats[static_cast<std::size_t>(chip)];
      for (const LinkSpec& link : seat.type->links) {
        if (link.pin_a != index && link.pin_b != index) continue;
        if (step.chip.empty()) step.chip = seat.wiring.name;
        if (input_at(here.when, chip)) {
          step.chip = seat.wiring.name;
          step.why = NetStep::Why::input;
          return -1;
        }
        const NetId behind =
            machine_.board.net(seat.wiring.first_pin + (link.pin_a == index ? link.pin_b : link.pin_a));
        for (int other = static_cast<int>(scene_.changes.size()) - 1; other >= 0; --other) {
          if (change(other).net != behind || change(other).when != here.when) continue;
          if (std::find(seen.begin(), seen.end(), other) != seen.end()) continue;
          step.chip = seat.wiring.name;
          step.why = NetStep::Why::net;
          return other;
        }
      }
    }
    return -1;
  }

  bool hears(int chip, NetId net) const {
    for (const PinId pin : machine_.board.pins(net)) {
      const auto [owner, index] = machine_.pin_owner[static_cast<std::size_t>(pin)];
      if (owner == chip && machine_.board.listens(pin)) return true;
    }
    return false;
  }

  bool accessed(const std::string& chip, Stamp when) const {
    if (!scene_.access || !scene_.access->vma || when != scene_.access->fall()) return false;
    const std::vector<std::string> who = machine_.bus.answering(scene_.access->address);
    return std::find(who.begin(), who.end(), chip) != who.end();
  }

  bool input_at(Stamp when, std::int32_t chip) const {
    const std::vector<Deed>& deeds = machine_.past.deeds();
    const auto made = [&](const Deed& deed) {
      if (deed.kind == Deed::Kind::reset) return chip == Input::kReset && deed.moment == when;
      if (deed.input.chip != chip) return false;
      return deed.kind == Deed::Kind::input ? deed.moment == when
                                            : deed.kind == Deed::Kind::schedule && deed.input.when == when;
    };
    return std::any_of(deeds.begin(), deeds.end(), made);
  }

  const Machine::Impl& machine_;
  const Scene& scene_;
};

/// When it last happened; the machine is left as it is.
std::optional<Spot> spot(Machine::Impl& machine, const Wanted& wanted, std::string net,
                         const std::function<bool()>& give_up) {
  Past& past = machine.past;
  const Cycle here = machine.clock.now;
  Spotter spotter(machine, wanted, std::move(net));
  Past::Again again(past, spotter);
  for (Cycle end = here;;) {
    const Cycle begin = again.rewind(end - 1);
    for (Cycle at = begin; at < end;) {
      at = std::min(end, at + kBreath);
      again.run(at);
      if (give_up && give_up()) return std::nullopt;
    }
    if (end == here) again.run_through(here);
    if (spotter.seen || begin <= past.begin()) return spotter.seen;
    end = begin;
  }
}

/// What was last done from outside that is wanted, or null.
const Deed* poked(const Past& past, const Wanted& wanted) {
  if (wanted.kind != Wanted::Kind::write) return nullptr;
  for (std::size_t i = past.deeds_done(); i-- > 0;) {
    const Deed& deed = past.deeds()[i];
    if (deed.kind == Deed::Kind::poke && deed.where >= wanted.first && deed.where <= wanted.last) return &deed;
  }
  return nullptr;
}

Happening describe(Machine::Impl& machine, const Wanted& wanted, NetId net, const Spot& sight, const Deed* by_hand) {
  Happening happening;
  happening.kind = wanted.kind;
  happening.when = sight.when;
  // What is done from outside happens as a cycle ends.
  happening.cycle = std::max<Cycle>(0, sight.cycle - (sight.outside ? 1 : 0));
  happening.by_hand = by_hand != nullptr;
  Scene scene(machine);
  Past::Again again(machine.past, scene);
  again.rewind(std::max(machine.past.begin(), happening.cycle - kLeadIn));
  again.run(happening.cycle);
  scene.roll();
  // Of a range the address is known afterwards; most are one.
  std::vector<std::uint8_t> before;
  const bool memory = wanted.kind != Wanted::Kind::net;
  for (std::uint32_t at = wanted.first; memory && at <= wanted.last; ++at) {
    before.push_back(machine.bus.peek(static_cast<std::uint16_t>(at)));
  }
  if (sight.outside) {
    again.run_through(sight.cycle);
  } else {
    again.run(sight.cycle + 1);
  }
  if (scene.instruction) {
    if (scene.instruction->opcode < 0) happening.entry = static_cast<Entry>(scene.instruction->opcode);
    happening.pc = scene.instruction->pc;
    happening.instruction = scene.instruction->text;
    happening.registers = scene.instruction->registers;
  } else {
    happening.pc = machine.cpu->pc();
    happening.registers = to_string(*machine.cpu);
  }
  if (memory) {
    happening.address = wanted.first;
    if (by_hand != nullptr) {
      happening.address = by_hand->where;
      happening.data = static_cast<std::uint8_t>(by_hand->value);
    } else if (scene.access) {
      happening.address = scene.access->address;
      happening.data = scene.access->data;
    }
    happening.before = before[static_cast<std::size_t>(happening.address - wanted.first)];
    happening.after = machine.bus.peek(happening.address);
  } else {
    happening.steps = Detective(machine, scene).trace(net, sight.when);
    const auto person = [](const NetStep& step) { return step.why == NetStep::Why::input; };
    happening.by_hand = std::any_of(happening.steps.begin(), happening.steps.end(), person);
  }
  return happening;
}

}  // namespace

std::string_view to_string(NetStep::Why why) {
  switch (why) {
    case NetStep::Why::access: return "access";
    case NetStep::Why::processor: return "processor";
    case NetStep::Why::input: return "input";
    case NetStep::Why::net: return "net";
    case NetStep::Why::time: return "time";
  }
  return "";
}

History::History(Machine& machine, std::size_t budget) : machine_(machine) {
  assert(budget > 0 && !Inside::of(machine).past.recording());
  Inside::of(machine).past.record(budget);
}

History::~History() { Inside::of(machine_).past.record(0); }

Cycle History::now() const { return machine_.now(); }
Cycle History::begin() const { return Inside::of(machine_).past.begin(); }
Cycle History::end() const { return Inside::of(machine_).past.end(); }
std::size_t History::bytes() const { return Inside::of(machine_).past.bytes(); }
std::size_t History::states() const { return Inside::of(machine_).past.states(); }

bool History::go_to(Cycle cycle) {
  if (cycle < begin() || cycle > end()) return false;
  Inside::of(machine_).past.go_to(cycle);
  return true;
}

bool History::back_instruction() {
  Machine::Impl& machine = Inside::of(machine_);
  const Cycle here = now();
  if (here <= begin()) return false;
  struct Nobody final : Observer {
    unsigned wants() const override { return 0; }
  } nobody;
  std::optional<Cycle> boundary;
  for (Cycle far = kLeadIn / 4; !boundary; far *= 8) {
    const Cycle from = std::max(begin(), here - far);
    Past::Again again(machine.past, nobody);
    again.go_to(from);
    if (machine.cpu->cycles_into_instruction() == 0 || from == begin()) boundary = from;
    for (;;) {
      const Cycle before = machine.clock.now;
      again.step_instruction(here);
      if (machine.clock.now >= here || machine.clock.now == before) break;
      boundary = machine.clock.now;
    }
  }
  return go_to(*boundary);
}

bool History::show_again(Observer& observer, Cycle from, const std::function<bool()>& give_up) {
  assert(from >= begin() && from <= now());
  const Cycle here = now();
  Past::Again again(Inside::of(machine_).past, observer);
  again.go_to(from);
  for (Cycle at = from; at < here;) {
    at = std::min(here, at + kBreath);
    again.run(at);
    if (give_up && give_up()) return false;
  }
  again.run_through(here);
  return true;
}

std::optional<Happening> History::last(const Wanted& wanted, const std::function<bool()>& give_up) {
  Machine::Impl& machine = Inside::of(machine_);
  NetId net = -1;
  std::string name;
  if (wanted.kind == Wanted::Kind::net) {
    net = machine.find_net(wanted.net, nullptr);
    if (net < 0) return std::nullopt;
    name = machine.board.net_name(net);
  }
  const std::optional<Spot> seen = spot(machine, wanted, std::move(name), give_up);
  const Deed* hand = poked(machine.past, wanted);
  if (!seen && hand == nullptr) return std::nullopt;
  if (hand != nullptr && seen && hand->moment < seen->when) hand = nullptr;
  return describe(machine, wanted, net, hand != nullptr ? Spot{hand->moment, hand->cycle, true} : *seen, hand);
}

std::optional<Happening> History::back_to(const Wanted& wanted, const std::function<bool()>& give_up) {
  std::optional<Happening> happening = last(wanted, give_up);
  if (happening) go_to(std::max(begin(), happening->cycle));
  return happening;
}

}  // namespace prewire
