#include "prewire/history.h"

#include <algorithm>
#include <stdexcept>
#include <utility>

#include "history/cause.h"
#include "history/past.h"
#include "machine/inside.h"

namespace prewire {

namespace {

// How long the past is run again before somebody is asked whether to give up.
constexpr Cycle kBreath = 1'000'000;
// Enough to see an instruction begin, with cycles that others steal from it.
constexpr Cycle kLeadIn = 256;

Past& past_of(Machine& machine) { return Past::of(Inside::of(machine)); }

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
  void note() { seen = {machine_.clock.moment, machine_.clock.now, Past::of(machine_).acting()}; }

  const Machine::Impl& machine_;
  const Wanted& wanted_;
  const std::string net_;
};

/// When it last happened; the machine is left as it is.
std::optional<Spot> spot(Machine::Impl& machine, const Wanted& wanted, std::string net,
                         const std::function<bool()>& give_up) {
  Past& past = Past::of(machine);
  const Cycle here = machine.clock.now;
  Spotter spotter(machine, wanted, std::move(net));
  Past::Again again(past, spotter);
  for (Cycle end = here;;) {
    const Cycle begin = again.rewind(end - 1);
    for (Cycle at = begin; at < end;) {
      at = std::min(end, at + kBreath);
      if (!again.run(at)) return std::nullopt;
      if (give_up && give_up()) return std::nullopt;
    }
    if (end == here && !again.run_through(here)) return std::nullopt;
    if (spotter.seen || begin <= past.begin()) {
      again.finish();
      return spotter.seen;
    }
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

std::optional<Happening> describe(Machine::Impl& machine, const Wanted& wanted, NetId net, const Spot& sight,
                                  const Deed* by_hand) {
  Happening happening;
  happening.kind = wanted.kind;
  happening.when = sight.when;
  // What is done from outside happens as a cycle ends.
  happening.cycle = std::max<Cycle>(0, sight.cycle - (sight.outside ? 1 : 0));
  happening.by_hand = by_hand != nullptr;
  Witness witness(machine);
  Past::Again again(Past::of(machine), witness);
  again.rewind(std::max(Past::of(machine).begin(), happening.cycle - kLeadIn));
  if (!again.run(happening.cycle)) return std::nullopt;
  witness.roll();
  // Of a range the address is known afterwards; most are one.
  std::vector<std::uint8_t> before;
  const bool memory = wanted.kind != Wanted::Kind::net;
  for (std::uint32_t at = wanted.first; memory && at <= wanted.last; ++at) {
    before.push_back(machine.bus.peek(static_cast<std::uint16_t>(at)));
  }
  if (!(sight.outside ? again.run_through(sight.cycle) : again.run(sight.cycle + 1))) return std::nullopt;
  if (witness.instruction) {
    if (witness.instruction->opcode < 0) happening.entry = static_cast<Entry>(witness.instruction->opcode);
    happening.pc = witness.instruction->pc;
    happening.instruction = witness.instruction->text;
    happening.registers = witness.instruction->registers;
  } else {
    happening.pc = machine.cpu->pc();
    happening.registers = to_string(*machine.cpu);
  }
  if (memory) {
    happening.address = wanted.first;
    if (by_hand != nullptr) {
      happening.address = by_hand->where;
      happening.data = static_cast<std::uint8_t>(by_hand->value);
    } else if (witness.access) {
      happening.address = witness.access->address;
      happening.data = witness.access->data;
    }
    happening.before = before[static_cast<std::size_t>(happening.address - wanted.first)];
    happening.after = machine.bus.peek(happening.address);
  } else {
    happening.steps = trace_net(machine, witness, net, sight.when);
    const auto person = [](const NetStep& step) { return step.why == NetStep::Why::input; };
    happening.by_hand = std::any_of(happening.steps.begin(), happening.steps.end(), person);
  }
  again.finish();
  return happening;
}

std::optional<Happening> find_last(Machine::Impl& machine, const Wanted& wanted, const std::function<bool()>& give_up) {
  NetId net = -1;
  std::string name;
  if (wanted.kind == Wanted::Kind::net) {
    net = machine.find_net(wanted.net, nullptr);
    if (net < 0) return std::nullopt;
    name = machine.board.net_name(net);
  }
  bool given_up = false;
  const std::optional<Spot> seen = spot(machine, wanted, std::move(name), [&] {
    given_up = give_up && give_up();
    return given_up;
  });
  if (given_up || machine.cpu->heeded()->up()) return std::nullopt;
  const Deed* hand = poked(Past::of(machine), wanted);
  if (!seen && hand == nullptr) return std::nullopt;
  if (hand != nullptr && seen && hand->moment < seen->when) hand = nullptr;
  return describe(machine, wanted, net, hand != nullptr ? Spot{hand->moment, hand->cycle, true} : *seen, hand);
}

}  // namespace

History::History(Machine& machine, std::size_t budget) : machine_(machine) {
  Machine::Impl::Act act(Inside::of(machine), "History");
  if (past_of(machine).recording()) throw std::logic_error("a machine has one history at a time");
  past_of(machine).record(std::max<std::size_t>(1, budget));
}

History::~History() { past_of(machine_).stop_recording(); }

Cycle History::now() const { return machine_.now(); }
Cycle History::begin() const { return past_of(machine_).begin(); }
Cycle History::end() const { return past_of(machine_).end(); }
std::size_t History::bytes() const { return past_of(machine_).bytes(); }
std::size_t History::states() const { return past_of(machine_).states(); }

bool History::go_to(Cycle cycle) {
  Machine::Impl::Act act(Inside::of(machine_), "History::go_to");
  return cycle >= begin() && cycle <= end() && past_of(machine_).go_to(cycle);
}

bool History::back_instruction() {
  Machine::Impl& machine = Inside::of(machine_);
  Machine::Impl::Act act(machine, "History::back_instruction");
  const Cycle here = now();
  if (here <= begin()) return false;
  struct Nobody final : Observer {
    unsigned wants() const override { return 0; }
  } nobody;
  std::optional<Cycle> boundary;
  for (Cycle far = kLeadIn / 4; !boundary; far *= 8) {
    const Cycle from = std::max(begin(), here - far);
    Past::Again again(Past::of(machine), nobody);
    if (!again.go_to(from)) return false;
    if (machine.cpu->cycles_into_instruction() == 0 || from == begin()) boundary = from;
    for (;;) {
      const Cycle before = machine.clock.now;
      if (!again.step_instruction(here)) return false;
      if (machine.clock.now >= here || machine.clock.now == before) break;
      boundary = machine.clock.now;
    }
    again.finish();
  }
  return Past::of(machine).go_to(*boundary);
}

bool History::show_again(Observer& observer, Cycle from, const std::function<bool()>& give_up) {
  Machine::Impl::Act act(Inside::of(machine_), "History::show_again");
  if (from < begin() || from > now()) throw std::logic_error("History::show_again: that is not within the past");
  const Cycle here = now();
  Past::Again again(past_of(machine_), observer);
  if (!again.go_to(from)) return false;
  for (Cycle at = from; at < here;) {
    at = std::min(here, at + kBreath);
    if (!again.run(at)) return false;
    if (give_up && give_up()) return false;
  }
  if (!again.run_through(here)) return false;
  again.finish();
  return true;
}

std::optional<Happening> History::last(const Wanted& wanted, const std::function<bool()>& give_up) {
  Machine::Impl::Act act(Inside::of(machine_), "History::last");
  return find_last(Inside::of(machine_), wanted, give_up);
}

std::optional<Happening> History::back_to(const Wanted& wanted, const std::function<bool()>& give_up) {
  Machine::Impl& machine = Inside::of(machine_);
  Machine::Impl::Act act(machine, "History::back_to");
  std::optional<Happening> happening = find_last(machine, wanted, give_up);
  if (happening && !Past::of(machine).go_to(std::max(begin(), happening->cycle))) return std::nullopt;
  return happening;
}

}  // namespace prewire
