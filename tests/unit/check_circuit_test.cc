// What a look at the wiring says of parts, inputs, lamps and currents: for each rule a board that must be told of, and
// one like it that must not. Figures are those of docs/loads.md, which names their sources.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include "prewire/chips.h"
#include "prewire/description.h"

namespace prewire::testing {
namespace {

// One board for all: a PIA at $4000, and whatever a test adds. Rules about programs are not looked at.
std::vector<Fault> faults_of(std::string_view chips, std::string_view wires, std::string_view cpu = "") {
  const std::string json = fmt::format(
      R"({{ "machine": "a board", "cpu": {{ "type": "mc6800", "clock": "1 MHz" }},
  "chips": {{ "PIA": {{ "type": "mc6821", "at": "$4000-$4003" }}{}{} }},
  "wires": [ ["PIA.CA1", "PIA.CB1", "GND"], {}{}{} ] }})",
      chips.empty() ? "" : ", ", chips, cpu.empty() ? R"(["CPU.HALT", "CPU.IRQ", "CPU.NMI", "+5V"])" : cpu,
      wires.empty() ? "" : ", ", wires);
  std::vector<Fault> faults = check_machine(json, "lab.json", {}, standard_chips());
  std::erase_if(faults, [](const Fault& fault) { return fault.id == "no-reset-vector"; });
  return faults;
}

/// Ids with weights, as "warn open-end".
std::string said(std::string_view chips, std::string_view wires, std::string_view cpu = "") {
  std::string text;
  for (const Fault& fault : faults_of(chips, wires, cpu)) {
    if (!text.empty()) text += ", ";
    text += fmt::format("{} {}", to_string(fault.weight), fault.id);
  }
  return text;
}

std::string first(std::string_view chips, std::string_view wires, std::string_view cpu = "") {
  const std::vector<Fault> faults = faults_of(chips, wires, cpu);
  return faults.empty() ? "" : faults.front().what;
}

constexpr std::string_view kLed = R"("L": { "type": "led" }, "R": { "type": "resistor", "ohms": "1 kOhm" })";

TEST(OpenEnds, OfLamps) {
  EXPECT_EQ(said(kLed, R"(["R.1", "+5V"], ["R.2", "L.A"], ["L.K", "PIA.PB0"])"), "");
  EXPECT_EQ(first(kLed, R"(["R.1", "+5V"], ["R.2", "L.A"])"), "L.K is not wired to anything");
  EXPECT_EQ(first(kLed, R"(["R.1", "+5V"], ["R.2", "L.A"], ["L.K", "NOWHERE"])"), "L.K is not wired to anything");
  EXPECT_EQ(first(kLed, R"(["R.2", "L.A"], ["L.K", "PIA.PB0"])"), "R.1 is not wired to anything");
}

TEST(OpenEnds, OfDigits) {
  constexpr std::string_view kDigit = R"("U": { "type": "dm9368" }, "D": { "type": "seven_segment" })";
  constexpr std::string_view kInputs = R"(["PIA.PB0..PB3", "U.A0..A3"], ["PIA.PB4", "U.LE"], ["U.RBI", "+5V"])";
  const auto with = [&](std::string_view rest) { return said(kDigit, fmt::format("{}, {}", kInputs, rest)); };
  EXPECT_EQ(with(R"(["U.a..g", "D.a..g"], ["D.COM", "GND"])"), "") << "a decimal point is not missed";
  EXPECT_EQ(with(R"(["U.a..f", "D.a..f"], ["D.COM", "GND"])"), "warn open-end");
  EXPECT_EQ(with(R"(["U.a..g", "D.a..g"])"), "warn open-end");
  EXPECT_EQ(with(R"(["U.b..c", "D.b..c"], ["D.COM", "GND"])"), "") << "half a digit shows a 1";
}

TEST(OpenEnds, OfPotentiometers) {
  constexpr std::string_view kPot =
      R"("P": { "type": "potentiometer" }, "A": { "type": "adc0804", "at": "$5000", "clock": "640 kHz" })";
  constexpr std::string_view kRest = R"(["A.VIN-", "GND"], ["A.VIN+", "P.wiper"])";
  const auto with = [&](std::string_view rest) { return said(kPot, fmt::format("{}, {}", kRest, rest)); };
  EXPECT_EQ(with(R"(["P.1", "GND"], ["P.3", "+5V"])"), "");
  EXPECT_EQ(with(R"(["P.3", "+5V"])"), "warn open-end");
  // A variable resistor in series with an LED.
  EXPECT_EQ(
      said(R"("P": { "type": "potentiometer" }, "L": { "type": "led" }, "R": { "type": "resistor", "ohms": "1 kOhm" })",
           R"(["P.1", "+5V"], ["P.wiper", "R.1"], ["R.2", "L.A"], ["L.K", "PIA.PB0"])"),
      "");
}

TEST(Wipers, AtARail) {
  constexpr std::string_view kPot =
      R"("P": { "type": "potentiometer" }, "A": { "type": "adc0804", "at": "$5000", "clock": "640 kHz" })";
  EXPECT_EQ(said(kPot, R"(["A.VIN-", "GND"], ["A.VIN+", "P.3"], ["P.1", "GND"], ["P.wiper", "+5V"])"),
            "warn wiper-on-rail");
}

constexpr std::string_view kKey = R"("K": { "type": "button" }, "RK": { "type": "resistor", "ohms": "10 kOhm" })";

TEST(Contacts, ThatChangeNothing) {
  EXPECT_EQ(said(kKey, R"(["PIA.PB0", "K.1", "RK.1"], ["RK.2", "+5V"], ["K.2", "GND"])"), "");
  EXPECT_EQ(said(kKey, R"(["PIA.PB0", "K.1", "RK.1"], ["RK.2", "GND"], ["K.2", "+5V"])"), "") << "active high";
  EXPECT_EQ(said(kKey, R"(["PIA.PB0", "K.1", "K.2", "RK.1"], ["RK.2", "+5V"])"), "warn contact-without-effect");
  EXPECT_EQ(said(kKey, R"(["PIA.PB0", "K.1", "RK.1"], ["RK.2", "K.2", "+5V"])"), "warn contact-without-effect");
  EXPECT_EQ(said(kKey, R"(["PIA.PB0", "K.1", "RK.1"], ["RK.2", "K.2", "GND"])"), "warn pulled-the-wrong-way");
}

TEST(Contacts, ThatNothingHoldsWhileTheyAreOpen) {
  EXPECT_EQ(first(R"("K": { "type": "button" })", R"(["PIA.PB0", "K.1"], ["K.2", "GND"])"),
            "nothing drives or pulls PIA.PB0 while K is open");
  EXPECT_EQ(said(R"("K": { "type": "button" })", R"(["PIA.PA0", "K.1"], ["K.2", "GND"])"), "") << "port A pulls";
  EXPECT_EQ(said(R"("K": { "type": "switch" }, "M": { "type": "switch" })",
                 R"(["PIA.PB0", "K.1", "M.1"], ["K.2", "GND"], ["M.2", "+5V"])"),
            "")
      << "two contacts of a change-over switch";
}

TEST(Contacts, PulledDownAgainstThePullUpInside) {
  EXPECT_EQ(first(kKey, R"(["PIA.PA0", "K.1", "RK.1"], ["RK.2", "GND"], ["K.2", "+5V"])"),
            "RK pulls PIA.PA0 to GND against the pull-up of 3.5 kOhm inside: there it is 3.7 V, which is no low");
  EXPECT_EQ(said(R"("K": { "type": "button" }, "RK": { "type": "resistor", "ohms": "330 Ohm" })",
                 R"(["PIA.PA0", "K.1", "RK.1"], ["RK.2", "GND"], ["K.2", "+5V"])"),
            "")
      << "which is strong enough";
}

TEST(HeldInputs, OfChips) {
  constexpr std::string_view kLatch = R"("U": { "type": "74ls374", "at": "$5000" })";
  EXPECT_EQ(said(kLatch, R"(["U.OE", "GND"], ["U.1Q", "PIA.PB0"])"), "");
  EXPECT_EQ(first(kLatch, R"(["U.OE", "+5V"], ["U.1Q", "PIA.PB0"])"),
            "U.OE is tied to +5V for ever: its outputs stay off");
  EXPECT_EQ(said(kLatch, R"(["U.OE", "+5V"])"), "") << "nothing hangs on it";
  // The half of a buffer that nobody uses is switched off.
  EXPECT_EQ(
      said(R"("U": { "type": "74ls244" })",
           R"(["U.1G", "GND"], ["U.1A1..1A4", "GND"], ["U.1Y1", "PIA.PB0"], ["U.2G", "+5V"], ["U.2A1..2A4", "+5V"])"),
      "");
}

TEST(HeldInputs, OfTheProcessor) {
  EXPECT_EQ(said("", "", R"(["CPU.HALT", "GND"], ["CPU.IRQ", "CPU.NMI", "+5V"])"), "warn input-disabled");
  EXPECT_EQ(said("", "", R"(["CPU.IRQ", "GND"], ["CPU.HALT", "CPU.NMI", "+5V"])"), "warn input-held");
  EXPECT_EQ(said("", "", R"(["CPU.HALT", "+5V"])"), "hint open-control-input");
  EXPECT_EQ(said("", "", R"(["PIA.CA2", "GND"])"), "") << "no word of the processor's lines";
}

TEST(Requests, OnTheWrongLine) {
  constexpr std::string_view kPull = R"("R": { "type": "resistor", "ohms": "4.7 kOhm" })";
  const auto with = [&](std::string_view cpu) { return said(kPull, R"(["R.2", "+5V"])", cpu); };
  EXPECT_EQ(with(R"(["R.1", "PIA.IRQA", "PIA.IRQB", "CPU.IRQ"], ["CPU.HALT", "CPU.NMI", "+5V"])"), "");
  EXPECT_EQ(with(R"(["R.1", "PIA.IRQA", "PIA.IRQB", "CPU.NMI"], ["CPU.HALT", "CPU.IRQ", "+5V"])"), "warn irq-on-nmi");
  EXPECT_EQ(with(R"(["R.1", "PIA.IRQA", "CPU.NMI"], ["CPU.HALT", "CPU.IRQ", "+5V"])"), "hint irq-on-nmi");
  EXPECT_EQ(
      said(R"("R": { "type": "resistor", "ohms": "4.7 kOhm" }, "T": { "type": "oscillator", "frequency": "1 kHz" })",
           R"(["R.2", "+5V"])", R"(["R.1", "PIA.IRQA", "T.OUT", "CPU.IRQ"], ["CPU.HALT", "CPU.NMI", "+5V"])"),
      "warn active-on-open-drain");
}

TEST(Latches, ThatStayOpen) {
  constexpr std::string_view kTwo = R"("U": { "type": "dm9368" }, "V": { "type": "dm9368" })";
  constexpr std::string_view kShared =
      R"(["PIA.PB0..PB3", "U.A0..A3", "V.A0..A3"], ["U.RBI", "V.RBI", "+5V"], ["PIA.PB4", "U.LE"])";
  EXPECT_EQ(said(kTwo, fmt::format(R"({}, ["PIA.PB5", "V.LE"])", kShared)), "");
  EXPECT_EQ(said(kTwo, fmt::format(R"({}, ["V.LE", "GND"])", kShared)), "warn latch-always-open");
  EXPECT_EQ(said(R"("U": { "type": "dm9368" })", R"(["PIA.PB0..PB3", "U.A0..A3"], ["U.RBI", "+5V"], ["U.LE", "GND"])"),
            "")
      << "as a decoder without a latch";
}

TEST(Lamps, TheWrongWayRound) {
  EXPECT_EQ(said(kLed, R"(["R.1", "+5V"], ["R.2", "L.K"], ["L.A", "PIA.PB0"])"), "warn led-reversed");
  EXPECT_EQ(said(kLed, R"(["R.1", "PIA.PB1"], ["R.2", "L.K"], ["L.A", "PIA.PB0"])"), "") << "either may be high";
}

TEST(Lamps, DigitsOfTheOtherKind) {
  const auto with = [](std::string_view decoder, std::string_view common, std::string_view com) {
    return said(fmt::format(R"("U": {{ "type": "{}" }}, "D": {{ "type": "seven_segment", "common": "{}" }},
        "Ra": {{ "type": "resistor", "ohms": "330 Ohm" }})",
                            decoder, common),
                fmt::format(R"(["PIA.PB0..PB3", "U.A..D"], ["U.a", "Ra.1"], ["Ra.2", "D.a"], ["D.COM", "{}"])", com));
  };
  EXPECT_EQ(with("74ls47", "anode", "+5V"), "");
  EXPECT_EQ(with("74ls47", "cathode", "GND"), "warn digit-wrong-common");
  EXPECT_EQ(with("74ls47", "anode", "GND"), "warn digit-wrong-common");
  EXPECT_EQ(with("74ls48", "cathode", "GND"), "");
  EXPECT_EQ(with("74ls48", "cathode", "+5V"), "warn digit-wrong-common");
}

TEST(Lamps, WithoutResistor) {
  EXPECT_EQ(said(R"("L": { "type": "led" })", R"(["L.A", "+5V"], ["L.K", "PIA.PB0"])"), "warn led-no-resistor");
}

TEST(Memories, OnTheSameHalfOfAByte) {
  EXPECT_EQ(
      said(
          R"("A": { "type": "2114", "at": "$0000-$03FF" }, "B": { "type": "2114", "at": "$0000-$03FF", "data": "D4-D7" })",
          ""),
      "");
  EXPECT_EQ(
      faults_of(R"("A": { "type": "2114", "at": "$0000-$03FF" }, "B": { "type": "2114", "at": "$0000-$03FF" })", "")
          .front()
          .id,
      "same-data-lines");
}

TEST(Loads, OfAPia) {
  const auto lamp = [](std::string_view ohms, std::string_view wires) {
    return first(fmt::format(R"("L": {{ "type": "led" }}, "R": {{ "type": "resistor", "ohms": "{}" }})", ohms), wires);
  };
  constexpr std::string_view kLow = R"(["R.1", "+5V"], ["R.2", "L.A"], ["L.K", "PIA.PB0"])";
  EXPECT_EQ(lamp("910 Ohm", kLow), "");
  EXPECT_EQ(lamp("330 Ohm", kLow),
            "(5 V - 1.8 V - 0.4 V) / 330 Ohm = 8.5 mA of L into PIA.PB0, which is guaranteed to sink 3.2 mA at 0.4 V");
  EXPECT_EQ(said(R"("L": { "type": "led" }, "R": { "type": "resistor", "ohms": "820 Ohm" })", kLow),
            "hint output-overload")
      << "usual parts sink 3.4 mA";
  constexpr std::string_view kHigh = R"(["PIA.PA0", "R.1"], ["R.2", "L.A"], ["L.K", "GND"])";
  EXPECT_EQ(
      lamp("330 Ohm", kHigh),
      "a high of PIA.PA0 does not light L: it asks for 9.7 mA, and is guaranteed 0.2 mA at 2.4 V; usual parts give "
      "some 0.4 mA");
}

TEST(Loads, AddUp) {
  constexpr std::string_view kTwo = R"("L": { "type": "led" }, "R": { "type": "resistor", "ohms": "1 kOhm" },
      "M": { "type": "led" }, "S": { "type": "resistor", "ohms": "1 kOhm" })";
  EXPECT_EQ(first(kTwo, R"(["R.1", "S.1", "+5V"], ["R.2", "L.A"], ["S.2", "M.A"], ["L.K", "M.K", "PIA.PB0"])"),
            "L 2.8 mA + M 2.8 mA = 5.6 mA into PIA.PB0, which is guaranteed to sink 3.2 mA at 0.4 V");
  // Two LEDs behind one resistor share its current.
  EXPECT_EQ(said(kTwo, R"(["R.1", "S.1", "S.2", "+5V"], ["R.2", "L.A", "M.A"], ["L.K", "M.K", "PIA.PB0"])"), "");
}

// Inputs of 0.4 mA: eight fit on a PIA's 3.2 mA, nine do not (fan-out, worked from the MC6821 and 74LS data sheets).
TEST(Loads, FanOut) {
  const auto with = [](int inputs) {
    std::string wire = R"(["PIA.PB0")";
    for (int i = 0; i < inputs; ++i) wire += fmt::format(R"(, "{}.{}D")", i < 8 ? "U" : "V", i % 8 + 1);
    return said(
        R"("U": { "type": "74ls273" }, "V": { "type": "74ls273" })",
        wire +
            R"(], ["U.CLR", "V.CLR", "+5V"], ["PIA.PB1", "U.CLK", "V.CLK"], ["V.2D", "V.3D", "V.4D", "V.5D", "V.6D", "V.7D", "V.8D", "GND"])" +
            (inputs < 9 ? R"(, ["V.1D", "GND"])" : ""));
  };
  EXPECT_EQ(with(8), "");
  EXPECT_EQ(with(9), "hint output-overload");
}

// Port A asks for 1.3 mA usually and 2.4 mA at most; the converter gives 1.6 mA (both data sheets, from memory).
TEST(Loads, PortAAsAnInput) {
  constexpr std::string_view kAdc = R"("A": { "type": "adc0804", "clock": "640 kHz" })";
  constexpr std::string_view kRest = R"(["A.CS", "A.RD", "A.VIN-", "GND"], ["PIA.CA2", "A.WR"], ["A.VIN+", "GND"], )";
  EXPECT_EQ(said(kAdc, fmt::format(R"({}["PIA.PA0..PA7", "A.DB0..DB7"])", kRest)), "hint output-overload");
  EXPECT_EQ(said(kAdc, fmt::format(R"({}["PIA.PB0..PB7", "A.DB0..DB7"])", kRest)), "");
}

TEST(Hints, NamePartsOfTheSameNumberOrFamily) {
  const auto hint = [](std::string_view type) {
    const std::vector<Fault> faults = faults_of(fmt::format(R"("U": {{ "type": "{}" }})", type), "");
    return faults.empty() ? "" : faults.front().hint;
  };
  EXPECT_EQ(hint("6821"), "did you mean \"mc6821\"?");
  EXPECT_EQ(hint("MC68B21"), "did you mean \"mc6821\"?");
  EXPECT_EQ(hint("6808"), "mc6808 is a processor, and stands in \"cpu\"");
  EXPECT_EQ(hint("pot"), "did you mean \"potentiometer\"?");
  EXPECT_EQ(hint("7segment"), "did you mean \"seven_segment\"?");
  EXPECT_EQ(hint("vref"), "did you mean \"voltage_source\"?");
  EXPECT_EQ(hint("mc6281"), "did you mean \"mc6821\"?");
  EXPECT_EQ(hint("74ls734"), "did you mean \"74ls374\"?");
  EXPECT_EQ(hint("buton"), "did you mean \"button\"?");
  EXPECT_EQ(hint("74hct373"), "did you mean \"74ls373\"?");
  EXPECT_EQ(hint("7400"), "did you mean \"74ls00\"?");
  EXPECT_EQ(hint("SN74HCT138N"), "did you mean \"74ls138\"?");
  EXPECT_EQ(hint("LS138"), "did you mean \"74ls138\"?");
  EXPECT_EQ(hint("244"), "did you mean \"74ls244\"?");
  EXPECT_EQ(hint("LS00"), "did you mean \"74ls00\"?");
  EXPECT_EQ(hint("xor"), "did you mean \"74ls86\"?");
  EXPECT_EQ(hint("nor"), "did you mean \"74ls02\"?");
  EXPECT_EQ(hint("transceiver"), "did you mean \"74ls245\"?");
  EXPECT_EQ(hint("mc6850"), "this version does not have that part; of its family it has mcm6810 and mc6821");
  EXPECT_EQ(hint("74ls93").find("this version does not have that part; of its family it has "), 0);
  EXPECT_EQ(hint("teapot"), "`prewire list` shows every chip type");
}

TEST(Hints, AboutPins) {
  const auto hint = [](std::string_view wire) {
    const std::vector<Fault> faults = faults_of(R"("R": { "type": "resistor", "ohms": "1 kOhm" })", wire);
    return faults.empty() ? "" : faults.front().hint;
  };
  EXPECT_EQ(hint(R"(["PIA.PA0-PA7", "GND"])"), "write a range with two dots: \"PIA.PA0..PA7\"");
  EXPECT_EQ(hint(R"(["PIA.PA0:7", "GND"])"), "write a range with two dots: \"PIA.PA0..PA7\"");
  EXPECT_EQ(hint(R"(["PIA.D0", "R.1"])"),
            "leave the wire out: \"at\" has joined the pin to the bus; or remove \"at\", and wire all its bus pins");
}

}  // namespace
}  // namespace prewire::testing
