// The LED: when it is lit, and what it says to a missing resistor.
#include "machine_fixture.h"

namespace prewire::testing {
namespace {

/// An LED with 330 Ohm from P0 of a hand to ground.
Bench led(std::string_view parameters = "") {
  return Bench(fmt::format(R"("HAND": {{"type": "stimulus"}}, "R1": {{"type": "resistor", "ohms": "330 Ohm"}},
    "D": {{"type": "led"{}{}}})",
                           parameters.empty() ? "" : ", ", parameters),
               R"(["HAND.P0", "R1.1"], ["R1.2", "D.A"], ["D.K", "GND"])");
}

const Lamp& lamp(const Bench& bench) {
  for (const ChipView& chip : bench.machine.chips()) {
    if (chip.name == "D") return chip.lamps[0];
  }
  std::abort();
}

/// Whether it is lit with so many volts at the far end of the resistor.
bool lit(Bench& bench, std::string_view what) {
  bench.machine.set("HAND", fmt::format("P0 {}", what));
  return lamp(bench).lit();
}

TEST(Led, IsLitByAHigh) {
  Bench bench = led();
  EXPECT_FALSE(lamp(bench).lit());
  EXPECT_TRUE(lit(bench, "high"));
  EXPECT_FALSE(lit(bench, "low"));
  EXPECT_TRUE(lit(bench, "high"));
  EXPECT_FALSE(lit(bench, "open"));
  EXPECT_EQ(bench.findings(), "");
}

TEST(Led, NeedsItsForwardVoltage) {
  // Common practice: some 1.8 V for red, 2.0 V yellow, 2.1 V green, 3.0 V blue and white; 33 mV across 330 Ohm are the
  // 0.1 mA that it wants.
  for (const auto& [parameters, dark, bright] :
       {std::tuple("", "1.832 V", "1.833 V"), std::tuple(R"("color": "red")", "1.832 V", "1.833 V"),
        std::tuple(R"("color": "yellow")", "2.032 V", "2.033 V"),
        std::tuple(R"("color": "green")", "2.132 V", "2.133 V"), std::tuple(R"("color": "blue")", "3.032 V", "3.033 V"),
        std::tuple(R"("color": "white")", "3.032 V", "3.033 V"),
        std::tuple(R"("color": "blue", "forward": "2.5 V")", "2.532 V", "2.533 V")}) {
    Bench bench = led(parameters);
    EXPECT_FALSE(lit(bench, dark)) << parameters;
    EXPECT_TRUE(lit(bench, bright)) << parameters;
    EXPECT_FALSE(lit(bench, dark)) << parameters;
  }
}

TEST(Led, StaysDarkBehindALargeResistor) {
  // Common practice: less than 0.1 mA is not seen. (5 V - 1.8 V) / 31 kOhm = 0.103 mA, / 33 kOhm = 0.097 mA.
  for (const auto& [ohms, bright] : {std::pair("31 kOhm", true), std::pair("33 kOhm", false)}) {
    Bench bench(fmt::format(R"("D": {{"type": "led"}}, "R1": {{"type": "resistor", "ohms": "{}"}})", ohms),
                R"(["D.A", "R1.1"], ["R1.2", "+5V"], ["D.K", "GND"])");
    EXPECT_EQ(lamp(bench).lit(), bright) << ohms;
  }
}

TEST(Led, LetsNothingThroughTheWrongWayRound) {
  Bench bench(R"("D": {"type": "led"}, "R1": {"type": "resistor", "ohms": "330 Ohm"})",
              R"(["D.A", "GND"], ["D.K", "R1.1"], ["R1.2", "+5V"])");
  EXPECT_FALSE(lamp(bench).lit());
}

TEST(Led, IsLitByALowFromTheSupply) {
  // Common practice: an LS output sinks 8 mA and sources 0.4 mA, so the LED hangs on VCC.
  Bench bench(R"("HAND": {"type": "stimulus", "high": 1}, "D": {"type": "led"},
    "R1": {"type": "resistor", "ohms": "330 Ohm"})",
              R"(["+5V", "R1.1"], ["R1.2", "D.A"], ["D.K", "HAND.P0"])");
  EXPECT_FALSE(lamp(bench).lit());
  EXPECT_TRUE(lit(bench, "sinking"));
}

TEST(Led, WithoutAResistorSaysSo) {
  // (5 V - 1.8 V) / 10 mA = 320 Ohm (common practice: 270 or 330 Ohm).
  Bench bench(R"("HAND": {"type": "stimulus"}, "D": {"type": "led"})", R"(["HAND.P0", "D.A"], ["D.K", "GND"])");
  EXPECT_EQ(bench.findings(), "");
  EXPECT_TRUE(lit(bench, "high"));
  ASSERT_EQ(bench.findings(), "led-no-resistor 1\n");
  EXPECT_EQ(bench.machine.findings()[0].message, "nothing limits the current through D");
}

TEST(Led, AResistorOnEitherSideWillDo) {
  Bench bench(R"("HAND": {"type": "stimulus"}, "D": {"type": "led"}, "R1": {"type": "resistor", "ohms": "330 Ohm"})",
              R"(["HAND.P0", "D.A"], ["D.K", "R1.1"], ["R1.2", "GND"])");
  EXPECT_TRUE(lit(bench, "high"));
  EXPECT_EQ(bench.findings(), "");
}

TEST(Led, SumsItsLitTime) {
  Bench bench = led();
  const Stamp begin = stamp_of(bench.machine.now());
  bench.machine.schedule("HAND", "P0 high", begin + 3);
  bench.machine.schedule("HAND", "P0 low", begin + 10);
  bench.machine.run_for(20);
  EXPECT_EQ(lamp(bench).lit_stamps(stamp_of(bench.machine.now())), 7);
  EXPECT_EQ(lamp(bench).since() - begin, 10);
  const Snapshot saved = bench.machine.save();
  EXPECT_TRUE(lit(bench, "high"));
  bench.machine.restore(saved);
  EXPECT_FALSE(lamp(bench).lit());
}

}  // namespace
}  // namespace prewire::testing
