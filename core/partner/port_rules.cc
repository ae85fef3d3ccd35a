#include "partner/port_rules.h"

#include <fmt/format.h>

#include <algorithm>

namespace prewire::partner {

namespace {

constexpr Picoseconds kSettled = 1'000'000'000;  // 1 ms: programs set up their ports sooner

bool is_port(const PinSpec& pin) { return pin.kind == PinKind::three_state && pin.listens; }

}  // namespace

PortRules::PortRules(Scene& scene) : scene_(scene) {
  const Machine& machine = scene.machine;
  const std::vector<ChipView> chips = machine.chips();
  const std::vector<NetView> nets = machine.nets();
  // Behind a resistor there may be a lamp.
  const auto lamps_at = [&](const NetView& net) {
    std::string names;
    const auto add = [&](const NetView& some) {
      for (const NetView::Pin& pin : some.pins) {
        if (pin.chip < 0) continue;
        const ChipView& chip = chips[static_cast<std::size_t>(pin.chip)];
        if (chip.type->looks == Looks::led) names += fmt::format("{}{}", names.empty() ? "" : ", ", chip.name);
      }
    };
    add(net);
    for (const NetView::Pin& pin : net.pins) {
      if (pin.chip < 0 || !names.empty()) continue;
      const ChipType& type = *chips[static_cast<std::size_t>(pin.chip)].type;
      if (type.looks == Looks::led || type.pins.size() != 2 || type.links.size() != 1) continue;
      const NetView* other = net_at(nets, pin.chip, 1 - pin.pin);
      if (other != nullptr && !other->rail) add(*other);
    }
    return names;
  };
  for (const NetView& net : nets) {
    if (net.rail) continue;
    const NetView::Pin* port = nullptr;
    bool others = false;
    std::string contact, rail;
    for (const NetView::Pin& pin : net.pins) {
      if (pin.chip < 0) {
        others = true;
        continue;
      }
      const ChipView& chip = chips[static_cast<std::size_t>(pin.chip)];
      const PinSpec& spec = chip.type->pins[static_cast<std::size_t>(pin.pin)];
      if (is_port(spec) && port == nullptr) {
        port = &pin;
      } else if (chip.type->looks == Looks::contact) {
        for (std::size_t i = 0; i < chip.type->pins.size(); ++i) {
          const NetView* other = net_at(nets, pin.chip, static_cast<int>(i));
          if (other == nullptr || !other->rail) continue;
          contact = chip.name;
          rail = other->name;
        }
        others = true;
      } else {
        others = others || drives(spec.kind) || chip.type->by_hand();
      }
    }
    if (port == nullptr) continue;
    if (!contact.empty()) {
      contacts_.push_back({net.name, *port, contact, rail});
      follow(contacts_.back(), net.state, stamp_of(machine.now()));
    }
    if (const std::string names = lamps_at(net); !others && !names.empty()) lamps_.push_back({*port, names});
  }
}

std::string PortRules::pin_name(const NetView::Pin& pin) const {
  const ChipView chip = scene_.machine.chips()[static_cast<std::size_t>(pin.chip)];
  return fmt::format("{}.{}", chip.name, chip.type->pins[static_cast<std::size_t>(pin.pin)].name);
}

void PortRules::follow(Contact& contact, const NetState& state, Stamp when) {
  const bool driven = state.strength == Strength::driven || state.strength == Strength::contended;
  if (driven && !contact.driven) contact.since = when;
  contact.driven = driven;
}

void PortRules::on_net(std::string_view name, const NetState& state, Stamp when) {
  for (Contact& contact : contacts_) {
    if (contact.net.data() == name.data()) return follow(contact, state, when);
  }
}

void PortRules::look(Cycle now) {
  for (const Contact& contact : contacts_) {
    const Cycle since = cycle_of(contact.since);
    if (!contact.driven || now - since < scene_.machine.timebase().cycles(kSettled)) continue;
    const auto chip = static_cast<std::uint64_t>(contact.port.chip);
    const auto subject = chip << 8 | static_cast<std::uint64_t>(contact.port.pin);
    if (scene_.machine.found("output-on-contact", subject)) continue;
    scene_.say("output-on-contact", {.subject = subject, .cause = chip, .since = since}, [&] {
      return std::pair(fmt::format("{} is an output and holds the line of {}: the contact cannot move it, and when it "
                                   "closes it joins the output to {}",
                                   pin_name(contact.port), contact.name, contact.rail),
                       "make the bits that read contacts inputs: 0 in the direction register");
    });
  }
}

void PortRules::conclude() {
  look(scene_.machine.now());
  for (const Lamps& lamps : lamps_) {
    const Blocked blocked = scene_.machine.why_not(lamps.port.chip, lamps.port.pin);
    if (!blocked.released) continue;
    const auto chip = static_cast<std::uint64_t>(lamps.port.chip);
    const auto subject = chip << 8 | static_cast<std::uint64_t>(lamps.port.pin);
    scene_.say("port-bit-input", {.subject = subject, .cause = chip}, [&] {
      return std::pair(fmt::format("the program writes highs and lows to {}, and {} stays dark: {}",
                                   pin_name(lamps.port), lamps.names, blocked.why),
                       "write a 1 to that bit of the direction register");
    });
  }
}

void PortRules::forget() {
  const std::vector<NetView> views = scene_.machine.nets();
  for (Contact& contact : contacts_) {
    contact.driven = false;
    for (const NetView& view : views) {
      if (view.name.data() == contact.net.data()) follow(contact, view.state, stamp_of(scene_.machine.now()));
    }
  }
}

}  // namespace prewire::partner
