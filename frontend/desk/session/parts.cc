#include "parts.h"

#include <algorithm>
#include <set>

namespace prewire::front::desk {

namespace {

const ParameterSpec* parameter_of(const ChipType& type, std::initializer_list<Unit> units) {
  for (const ParameterSpec& spec : type.parameters) {
    if (std::find(units.begin(), units.end(), spec.unit) != units.end()) return &spec;
  }
  return nullptr;
}

int led_colour(const ChipView& chip) {
  static constexpr std::string_view kColours[] = {"red", "yellow", "green", "blue", "white"};
  for (const ParameterSpec& spec : chip.type->parameters) {
    if (spec.unit != Unit::choice) continue;
    const auto index = static_cast<std::size_t>((*chip.parameters)[spec.name]);
    for (int i = 0; i < 5; ++i) {
      if (index < spec.choices.size() && spec.choices[index] == kColours[i]) return i;
    }
  }
  return 0;
}

ContactPart contact_of(const ChipView& chip) {
  ContactPart part;
  part.name = chip.name;
  // Its input is described as "open or closed", "pressed or released".
  part.springs = chip.type->input.find("pressed") != std::string::npos;
  part.open = part.springs ? "released" : "open";
  part.closed = part.springs ? "pressed" : "closed";
  const ParameterSpec* first = parameter_of(*chip.type, {Unit::flag});
  part.closed_at_first = first != nullptr && (*chip.parameters)[first->name] != 0;
  return part;
}

KnobPart knob_of(const ChipView& chip) {
  KnobPart part;
  part.name = chip.name;
  if (const ParameterSpec* spec = parameter_of(*chip.type, {Unit::millionths, Unit::microvolts})) {
    part.unit = spec->unit;
    part.least = spec->minimum;
    part.most = spec->maximum;
    part.at_first = (*chip.parameters)[spec->name];
    part.step = spec->unit == Unit::millionths ? 10'000 : 100'000;
  }
  // The pin in the middle: an end of every link.
  int pin = 0;
  const auto& links = chip.type->links;
  for (int candidate = 0; candidate < static_cast<int>(chip.type->pins.size()) && !links.empty(); ++candidate) {
    if (std::all_of(links.begin(), links.end(),
                    [&](const LinkSpec& link) { return link.pin_a == candidate || link.pin_b == candidate; })) {
      pin = candidate;
    }
  }
  part.net = std::string(chip.name) + "." + std::string(chip.type->pins[static_cast<std::size_t>(pin)].name);
  return part;
}

}  // namespace

const ContactPart* Parts::contact(std::string_view name) const {
  const auto found =
      std::find_if(contacts.begin(), contacts.end(), [&](const auto& part) { return part.name == name; });
  return found == contacts.end() ? nullptr : &*found;
}

const KnobPart* Parts::knob(std::string_view name) const {
  const auto found = std::find_if(knobs.begin(), knobs.end(), [&](const auto& part) { return part.name == name; });
  return found == knobs.end() ? nullptr : &*found;
}

Parts parts_of(const Machine& machine) {
  Parts parts;
  std::set<std::size_t> grouped;
  for (const std::string& group : machine.displays()) {
    parts.digits.push_back({group, machine.digits(group)});
    grouped.insert(parts.digits.back().chips.begin(), parts.digits.back().chips.end());
  }
  const std::vector<ChipView> chips = machine.chips();
  for (std::size_t i = 0; i < chips.size(); ++i) {
    const ChipView& chip = chips[i];
    switch (chip.type->looks) {
      case Looks::none: break;
      case Looks::led: parts.leds.push_back({std::string(chip.name), i, led_colour(chip)}); break;
      case Looks::digit:
        if (!grouped.contains(i)) parts.digits.push_back({std::string(chip.name), {i}});
        break;
      case Looks::contact: parts.contacts.push_back(contact_of(chip)); break;
      case Looks::knob: parts.knobs.push_back(knob_of(chip)); break;
    }
  }
  return parts;
}

}  // namespace prewire::front::desk
