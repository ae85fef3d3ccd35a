// Gates, inverters and open-collector drivers: one row each. TI, The TTL Data Book, function tables and pin
// assignments.
#include <vector>

#include "chips.h"
#include "logic_chip.h"

namespace prewire::chips {

namespace {

struct Gate {
  LogicPackage package;
  Logic (*join)(Logic, Logic);
  bool inverts;
};

constexpr Logic all(Logic a, Logic b) { return a & b; }
constexpr Logic any(Logic a, Logic b) { return a | b; }
constexpr Logic odd(Logic a, Logic b) { return a ^ b; }

// TI, SN74LS06 and SN74LS07: 40 mA at 0.7 V, 250 uA into an output that is off.
constexpr PinLimits kDriver{.sink = 40'000, .sink_at = 700'000, .high = 250};
constexpr PinLimits kDriverInput{.low = 200, .high = 20};

constexpr std::string_view kTwos = "1A 1B >1Y 2A 2B >2Y GND >3Y 3A 3B >4Y 4A 4B VCC";
constexpr std::string_view kSix = "1A >1Y 2A >2Y 3A >3Y GND >4Y 4A >5Y 5A >6Y 6A VCC";

constexpr LogicPackage plain(std::string_view name, std::string_view title, std::string_view summary,
                             std::string_view pins) {
  return {.name = name,
          .title = title,
          .summary = summary,
          .pins = pins,
          .output_limits = &kLsOutput,
          .input_limits = &kLsInput,
          .spare = true};
}

constexpr LogicPackage schmitt(std::string_view name, std::string_view title, std::string_view summary) {
  LogicPackage package = plain(name, title, summary, kSix);
  package.hysteresis = true;
  return package;
}

constexpr LogicPackage driver(std::string_view name, std::string_view title, std::string_view summary) {
  LogicPackage package = plain(name, title, summary, kSix);
  package.outputs = PinKind::open_drain;
  package.output_limits = &kDriver;
  package.input_limits = &kDriverInput;
  return package;
}

constexpr Gate kGates[] = {
    {plain("74ls00", "74LS00 quad two-input NAND gate", "Y is low while both inputs are high.", kTwos), all, true},
    {plain("74ls02", "74LS02 quad two-input NOR gate", "Y is high while both inputs are low. Outputs come first.",
           ">1Y 1A 1B >2Y 2A 2B GND 3A 3B >3Y 4A 4B >4Y VCC"),
     any, true},
    {plain("74ls04", "74LS04 hex inverter", "Y is the opposite of A.", kSix), all, true},
    {driver("74ls06", "74LS06 hex inverter with open-collector outputs for 30 V",
            "Y sinks while A is high, up to 40 mA, and else lets go: it needs a pull-up or a load."),
     all, true},
    {driver("74ls07", "74LS07 hex buffer with open-collector outputs for 30 V",
            "Y sinks while A is low, up to 40 mA, and else lets go: it needs a pull-up or a load."),
     all, false},
    {plain("74ls08", "74LS08 quad two-input AND gate", "Y is high while both inputs are high.", kTwos), all, false},
    {plain("74ls10", "74LS10 triple three-input NAND gate", "Y is low while all three inputs are high.",
           "1A 1B 2A 2B 2C >2Y GND >3Y 3A 3B 3C >1Y 1C VCC"),
     all, true},
    {schmitt("74ls14", "74LS14 hex Schmitt-trigger inverter",
             "Y is the opposite of A, which may change as slowly as it likes: its thresholds are 0.8 V apart."),
     all, true},
    {plain("74ls20", "74LS20 dual four-input NAND gate", "Y is low while all four inputs are high.",
           "1A 1B NC 1C 1D >1Y GND >2Y 2A 2B NC 2C 2D VCC"),
     all, true},
    {plain("74ls30", "74LS30 eight-input NAND gate", "Y is low while all eight inputs are high.",
           "A B C D E F GND >Y NC NC G H NC VCC"),
     all, true},
    {plain("74ls32", "74LS32 quad two-input OR gate", "Y is low while both inputs are low.", kTwos), any, false},
    {plain("74ls86", "74LS86 quad two-input exclusive-OR gate", "Y is high while the inputs differ.", kTwos), odd,
     false},
};

struct Unit {
  int output = 0;
  std::vector<int> inputs;
};

std::vector<Unit> units_of(const ChipType& type) {
  std::vector<Unit> units;
  for (std::size_t out = 0; out < type.pins.size(); ++out) {
    if (!drives(type.pins[out].kind)) continue;
    Unit& unit = units.emplace_back();
    unit.output = static_cast<int>(out);
    for (std::size_t in = 0; in < type.pins.size(); ++in) {
      const PinSpec& pin = type.pins[in];
      if (pin.kind == PinKind::input && pin.group == type.pins[out].group) unit.inputs.push_back(static_cast<int>(in));
    }
  }
  return units;
}

}  // namespace

std::vector<ChipType> gates() {
  std::vector<ChipType> types;
  for (const Gate& gate : kGates) {
    ChipType type = logic_type(gate.package);
    const bool drain = gate.package.outputs == PinKind::open_drain;
    auto logic = [units = units_of(type), join = gate.join, inverts = gate.inverts, drain](std::span<Logic> pins) {
      for (const Unit& unit : units) {
        Logic value = pins[static_cast<std::size_t>(unit.inputs.front())];
        for (std::size_t i = 1; i < unit.inputs.size(); ++i) {
          value = join(value, pins[static_cast<std::size_t>(unit.inputs[i])]);
        }
        if (inverts) value = !value;
        pins[static_cast<std::size_t>(unit.output)] = drain ? sinks(value) : value;
      }
    };
    types.push_back(logic_ready(std::move(type), std::move(logic)));
  }
  return types;
}

}  // namespace prewire::chips
