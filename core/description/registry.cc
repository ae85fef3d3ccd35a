#include <algorithm>
#include <cassert>
#include <utility>

#include "prewire/chip_type.h"

namespace prewire {

std::string_view to_string(PinKind kind) {
  switch (kind) {
    case PinKind::input: return "input";
    case PinKind::output: return "output";
    case PinKind::three_state: return "three-state";
    case PinKind::open_drain: return "open drain";
    case PinKind::passive: return "passive";
    case PinKind::analog_in: return "analog input";
    case PinKind::supply: return "supply";
    case PinKind::none: return "not connected";
  }
  return "";
}

void Parameters::set(std::string_view name, std::int64_t value, bool given) {
  for (Entry& entry : entries_) {
    if (entry.name != name) continue;
    entry.value = value;
    entry.given = given;
    return;
  }
  entries_.push_back({std::string(name), value, given});
}

std::int64_t Parameters::operator[](std::string_view name) const {
  const auto entry =
      std::find_if(entries_.begin(), entries_.end(), [&](const Entry& candidate) { return candidate.name == name; });
  assert(entry != entries_.end());
  return entry->value;
}

bool Parameters::given(std::string_view name) const {
  return std::any_of(entries_.begin(), entries_.end(),
                     [&](const Entry& entry) { return entry.name == name && entry.given; });
}

int ChipType::pin(std::string_view pin_name) const {
  const auto place = std::find_if(pins.begin(), pins.end(), [&](const PinSpec& spec) { return spec.name == pin_name; });
  return place == pins.end() ? -1 : static_cast<int>(place - pins.begin());
}

bool ChipType::has_parameter(std::string_view parameter_name) const {
  return std::any_of(parameters.begin(), parameters.end(),
                     [&](const ParameterSpec& parameter) { return parameter.name == parameter_name; });
}

void Registry::add(ChipType type) {
  assert(find(type.name) == nullptr);
  types_.push_back(std::make_shared<const ChipType>(std::move(type)));
}

const ChipType* Registry::find(std::string_view name) const {
  for (const auto& type : types_) {
    if (type->name == name) return type.get();
  }
  return nullptr;
}

}  // namespace prewire
