// What the check says of pure logic: outputs that never change, and inputs that are open. The words are in
// tests/cli/cases/check-logic.txt.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include "prewire/chips.h"
#include "prewire/description.h"

namespace prewire::testing {
namespace {

/// One part U between ports of a PIA, with those wires; ids and weights of what is said.
std::vector<Fault> logic_faults(std::string_view type, std::string_view wires) {
  const std::string json = fmt::format(
      R"({{ "machine": "a board", "cpu": {{ "type": "mc6800", "clock": "1 MHz" }},
  "chips": {{ "PIA": {{ "type": "mc6821", "at": "$4000-$4003" }}, "U": {{ "type": "{}" }},
              "R": {{ "type": "resistor", "ohms": "4.7 kOhm" }}, "S": {{ "type": "switch" }} }},
  "wires": [ ["PIA.CA1", "PIA.CB1", "GND"], ["CPU.HALT", "CPU.IRQ", "CPU.NMI", "+5V"],
             ["R.2", "+5V"], ["S.2", "GND"], ["PIA.PB7", "R.1", "S.1"], {} ] }})",
      type, wires);
  std::vector<Fault> faults = check_machine(json, "lab.json", {}, standard_chips());
  std::erase_if(faults, [](const Fault& fault) { return fault.id == "no-reset-vector"; });
  return faults;
}

std::string said_of(std::string_view type, std::string_view wires) {
  std::string text;
  for (const Fault& fault : logic_faults(type, wires)) {
    text += fmt::format("{}{} {}", text.empty() ? "" : ", ", to_string(fault.weight), fault.id);
  }
  return text;
}

std::string first_of(std::string_view type, std::string_view wires) {
  const std::vector<Fault> faults = logic_faults(type, wires);
  return faults.empty() ? "" : faults.front().what;
}

constexpr std::string_view kOthers = R"(, ["U.2A", "U.2B", "U.3A", "U.3B", "U.4A", "U.4B", "GND"])";

TEST(CheckLogic, IsContentWithTiedInputs) {
  const auto gate = [](std::string_view type, std::string_view wires) {
    return said_of(type, fmt::format("{}{}", wires, kOthers));
  };
  for (const char* type : {"74ls00", "74ls02", "74ls08", "74ls32", "74ls86"}) {
    EXPECT_EQ(gate(type, R"(["PIA.PB0", "U.1A"], ["PIA.PB1", "U.1B"], ["U.1Y", "PIA.PA0"])"), "") << type;
  }
  // An inverter made of a gate, and a line that a contact switches.
  EXPECT_EQ(gate("74ls00", R"(["PIA.PB0", "U.1A"], ["U.1B", "+5V"], ["U.1Y", "PIA.PA0"])"), "");
  EXPECT_EQ(gate("74ls00", R"(["PIA.PB0", "U.1A"], ["PIA.PB7", "U.1B"], ["U.1Y", "PIA.PA0"])"), "");
  EXPECT_EQ(gate("74ls00", R"(["U.1A", "U.1B", "GND"], ["U.1Y", "PIA.PA0"])"), "") << "a constant that is meant";
}

TEST(CheckLogic, OpenInputsAreOneHint) {
  EXPECT_EQ(said_of("74ls00", R"(["PIA.PB0", "U.1A"], ["PIA.PB1", "U.1B"], ["U.1Y", "PIA.PA0"])"),
            "hint open-logic-input");
  EXPECT_EQ(first_of("74ls00", R"(["PIA.PB0", "U.1A"], ["U.1Y", "PIA.PA0"])"),
            "inputs of U are open and count as high: 1B, 2A, 2B, 3A, 3B, 4A, 4B");
  EXPECT_EQ(said_of("74ls04", R"(["PIA.PB0", "U.1A"], ["U.1Y", "PIA.PA0"])"), "hint open-logic-input");
  EXPECT_EQ(said_of("74ls139", R"(["PIA.PB0..PB1", "U.1A..1B"], ["U.1G", "GND"], ["U.1Y0", "PIA.PA0"])"),
            "hint open-logic-input");
  EXPECT_EQ(said_of("74ls148", R"(["PIA.PB0", "U.I3"], ["U.EI", "GND"], ["U.GS", "PIA.PA0"])"),
            "hint open-logic-input");
  EXPECT_EQ(said_of("74ls244", R"(["PIA.PB0..PB3", "U.1A1..1A4"], ["U.1G", "GND"], ["U.1Y1..1Y4", "PIA.PA0..PA3"])"),
            "hint open-logic-input");
}

TEST(CheckLogic, OpenInputsThatDecideAreTold) {
  // A bit of the number, or a data input of a buffer in use.
  EXPECT_EQ(said_of("74ls138", R"(["PIA.PB0", "U.A"], ["PIA.PB1", "U.B"], ["U.G1", "+5V"], ["U.G2A", "U.G2B", "GND"],
                                  ["U.Y4", "PIA.PA0"])"),
            "warn unwired-input");
  EXPECT_EQ(said_of("74ls257", R"(["PIA.PB0", "U.1A"], ["U.S", "PIA.PB1"], ["U.OE", "GND"], ["U.1Y", "PIA.PA0"],
                                  ["U.2A", "U.2B", "U.3A", "U.3B", "U.4A", "U.4B", "GND"])"),
            "warn unwired-input");
}

TEST(CheckLogic, StuckByAnOpenInput) {
  EXPECT_EQ(first_of("74ls02", R"(["PIA.PB0", "U.1A"], ["U.1Y", "PIA.PA0"])"),
            "U.1Y is low for ever, whatever its other inputs do: U.1B is open, which counts as high");
  EXPECT_EQ(first_of("74ls32", R"(["PIA.PB0", "U.1A"], ["U.1Y", "PIA.PA0"])"),
            "U.1Y is high for ever, whatever its other inputs do: U.1B is open, which counts as high");
  EXPECT_EQ(first_of("74ls125", R"(["PIA.PB0", "U.1A"], ["U.1Y", "PIA.PA0"])"),
            "U.1Y is off for ever, whatever its other inputs do: U.1OE is open, which counts as high");
  EXPECT_EQ(said_of("74ls126", R"(["PIA.PB0", "U.1A"], ["U.1Y", "PIA.PA0"])"),
            "warn unwired-input, hint open-logic-input");
  EXPECT_EQ(first_of("74ls148", R"(["PIA.PB0..PB7", "U.I0..I7"], ["U.GS", "PIA.PA0"])"),
            "U.GS is high for ever, whatever its other inputs do: U.EI is open, which counts as high");
  EXPECT_EQ(first_of("74ls138", R"(["PIA.PB0..PB2", "U.A..C"], ["U.G1", "+5V"], ["U.Y0..Y7", "PIA.PA0..PA7"])"),
            "U.Y0..Y7 are high for ever, whatever its other inputs do: U.G2A is open, which counts as high; U.G2B is "
            "open, which counts as high");
}

TEST(CheckLogic, StuckByATiedInput) {
  EXPECT_EQ(
      first_of("74ls138", R"(["PIA.PB0..PB2", "U.A..C"], ["U.G1", "U.G2A", "U.G2B", "GND"], ["U.Y5", "PIA.PA0"])"),
      "U.Y5 is high for ever, whatever its other inputs do: U.G1 is tied to GND");
  EXPECT_EQ(first_of("74ls08", R"(["PIA.PB0", "U.1A"], ["U.1B", "GND"], ["U.1Y", "PIA.PA0"])"),
            "U.1Y is low for ever, whatever its other inputs do: U.1B is tied to GND");
  EXPECT_EQ(said_of("74ls32", fmt::format(R"(["PIA.PB0", "U.1A"], ["U.1B", "R.1"], ["U.1Y", "PIA.PA0"]{})", kOthers)),
            "")
      << "PB7 moves that net";
  // An enable that its page explains is told of once.
  EXPECT_EQ(said_of("74ls244", R"(["PIA.PB0..PB3", "U.1A1..1A4"], ["U.1G", "+5V"], ["U.1Y1..1Y4", "PIA.PA0..PA3"],
                                  ["U.2A1..2A4", "GND"], ["U.2G", "+5V"])"),
            "warn input-disabled");
}

TEST(CheckLogic, AnOpenCollectorNeedsAPullUp) {
  constexpr std::string_view kRest = R"(, ["U.2A", "U.3A", "U.4A", "U.5A", "U.6A", "GND"])";
  EXPECT_EQ(said_of("74ls07", fmt::format(R"(["PIA.PB0", "U.1A"], ["U.1Y", "PIA.PB1"]{})", kRest)), "warn no-pull-up");
  EXPECT_EQ(said_of("74ls07", fmt::format(R"(["PIA.PB0", "U.1A"], ["U.1Y", "PIA.PA1"]{})", kRest)), "")
      << "port A has its own";
}

TEST(CheckLogic, TwoTotemPolesOnOneNet) {
  EXPECT_EQ(said_of("74ls04", R"(["PIA.PB0", "U.1A"], ["PIA.PB1", "U.2A"], ["U.1Y", "U.2Y", "PIA.PA0"],
                                 ["U.3A", "U.4A", "U.5A", "U.6A", "GND"])"),
            "stop two-outputs");
}

// docs/loads.md: an LS output sinks 8 mA and gives 0.4 mA; 40 mA for 74LS06; 74LS145 80 mA into lamps.
TEST(CheckLogic, Loads) {
  const auto lamp = [](std::string_view type, std::string_view ohms, std::string_view wires) {
    const std::string json = fmt::format(
        R"({{ "machine": "a board", "cpu": {{ "type": "mc6800", "clock": "1 MHz" }},
  "chips": {{ "PIA": {{ "type": "mc6821", "at": "$4000-$4003" }}, "U": {{ "type": "{}" }},
              "R": {{ "type": "resistor", "ohms": "{}" }}, "L": {{ "type": "led" }} }},
  "wires": [ ["PIA.CA1", "PIA.CB1", "GND"], ["CPU.HALT", "CPU.IRQ", "CPU.NMI", "+5V"], {} ] }})",
        type, ohms, wires);
    std::string text;
    for (const Fault& fault : check_machine(json, "lab.json", {}, standard_chips())) {
      const bool known = fault.id == "output-overload" || fault.id == "led-too-dim";
      if (known) text += fmt::format("{} {}", to_string(fault.weight), fault.id);
    }
    return text;
  };
  constexpr std::string_view kLow = R"(["PIA.PB0", "U.1A"], ["U.1Y", "L.K"], ["L.A", "R.1"], ["R.2", "+5V"])";
  EXPECT_EQ(lamp("74ls04", "390 Ohm", kLow), "");
  EXPECT_EQ(lamp("74ls04", "220 Ohm", kLow), "warn output-overload");
  EXPECT_EQ(lamp("74ls06", "100 Ohm", kLow), "");
  EXPECT_EQ(lamp("74ls06", "56 Ohm", kLow), "hint output-overload");
  EXPECT_EQ(lamp("74ls145", "47 Ohm", R"(["PIA.PB0", "U.A"], ["U.Y0", "L.K"], ["L.A", "R.1"], ["R.2", "+5V"])"), "");
  EXPECT_EQ(lamp("74ls145", "27 Ohm", R"(["PIA.PB0", "U.A"], ["U.Y0", "L.K"], ["L.A", "R.1"], ["R.2", "+5V"])"),
            "hint output-overload");
}

}  // namespace
}  // namespace prewire::testing
