#include "history/cause.h"

#include <algorithm>

#include "history/past.h"

namespace prewire {

namespace {

/// Goes from a change of a net to what made it, as far as that lies within one moment.
class Detective {
 public:
  Detective(const Machine::Impl& machine, const Witness& witness) : machine_(machine), witness_(witness) {}

  std::vector<NetStep> trace(NetId net, Stamp when) {
    auto at = static_cast<int>(witness_.changes.size()) - 1;
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
  const Witness::Change& change(int at) const { return witness_.changes[static_cast<std::size_t>(at)]; }

  /// Returns the change that made this one; -1 if it was something else.
  int explain(int at, NetStep& step, const std::vector<int>& seen) const {
    const Witness::Change& here = change(at);
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
    // A chip may publish several in one moment: what it did between the change that it heard and this one counts.
    for (const Witness::ChipEvent& event : witness_.events) {
      if (event.chip != step.chip || event.when != here.when) continue;
      if (event.next > from && event.next <= at) step.event = event.event;
    }
    return from;
  }

  int explain_pin(int at, NetStep& step) const {
    const Witness::Change& here = change(at);
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
      step.address = witness_.access->address;
      step.data = witness_.access->data;
      step.write = !witness_.access->rw;
      return -1;
    }
    // What became of nets together with this one, the chip heard later.
    for (int other = here.driven - 1; chip >= 0 && other >= 0 && change(other).when == here.when; --other) {
      if (!hears(chip, change(other).net)) continue;
      step.why = NetStep::Why::net;
      return other;
    }
    step.why = NetStep::Why::time;
    return -1;
  }

  /// A part that can join nets, and has: either it has moved itself, or the net behind it has changed.
  int explain_link(int at, NetStep& step, const std::vector<int>& seen) const {
    const Witness::Change& here = change(at);
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
        for (int other = static_cast<int>(witness_.changes.size()) - 1; other >= 0; --other) {
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
    if (!witness_.access || !witness_.access->vma || when != witness_.access->fall()) return false;
    const std::vector<std::string> who = machine_.bus.answering(witness_.access->address);
    return std::find(who.begin(), who.end(), chip) != who.end();
  }

  bool input_at(Stamp when, std::int32_t chip) const {
    const std::deque<Deed>& deeds = Past::of(machine_).deeds();
    const auto made = [&](const Deed& deed) {
      if (deed.kind == Deed::Kind::reset) return chip == Input::kReset && deed.moment == when;
      if (deed.input.chip != chip) return false;
      return deed.kind == Deed::Kind::input ? deed.moment == when
                                            : deed.kind == Deed::Kind::schedule && deed.input.when == when;
    };
    return std::any_of(deeds.begin(), deeds.end(), made);
  }

  const Machine::Impl& machine_;
  const Witness& witness_;
};

}  // namespace

std::vector<NetStep> trace_net(const Machine::Impl& machine, const Witness& witness, NetId net, Stamp when) {
  return Detective(machine, witness).trace(net, when);
}

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

}  // namespace prewire
