// The parts of a board: the processor is U1, then the chips on the bus, then the other chips, then the loose parts.
#include <fmt/format.h>

#include <algorithm>

#include "builder.h"
#include "package.h"

namespace prewire::handout {

namespace {

/// The name in the machine file, if it is a designator already: "R1" of a resistor.
bool is_ref(std::string_view name, std::string_view prefix) {
  return name.size() > prefix.size() && name.starts_with(prefix) &&
         std::all_of(name.begin() + static_cast<std::ptrdiff_t>(prefix.size()), name.end(),
                     [](char c) { return c >= '0' && c <= '9'; });
}

void add_chip(Builder& builder, const ChipView& chip, int index) {
  const std::string prefix = prefix_of(*chip.type);
  Part part;
  part.kind = prefix == "U" ? Part::Kind::chip : Part::Kind::loose;
  part.ref = is_ref(chip.name, prefix) ? std::string(chip.name) : builder.next_ref(prefix);
  part.name = chip.name;
  part.type = chip.type->name;
  part.what = chip.type->title;
  part.value = value_of(chip);
  part.pins = package_of(*chip.type);
  part.chip = index;
  if (chip.package_type != nullptr) {
    part.package = chip.package;
    part.what += fmt::format(", of {}: {}", chip.package, chip.package_type->title);
    const std::vector<int>& pins = chip.package_type->units[chip.unit].pins;
    for (Terminal& pin : part.pins) {
      pin.number = chip.package_type->pins[static_cast<std::size_t>(pins[static_cast<std::size_t>(pin.model)])].number;
    }
  }
  builder.add(std::move(part));
}

}  // namespace

void add_parts(Builder& builder) {
  add_chip(builder, builder.machine().processor(), -1);
  const auto add_if = [&](auto wanted) {
    for (std::size_t i = 0; i < builder.chips().size(); ++i) {
      if (wanted(builder.chips()[i])) add_chip(builder, builder.chips()[i], static_cast<int>(i));
    }
  };
  const auto packaged = [](const ChipView& chip) { return prefix_of(*chip.type) == "U"; };
  add_if([&](const ChipView& chip) { return chip.place.has_value(); });
  add_if([&](const ChipView& chip) { return !chip.place && packaged(chip); });
  add_if([&](const ChipView& chip) { return !chip.place && !packaged(chip); });
}

}  // namespace prewire::handout
