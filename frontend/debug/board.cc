// Commands for chips, nets, inputs and what is to be seen.
#include <fmt/format.h>

#include <algorithm>

#include "commands.h"
#include "prewire/cases.h"
#include "refusal.h"
#include "shared/nets.h"
#include "shared/places.h"
#include "shared/trouble.h"

namespace prewire::front::debug {

namespace {

std::string net_state(const NetState& state) {
  if (state.strength == Strength::none) return "floating";
  return fmt::format("{}, {}, {}", to_string(state.level), to_string(state.strength),
                     format_quantity(state.microvolts, Unit::microvolts));
}

void set(Session& session, Words& words) {
  const std::string part = words.take("a part");
  const std::string value = words.take_rest("what is done to it");
  try {
    session.machine().set(part, value);
  } catch (const InputError& error) {
    const Fault& fault = error.faults()[0];
    throw Refusal(fault.what, fault.expected, fault.found, fault.hint);
  }
  session.say(fmt::format("{} set to {}", part, value));
}

void net(Session& session, Words& words) {
  const std::string name = words.take("a net");
  words.end();
  const Machine& machine = session.machine();
  const NetView view = need_net(machine, name);
  session.say(fmt::format("{}: {}", view.name.empty() ? name : std::string(view.name), net_state(view.state)));
  const std::vector<ChipView> chips = machine.chips();
  for (const NetView::Pin& pin : view.pins) {
    const ChipView chip = pin.chip < 0 ? machine.processor() : chips[static_cast<std::size_t>(pin.chip)];
    const PinSpec& spec = chip.type->pins[static_cast<std::size_t>(pin.pin)];
    session.say(
        fmt::format("  {:<12} {:<12} {}", pin_name(machine, chips, pin), to_string(spec.kind), chip.type->title));
  }
  if (view.pins.empty()) session.say("  not wired");
}

void nets(Session& session, Words& words) {
  words.end();
  for (const NetView& view : session.machine().nets()) {
    session.say(fmt::format("{:<14} {:<9} {}{}", view.name, to_string(view.state.level),
                            counted(view.pins.size(), "pin"), view.rail ? ", a rail" : ""));
  }
}

void chip(Session& session, Words& words) {
  const std::string name = words.take("a chip");
  words.end();
  const Machine& machine = session.machine();
  std::vector<ChipView> chips = machine.chips();
  chips.push_back(machine.processor());
  std::vector<std::string> names;
  for (const ChipView& view : chips) names.emplace_back(view.name);
  const auto at = std::find(names.begin(), names.end(), name);
  if (at == names.end()) {
    throw Refusal("there is no such chip", "a chip of this machine, or CPU", name, meant(name, names));
  }
  const ChipView& view = chips[static_cast<std::size_t>(at - names.begin())];
  std::string line = fmt::format("{}: {}", view.name, view.type->title);
  if (view.place) line += fmt::format(", ${:04X}-${:04X}", view.place->first, view.place->last);
  session.say(line);
  const std::vector<NetView> all = machine.nets();
  for (const PinSpec& pin : view.type->pins) {
    const std::string own_name = fmt::format("{}.{}", view.name, pin.name);
    std::string wired;
    for (const NetView& candidate : all) {
      std::vector<std::string> pins;
      for (const NetView::Pin& other : candidate.pins) pins.push_back(pin_name(machine, chips, other));
      const auto self = std::find(pins.begin(), pins.end(), own_name);
      if (self == pins.end()) continue;
      pins.erase(self);
      wired = fmt::format("{}", fmt::join(pins, " "));
      if (candidate.rail || !candidate.name.starts_with(own_name.substr(0, own_name.find('.') + 1))) {
        const bool named = std::find(pins.begin(), pins.end(), candidate.name) == pins.end();
        if (named && candidate.name != own_name)
          wired = fmt::format("{}{}{}", candidate.name, pins.empty() ? "" : ": ", wired);
      }
      if (candidate.rail) wired = std::string(candidate.name);
    }
    const auto state = machine.net(own_name);
    const std::string number = pin.number == 0 ? "" : std::to_string(pin.number);
    if (wired.empty()) wired = pin.implied == Implied::bus && view.place && !view.place->wired ? "the bus" : "-";
    session.say(fmt::format("  {:>2} {:<8} {:<12} {:<9} {}", number, pin.name, to_string(pin.kind),
                            wired == "-" || wired == "the bus" || !state ? "" : to_string(state->level), wired));
  }
}

void chips(Session& session, Words& words) {
  words.end();
  const ChipView cpu = session.machine().processor();
  session.say(fmt::format("{:<10} {}", cpu.name, cpu.type->title));
  for (const ChipView& view : session.machine().chips()) {
    session.say(fmt::format("{:<10} {}{}", view.name, view.type->title,
                            view.type->input.empty() ? "" : fmt::format("; set it to {}", view.type->input)));
  }
}

void see(Session& session, Words& words) {
  words.end();
  const auto onlooker = session.look();
  for (const std::string& group : session.machine().displays()) {
    session.say(fmt::format("display  {} \"{}\"", group, onlooker->text(group)));
  }
  for (const Onlooker::Lit& led : onlooker->leds()) {
    session.say(fmt::format("led      {} {}", led.name, led.on ? "on" : "off"));
  }
  if (session.machine().displays().empty() && onlooker->leds().empty()) session.say("there is nothing to see");
}

void findings(Session& session, Words& words) {
  words.end();
  const std::vector<Finding>& all = session.machine().findings();
  const CaseReport report = gather_cases(all);
  const auto cause = first_cause(report, all, session.machine().remarks());
  if (cause && cause->wiring) {
    session.say(
        fmt::format("first of all: {}: {} [{}] {}", to_string(cause->weight), cause->what, cause->id, cause->where));
    if (!cause->next.empty()) session.say(fmt::format("  hint: {}", cause->next));
  }
  if (all.empty()) session.say("there are no findings");
  constexpr std::size_t kMost = 12;
  for (std::size_t i = 0; i < report.roots && i < kMost; ++i) {
    const Case& told = report.cases[i];
    const Finding& finding = all[told.finding];
    session.say(fmt::format("{}: {} [{}] {}, first in cycle {} at {}", to_string(finding.weight), finding.message,
                            finding.id, times_text(told), finding.first, place_text(session.machine(), finding.pc)));
    if (!finding.hint.empty()) session.say(fmt::format("  hint: {}", finding.hint));
    const std::string effects = effects_text(report, told, all);
    if (!effects.empty()) session.say(fmt::format("  from it: {}", effects));
  }
  if (report.roots > kMost) session.say(fmt::format("and {} more", report.roots - kMost));
}

}  // namespace

Theme board_theme() {
  return {
      "Board",
      {{"set",
        "",
        "PART VALUE",
        "do to a part what a person would: set FLOAT 2.5 V",
        "`chips` says what each part takes. RESET is the reset line: pressed or released.",
        Takes::part,
        {},
        set},
       {"see",
        "",
        "",
        "what is to be seen on digits and LEDs",
        "As the eye sees it: light within 20 ms runs together.",
        Takes::nothing,
        {},
        see},
       {"net", "", "NET", "the level of a net and all pins on it", "", Takes::net, {}, net},
       {"nets", "", "", "all nets and their levels", "", Takes::nothing, {}, nets},
       {"chip",
        "",
        "CHIP",
        "the pins of a chip: package number, kind, level, and what it is wired to",
        "",
        Takes::chip,
        {},
        chip},
       {"chips", "", "", "all chips, and what a person can do to them", "", Takes::nothing, {}, chips},
       {"findings", "", "", "what the machine has done that a real one should not", "", Takes::nothing, {}, findings}}};
}

}  // namespace prewire::front::debug
