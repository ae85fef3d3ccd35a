// Ranges of chips and of pins in machine files.
#include <fmt/format.h>
#include <fmt/ranges.h>
#include <gtest/gtest.h>

#include <chrono>

#include "description/check.h"
#include "description/ranges.h"
#include "prewire/chips.h"

namespace prewire::testing {
namespace {

std::string expanded(std::string_view first, std::string_view last) {
  return fmt::format("{}", fmt::join(expand_range(first, last), " "));
}

TEST(Ranges, Expand) {
  EXPECT_EQ(expanded("R0", "R3"), "R0 R1 R2 R3");
  EXPECT_EQ(expanded("R0", "3"), "R0 R1 R2 R3");
  EXPECT_EQ(expanded("R3", "R0"), "R3 R2 R1 R0");
  EXPECT_EQ(expanded("R9", "R11"), "R9 R10 R11");
  EXPECT_EQ(expanded("R7", "R7"), "R7");
  EXPECT_EQ(expanded("a", "d"), "a b c d");
  EXPECT_EQ(expanded("LA", "LC"), "LA LB LC");
  EXPECT_EQ(expanded("SW-1", "SW-3"), "SW-1 SW-2 SW-3");
  EXPECT_EQ(expanded("1D", "4D"), "1D 2D 3D 4D");
  EXPECT_EQ(expanded("4A1", "2A1"), "4A1 3A1 2A1");
  EXPECT_EQ(expanded("1A", "1C"), "1A 1B 1C");
  for (const auto& [first, last] : {std::pair("R0", "S7"),
                                    {"R0", ""},
                                    {"", "R7"},
                                    {"R00", "R07"},
                                    {"R0", "R1000"},
                                    {"a", "D"},
                                    {"R", "7"},
                                    {"1A", "3B"},
                                    {"R-", "R_"},
                                    {"R0", "R-1"}}) {
    EXPECT_EQ(expanded(first, last), "") << first << " " << last;
  }
  EXPECT_EQ(expand_range("R0", "R999").size(), 1000U);
}

CheckedMachine checked(std::string_view chips, std::string_view wires, std::string_view more = "") {
  const std::string json = fmt::format(
      R"({{ "machine": "a board", "cpu": {{ "type": "mc6800", "clock": "1 MHz" }},
  "chips": {{ "PIA": {{ "type": "mc6821", "at": "$4000-$4003" }}{}{} }},
  "wires": [ ["PIA.CA1", "PIA.CB1", "GND"]{}{} ]{} }})",
      chips.empty() ? "" : ", ", chips, wires.empty() ? "" : ", ", wires, more);
  return read_and_check(json, "lab.json", {}, standard_chips(), {});
}

/// Each wire as "PIA.PB0 R0.1", beginning with the second.
std::string wires_of(const CheckedMachine& machine) {
  std::string text;
  for (std::size_t i = 1; i < machine.spec.wires.size(); ++i) {
    const WireSpec& wire = machine.spec.wires[i];
    std::string line;
    for (const PinRef pin : wire.pins) line += machine.spec.pin_name(pin) + " ";
    text += line + wire.label + wire.rail + "\n";
  }
  return text;
}

std::string faults_in(const CheckedMachine& machine) {
  std::string text;
  for (const Fault& fault : machine.faults) {
    if (fault.weight == Weight::stop || fault.id == "range-joined") {
      text += fmt::format("{} {}: {}; {}\n", fault.place.pointer, fault.id, fault.what, fault.hint);
    }
  }
  return text;
}

/// What is said of it, with the id.
std::string worded(const CheckedMachine& machine) {
  std::string text;
  for (const Fault& fault : machine.faults) {
    if (fault.weight == Weight::stop) text += fmt::format("{}: {} [{}]\n", fault.place.pointer, fault.what, fault.id);
  }
  return text;
}

constexpr std::string_view kResistors = R"("R0..R3": { "type": "resistor", "ohms": "1 kOhm" })";

TEST(Ranges, OfChips) {
  const CheckedMachine machine =
      checked(R"("R1..R3": { "type": "resistor", "ohms": "1 kOhm" }, "D2..D0": { "type": "seven_segment" })", "");
  std::string names;
  for (const ChipSpec& chip : machine.spec.chips) names += fmt::format("{} {} ", chip.name, chip.pointer);
  EXPECT_EQ(names,
            "PIA /chips/PIA R1 /chips/R1..R3 R2 /chips/R1..R3 R3 /chips/R1..R3 D2 /chips/D2..D0 D1 /chips/D2..D0 D0 "
            "/chips/D2..D0 ");
  EXPECT_EQ(machine.spec.displays.at(0).chips, (std::vector<int>{4, 5, 6})) << "in the order of the range";
  EXPECT_EQ(machine.spec.chips[1].parameters["ohms"], 1000);
}

TEST(Ranges, OfDigits) {
  const CheckedMachine machine =
      checked(R"("D0..D2": { "type": "seven_segment" })", "", R"(, "display": { "LEVEL": ["D2..D0"] })");
  EXPECT_EQ(machine.spec.displays.at(0).chips, (std::vector<int>{3, 2, 1}));
}

TEST(Ranges, JoinOneToOne) {
  EXPECT_EQ(wires_of(checked(kResistors, R"(["PIA.PB0..PB3", "R0..R3.1"])")),
            "PIA.PB0 R0.1 \nPIA.PB1 R1.1 \nPIA.PB2 R2.1 \nPIA.PB3 R3.1 \n");
  EXPECT_EQ(wires_of(checked(kResistors, R"(["PIA.PB0..3", "R3..0.1"])")),
            "PIA.PB0 R3.1 \nPIA.PB1 R2.1 \nPIA.PB2 R1.1 \nPIA.PB3 R0.1 \n");
  EXPECT_EQ(wires_of(checked(R"("U": { "type": "74ls04" })", R"(["PIA.PB0..PB1", "U.1A..2A"])")),
            "PIA.PB0 U.1A \nPIA.PB1 U.2A \n");
}

TEST(Ranges, ASingleEndIsJoinedToAll) {
  EXPECT_EQ(wires_of(checked(kResistors, R"(["R0..R1.1", "+5V"], ["R0..R1.2", "LINE"], ["R2..R3.1", "PIA.PB7"])")),
            "R0.1 +5V\nR1.1 +5V\nR0.2 LINE\nR1.2 LINE\nR2.1 PIA.PB7 \nR3.1 PIA.PB7 \n");
  EXPECT_EQ(faults_in(checked(kResistors, R"(["R0..R3.2", "LINE"], ["R0..R3.1", "PIA.PB7"])")), "");
  EXPECT_EQ(faults_in(checked(kResistors, R"(["PIA.PB0..PB3", "R0.1"])")),
            "/wires/1/1 range-joined: \"R0.1\" joins all pins of \"PIA.PB0..PB3\" to one net, and 4 of them can drive "
            "it; name a range here too, to join pin to pin\n");
}

TEST(Ranges, OfPackages) {
  EXPECT_EQ(wires_of(checked(R"("RN": { "type": "resistor_bussed_8", "ohms": "1 kOhm" })",
                             R"(["PIA.PB0..PB1", "RN.R1..R2"])")),
            "PIA.CA1 PIA.CB1 GND\nPIA.PB0 RN-1.2 \nPIA.PB1 RN-2.2 \n")
      << "the first wire is that of the common pin";
  EXPECT_EQ(wires_of(checked(R"("S0..S1": { "type": "dip_switch" })", R"(["PIA.PB0..PB1", "S0..S1.3A"])")),
            "PIA.PB0 S0-3.1 \nPIA.PB1 S1-3.1 \n");
}

TEST(Ranges, FaultsInChips) {
  const auto faults = [](std::string_view chips) { return faults_in(checked(chips, "")); };
  const std::string hint = "both names differ in their number, without a 0 in front, or in their last letter\n";
  constexpr std::string_view kRest = R"(: { "type": "resistor", "ohms": "1 kOhm" })";
  for (const char* key : {"R0..S7", "R00..R07", "..", "R0..", "..R7", "R0...R7", "R0..R7..R9", "R0..R1000", "R..7"}) {
    EXPECT_EQ(faults(fmt::format(R"("{}"{})", key, kRest)),
              fmt::format("/chips/{} bad-chip-name: \"{}\" is no range of chips; {}", key, key, hint));
  }
  EXPECT_EQ(faults(fmt::format(R"("R 0..R 7"{})", kRest)).substr(0, 30), "/chips/R 0..R 7 bad-chip-name:");
  EXPECT_EQ(
      faults(fmt::format(R"("CPT..CPV"{})", kRest)),
      "/chips/CPT..CPV bad-chip-name: \"CPU\" cannot be the name of a chip; CPU means the processor and RESET the "
      "reset line: choose another name\n");
  EXPECT_EQ(faults(fmt::format(R"("R0..R3"{0}, "R2"{0})", kRest)),
            "/chips/R2 duplicate-chip: \"R2\" is there already, at /chips/R0..R3; rename or remove one of them\n");
  EXPECT_EQ(worded(checked(fmt::format(R"("R0..R3"{0}, "R2..R9"{0})", kRest), "")),
            "/chips/R2..R9: \"R2\" is there already, at /chips/R0..R3 [duplicate-chip]\n"
            "/chips/R2..R9: \"R3\" is there already, at /chips/R0..R3 [duplicate-chip]\n");
  EXPECT_EQ(faults(fmt::format(R"("BAR-3"{0}, "BAR": {{ "type": "led_bar" }})", kRest)),
            "/chips/BAR duplicate-chip: \"BAR-3\" is there already, at /chips/BAR-3; rename or remove one of them\n");
  EXPECT_EQ(faults(R"("U1..U3": { "type": "6116", "at": "$0000-$07FF" })"),
            "/chips/U1..U3/at bad-address: all chips of \"U1..U3\" would answer at one address; write them one by one, "
            "each with an \"at\" of its own\n");
  EXPECT_EQ(faults(R"("R0..R3": { "type": "resistor", "ohms": "1k" })").find("bad-quantity"), 19U) << "once";
}

TEST(Ranges, FaultsInWires) {
  const auto faults = [](std::string_view wires) { return faults_in(checked(kResistors, wires)); };
  EXPECT_EQ(faults(R"(["PIA.PB0..PB7", "R0..R3.1"])"),
            "/wires/1/1 range-width: \"R0..R3.1\" does not fit \"PIA.PB0..PB7\"; a wire with ranges joins them pin by "
            "pin, first to first\n");
  EXPECT_EQ(faults(R"(["PIA.PB0..PB3", "R0-R3.1"])"),
            "/wires/1/1 unknown-chip: there is no chip \"R0-R3\"; write a range with two dots: \"R0..R3.1\"\n");
  EXPECT_EQ(faults(R"(["PIA.PB0..PB3", "R0.1..R3.1"])"),
            "/wires/1/1 bad-pin-range: \"R0.1..R3.1\" is no range of pins; name the pin once: \"R0..R3.1\"\n");
  EXPECT_EQ(faults(R"(["PIA.PB0..PB4", "R0..R4.1"])").substr(0, 51),
            "/wires/1/1 unknown-chip: there is no chip \"R4\"; add");
  EXPECT_EQ(faults(R"(["PIA.PB0", "R0..R3.3"])").substr(0, 42), "/wires/1/1 unknown-pin: R0 has no pin \"3\";");
  for (const char* end : {"R0..R3", "R0..R3.", "R0..", "R0..R3.1..2", "R0..S3.1", "R0...R3.1", "R00..R03.1"}) {
    EXPECT_EQ(faults(fmt::format(R"(["GND", "{}"])", end)).substr(0, 25), "/wires/1/1 bad-pin-range:") << end;
  }
}

TEST(Ranges, AChipWithTheNameOfARangeIsExplained) {
  EXPECT_EQ(
      faults_in(checked(R"("R0-R3": { "type": "resistor", "ohms": "1 kOhm" })", R"(["PIA.PB0..PB3", "R0..R3.1"])")),
      "/wires/1/1 unknown-chip: there is no chip \"R0\"; \"R0-R3\" is one chip; for 4 chips name it \"R0..R3\"\n");
}

TEST(Ranges, HostileSizesAreRefused) {
  EXPECT_EQ(faults_in(checked(R"("R0..R999": { "type": "resistor", "ohms": "1 kOhm" })", "")),
            "/chips/R0..R999 too-many-chips: there are too many chips; \n");
  EXPECT_EQ(faults_in(checked(R"("B0..B99": { "type": "led_bar" })", "")),
            "/chips/B0..B99 too-many-chips: there are too many chips; \n");
  // A short file that would make tens of millions of wires.
  std::string wires;
  for (int i = 0; i < 20'000; ++i) wires += R"(["R0..R899.1","GND"],)";
  wires.pop_back();
  const auto begin = std::chrono::steady_clock::now();
  EXPECT_EQ(worded(checked(R"("R0..R899": { "type": "resistor", "ohms": "1 kOhm" })", wires)),
            R"(/wires/112: there are too many wires [too-many-wires]
)");
  EXPECT_LT(std::chrono::steady_clock::now() - begin, std::chrono::seconds(60)) << "it ends";
}

}  // namespace
}  // namespace prewire::testing
