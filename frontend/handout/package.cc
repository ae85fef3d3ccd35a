#include "package.h"

#include <algorithm>
#include <array>

namespace prewire::handout {

namespace {

struct Extra {
  std::string_view type;
  std::string_view name;
  int number;
  PinKind kind;
  std::int32_t microvolts = 0;
};

// Pins of the processors that the model has no use for. Pin assignments of the MC6800, MC6802/MC6808 and MC6809 data
// sheets (from memory).
constexpr std::array<Extra, 15> kExtras{{{"mc6800", "PHI1", 3, PinKind::input},
                                         {"mc6800", "VSS", 21, PinKind::supply},
                                         {"mc6800", "NC", 35, PinKind::none},
                                         {"mc6800", "NC", 38, PinKind::none},
                                         {"mc6802", "VSS", 21, PinKind::supply},
                                         {"mc6802", "VCC STANDBY", 35, PinKind::supply, kLogicHigh},
                                         {"mc6802", "XTAL", 38, PinKind::passive},
                                         {"mc6802", "EXTAL", 39, PinKind::passive},
                                         {"mc6808", "VSS", 21, PinKind::supply},
                                         {"mc6808", "VCC", 35, PinKind::supply, kLogicHigh},
                                         {"mc6808", "VSS", 36, PinKind::supply},
                                         {"mc6808", "XTAL", 38, PinKind::passive},
                                         {"mc6808", "EXTAL", 39, PinKind::passive},
                                         {"mc6809", "EXTAL", 38, PinKind::passive},
                                         {"mc6809", "XTAL", 39, PinKind::passive}}};

}  // namespace

std::vector<Terminal> package_of(const ChipType& type) {
  std::vector<Terminal> pins;
  for (std::size_t i = 0; i < type.pins.size(); ++i) {
    const PinSpec& pin = type.pins[i];
    pins.push_back({std::string(pin.name), pin.number, pin.kind, pin.microvolts, static_cast<int>(i)});
  }
  for (const Extra& extra : kExtras) {
    const auto numbered = [&](const Terminal& pin) { return pin.number == extra.number; };
    if (extra.type != type.name || std::any_of(pins.begin(), pins.end(), numbered)) continue;
    pins.push_back({std::string(extra.name), extra.number, extra.kind, extra.microvolts, -1});
  }
  std::stable_sort(pins.begin(), pins.end(), [](const Terminal& a, const Terminal& b) { return a.number < b.number; });
  return pins;
}

std::string prefix_of(const ChipType& type) {
  if (std::any_of(type.pins.begin(), type.pins.end(), [](const PinSpec& pin) { return pin.number != 0; })) return "U";
  if (type.looks == Looks::led) return "LED";
  if (type.looks == Looks::digit) return "DS";
  if (type.looks == Looks::contact) return "SW";
  if (type.name == "resistor") return "R";
  if (type.name == "capacitor") return "C";
  if (type.name == "potentiometer") return "RV";
  if (type.name == "voltage_source") return "VS";
  if (type.name == "oscillator") return "OSC";
  return "X";
}

std::string value_of(const ChipView& chip) {
  if (chip.parameters == nullptr) return {};
  std::string value;
  const auto add = [&](const std::string& text) { value += (value.empty() ? "" : ", ") + text; };
  for (const ParameterSpec& parameter : chip.type->parameters) {
    const std::int64_t number = (*chip.parameters)[parameter.name];
    if (parameter.name == "color") add(std::string(parameter.choices[static_cast<std::size_t>(number)]));
    if (parameter.name == "common") add("common " + std::string(parameter.choices[static_cast<std::size_t>(number)]));
    if (parameter.name == "ohms" || parameter.name == "frequency" || parameter.name == "farads") {
      add(format_quantity(number, parameter.unit));
    }
  }
  if (chip.type->has_parameter("volts")) add("adjustable voltage");
  return value;
}

std::string rail_name(std::int32_t microvolts) {
  if (microvolts == 0) return "GND";
  std::string text = format_quantity(microvolts, Unit::microvolts);
  std::erase(text, ' ');
  return microvolts > 0 ? "+" + text : text;
}

}  // namespace prewire::handout
