// 74LS47 and 74LS48 against the truth table of the National 74LS48 data sheet, p. 3, and the Fairchild DM74LS47, p. 2.
#include "machine_fixture.h"

namespace prewire::testing {
namespace {

/// A decoder under a hand: P0 to P3 are A to D, P4 is LT, P5 RBI, P6 BI/RBO, which starts open.
Bench decoder(std::string_view type, std::string_view chips = "", std::string_view wires = "") {
  return Bench(fmt::format(R"("HAND": {{"type": "stimulus", "high": 48, "low": 15}}, "U1": {{"type": "{}"}}{}{})", type,
                           chips.empty() ? "" : ", ", chips),
               fmt::format(R"(["HAND.P0", "U1.A"], ["HAND.P1", "U1.B"], ["HAND.P2", "U1.C"], ["HAND.P3", "U1.D"],
    ["HAND.P4", "U1.LT"], ["HAND.P5", "U1.RBI"], ["HAND.P6", "U1.BI/RBO"]{}{})",
                           wires.empty() ? "" : ", ", wires));
}

void put(Bench& bench, unsigned digit) {
  for (int i = 0; i < 4; ++i) {
    bench.machine.set("HAND", fmt::format("P{} {}", i, (digit >> i & 1) != 0 ? "high" : "low"));
  }
}

/// Levels of the outputs, a bit each, a in bit 0. What floats counts as high, as open collectors do.
unsigned outputs(Bench& bench) {
  unsigned bits = 0;
  for (int i = 0; i < 7; ++i) {
    bits |= bench.level(fmt::format("U1.{}", static_cast<char>('a' + i))) != "low" ? 1U << i : 0;
  }
  return bits;
}

unsigned rbo(Bench& bench) { return bench.level("U1.BI/RBO") == "high" ? 1 : 0; }

// National 74LS48 data sheet, truth table, digits 0 to 15: segment a in bit 0, 1 is lit.
constexpr unsigned kTable[] = {0x3F, 0x06, 0x5B, 0x4F, 0x66, 0x6D, 0x7C, 0x07,
                               0x7F, 0x67, 0x58, 0x4C, 0x62, 0x69, 0x78, 0x00};

TEST(BcdDecoder, The74ls48HasTheTableOfItsDataSheet) {
  Bench bench = decoder("74ls48");
  for (unsigned digit = 0; digit < 16; ++digit) {
    put(bench, digit);
    EXPECT_EQ(outputs(bench), kTable[digit]) << digit;
    EXPECT_EQ(rbo(bench), 1U);
  }
}

TEST(BcdDecoder, The74ls47IsItsComplement) {
  Bench bench = decoder("74ls47");
  for (unsigned digit = 0; digit < 16; ++digit) {
    put(bench, digit);
    EXPECT_EQ(outputs(bench), 0x7F & ~kTable[digit]) << digit;
  }
  put(bench, 0);
  EXPECT_EQ(outputs(bench), 0x40U);
  EXPECT_EQ(bench.level("U1.g"), "floating") << "an open collector lets go";
}

TEST(BcdDecoder, LampTestLightsEverySegment) {
  Bench bench = decoder("74ls48");
  bench.machine.set("HAND", "P4 low");
  for (const unsigned digit : {0U, 7U, 15U}) {
    put(bench, digit);
    EXPECT_EQ(outputs(bench), 0x7FU);
  }
  // RBI does not matter then: RBO stays high.
  put(bench, 0);
  bench.machine.set("HAND", "P5 low");
  EXPECT_EQ(outputs(bench), 0x7FU);
  EXPECT_EQ(rbo(bench), 1U);
}

TEST(BcdDecoder, BlankingInputBeatsEverything) {
  for (const auto& [type, dark] : {std::pair("74ls48", 0x00U), std::pair("74ls47", 0x7FU)}) {
    Bench bench = decoder(type);
    put(bench, 8);
    bench.machine.set("HAND", "P6 low");
    EXPECT_EQ(outputs(bench), dark) << type;
    bench.machine.set("HAND", "P4 low");
    EXPECT_EQ(outputs(bench), dark) << type << " in lamp test";
    bench.machine.set("HAND", "P6 open");
    EXPECT_EQ(outputs(bench), 0x7F & ~dark) << type;
  }
}

TEST(BcdDecoder, RippleBlankingSuppressesZerosOnly) {
  Bench bench = decoder("74ls48");
  bench.machine.set("HAND", "P5 low");
  EXPECT_EQ(outputs(bench), 0x00U);
  EXPECT_EQ(rbo(bench), 0U);
  put(bench, 5);
  EXPECT_EQ(outputs(bench), 0x6DU);
  EXPECT_EQ(rbo(bench), 1U);
  put(bench, 0);
  EXPECT_EQ(rbo(bench), 0U);
  bench.machine.set("HAND", "P5 high");
  EXPECT_EQ(outputs(bench), 0x3FU);
  EXPECT_EQ(rbo(bench), 1U);
}

TEST(BcdDecoder, TheWholeHistoryOfADigit) {
  Bench bench = decoder("74ls48");
  bench.machine.set("HAND", "P5 low");
  History history;
  bench.machine.watch(history);
  history.restart(bench.machine.now());
  bench.machine.set("HAND", "P0 high");  // 0 suppressed, then 1: RBO lets go and the segments follow
  EXPECT_EQ(history.take(),
            "0.0 HAND.P0 high\n"
            "0.0 HAND.P6 high pulled\n"
            "0.0 U1.b high pulled\n"
            "0.0 U1.c high pulled\n");
}

TEST(BcdDecoder, SuppressesLeadingZerosDigitByDigit) {
  // Common practice: RBO of a digit goes to RBI of the next lower one; the highest has RBI at ground.
  Bench bench(
      R"("HAND": {"type": "stimulus", "low": 255},
    "U1": {"type": "74ls48"}, "U2": {"type": "74ls48"}, "U3": {"type": "74ls48"},
    "D1": {"type": "seven_segment", "reads": "decimal"}, "D2": {"type": "seven_segment", "reads": "decimal"},
    "D3": {"type": "seven_segment", "reads": "decimal"})",
      R"(["HAND.P0", "U1.A"], ["HAND.P1", "U1.B"], ["HAND.P2", "U2.A"], ["HAND.P3", "U2.B"], ["HAND.P4", "U3.A"],
    ["HAND.P5", "U3.B"], ["U1.C", "U1.D", "U2.C", "U2.D", "U3.C", "U3.D", "U1.RBI", "GND", "D1.COM", "D2.COM", "D3.COM"],
    ["U1.BI/RBO", "U2.RBI"], ["U2.BI/RBO", "U3.RBI"],
    ["U1.a", "D1.a"], ["U1.b", "D1.b"], ["U1.c", "D1.c"], ["U1.d", "D1.d"], ["U1.e", "D1.e"], ["U1.f", "D1.f"],
    ["U1.g", "D1.g"], ["U2.a", "D2.a"], ["U2.b", "D2.b"], ["U2.c", "D2.c"], ["U2.d", "D2.d"], ["U2.e", "D2.e"],
    ["U2.f", "D2.f"], ["U2.g", "D2.g"], ["U3.a", "D3.a"], ["U3.b", "D3.b"], ["U3.c", "D3.c"], ["U3.d", "D3.d"],
    ["U3.e", "D3.e"], ["U3.f", "D3.f"], ["U3.g", "D3.g"])");
  const auto shows = [&](std::initializer_list<std::string_view> highs) {
    for (int i = 0; i < 6; ++i) bench.machine.set("HAND", fmt::format("P{} low", i));
    for (const std::string_view pin : highs) bench.machine.set("HAND", fmt::format("{} high", pin));
    return bench.machine.display("display");
  };
  EXPECT_EQ(shows({}), "   ");
  EXPECT_EQ(shows({"P4", "P5"}), "  3");
  EXPECT_EQ(shows({"P2"}), " 10");
  EXPECT_EQ(shows({"P1", "P5"}), "202");
  EXPECT_EQ(shows({"P0"}), "100");
}

TEST(BcdDecoder, The74ls47LightsACommonAnode) {
  Bench bench = decoder("74ls47", R"("D": {"type": "seven_segment", "common": "anode", "reads": "decimal"},
    "RA": {"type": "resistor", "ohms": "330 Ohm"}, "RB": {"type": "resistor", "ohms": "330 Ohm"},
    "RC": {"type": "resistor", "ohms": "330 Ohm"}, "RD": {"type": "resistor", "ohms": "330 Ohm"},
    "RE": {"type": "resistor", "ohms": "330 Ohm"}, "RF": {"type": "resistor", "ohms": "330 Ohm"},
    "RG": {"type": "resistor", "ohms": "330 Ohm"})",
                        R"(["D.COM", "+5V"], ["U1.a", "RA.1"], ["RA.2", "D.a"], ["U1.b", "RB.1"], ["RB.2", "D.b"],
    ["U1.c", "RC.1"], ["RC.2", "D.c"], ["U1.d", "RD.1"], ["RD.2", "D.d"], ["U1.e", "RE.1"], ["RE.2", "D.e"],
    ["U1.f", "RF.1"], ["RF.2", "D.f"], ["U1.g", "RG.1"], ["RG.2", "D.g"])");
  std::string seen;
  for (unsigned digit = 0; digit < 10; ++digit) {
    put(bench, digit);
    seen += bench.machine.display("display");
  }
  EXPECT_EQ(seen, "0123456789");
}

TEST(BcdDecoder, OpenInputsReadOneAndAreToldOfAfterAWhile) {
  Bench bench = decoder("74ls48");
  put(bench, 2);
  bench.machine.set("HAND", "P0 open");
  EXPECT_EQ(outputs(bench), kTable[3]);
  bench.machine.run_for(9'000);
  EXPECT_EQ(bench.findings(), "");
  bench.machine.run_for(2'000);
  EXPECT_EQ(bench.findings(), "floating-input 1\n");
  EXPECT_NE(bench.machine.findings()[0].message.find("U1.A"), std::string::npos);
  bench.machine.run_for(50'000);
  EXPECT_EQ(bench.findings(), "floating-input 1\n") << "once is enough";
}

TEST(BcdDecoder, InputsOfAPortThatIsNotSetUpYetAreNoMistake) {
  // After reset all lines of a PIA are inputs (Motorola MC6821 data sheet); the program makes them outputs in time.
  Bench bench(R"("PIA": {"type": "mc6821", "at": "$4000-$4003"}, "U1": {"type": "74ls48"})",
              R"(["PIA.PB0", "U1.A"], ["PIA.PB1", "U1.B"], ["PIA.PB2", "U1.C"], ["PIA.PB3", "U1.D"])");
  EXPECT_EQ(outputs(bench), kTable[15]);
  bench.wait(5'000);
  bench.write(0x4002, 0x0F);
  bench.write(0x4003, 0x04);
  bench.write(0x4002, 0x07);
  EXPECT_EQ(outputs(bench), kTable[7]);
  bench.wait(20'000);
  EXPECT_EQ(bench.findings(), "");
}

TEST(BcdDecoder, PinsAreNumberedAsInTheDataSheet) {
  // From memory of the TI and National data sheets.
  const Registry& registry = bench_registry();
  for (const std::string type : {"74ls47", "74ls48"}) {
    std::string text;
    for (const PinSpec& pin : registry.find(type)->pins) text += fmt::format("{} {}, ", pin.number, pin.name);
    EXPECT_EQ(text,
              "1 B, 2 C, 3 LT, 4 BI/RBO, 5 RBI, 6 D, 7 A, 8 GND, 9 e, 10 d, 11 c, 12 b, 13 a, 14 g, 15 f, 16 VCC, ");
  }
}

TEST(BcdDecoder, IsSavedWithTheMachine) {
  Bench bench = decoder("74ls48");
  put(bench, 4);
  const Snapshot saved = bench.machine.save();
  put(bench, 9);
  bench.machine.restore(saved);
  EXPECT_EQ(outputs(bench), kTable[4]);
  EXPECT_EQ(bench.machine.save(), saved);
}

}  // namespace
}  // namespace prewire::testing
