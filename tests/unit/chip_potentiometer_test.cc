// Potentiometers against dividers computed by hand.
#include "machine_fixture.h"

namespace prewire::testing {
namespace {

std::int32_t wiper(const Bench& bench) { return bench.machine.net("POT.wiper")->microvolts; }

/// From GND at pin 1 to 5 V at pin 3.
Bench across_the_supply(std::string_view parameters = "", std::string_view chips = "", std::string_view wires = "") {
  return Bench(fmt::format(R"("POT": {{"type": "potentiometer"{}{}}}{}{})", parameters.empty() ? "" : ", ", parameters,
                           chips.empty() ? "" : ", ", chips),
               fmt::format(R"(["POT.1", "GND"], ["POT.3", "+5V"]{}{})", wires.empty() ? "" : ", ", wires));
}

TEST(Potentiometer, DividesByItsPosition) {
  EXPECT_EQ(wiper(across_the_supply()), 2'500'000);
  EXPECT_EQ(wiper(across_the_supply(R"("position": 0.25)")), 1'250'000);
  EXPECT_EQ(wiper(across_the_supply(R"("position": "80 %", "ohms": "100 kOhm")")), 4'000'000);
}

TEST(Potentiometer, StopsAnOhmFromTheEnds) {
  // 5 V x 1/10000 = 0.5 mV.
  EXPECT_EQ(wiper(across_the_supply(R"("position": 0)")), 500);
  EXPECT_EQ(wiper(across_the_supply(R"("position": 1)")), 4'999'500);
}

TEST(Potentiometer, SagsUnderALoad) {
  // 5 kOhm and 5 kOhm, the lower one beside 10 kOhm: 5 V x 3.3333 / 8.3333 = 2 V.
  const Bench bench = across_the_supply("", R"("LOAD": {"type": "resistor", "ohms": "10 kOhm"})",
                                        R"(["POT.wiper", "LOAD.1"], ["LOAD.2", "GND"])");
  EXPECT_EQ(wiper(bench), 2'000'000);
}

TEST(Potentiometer, IsTurnedToAPosition) {
  Bench bench = across_the_supply();
  for (const auto& [text, volts] : {std::pair("10 %", 500'000), std::pair("0.3", 1'500'000),
                                    std::pair("100 %", 4'999'500), std::pair("0 %", 500)}) {
    bench.machine.set("POT", text);
    EXPECT_EQ(wiper(bench), volts) << text;
  }
  for (const std::string_view text : {"101 %", "-1 %", "1.01", "left", "", "3 kOhm"}) {
    EXPECT_THROW(bench.machine.set("POT", text), InputError) << text;
  }
}

TEST(Potentiometer, IsTurnedToAVoltageBetweenItsEnds) {
  Bench bench = across_the_supply();
  bench.machine.set("POT", "1.2 V");
  EXPECT_EQ(wiper(bench), 1'200'000);
  bench.machine.set("POT", "2560 mV");
  EXPECT_EQ(wiper(bench), 2'560'000);
  for (const std::string_view text : {"5.1 V", "-0.1 V"}) {
    EXPECT_THROW(bench.machine.set("POT", text), InputError) << text;
  }
}

TEST(Potentiometer, KnowsTheVoltagesAtItsEnds) {
  // Ends the other way round, one of them below ground: 4 V - 6 V x 5/6 = -1 V.
  Bench bench(R"("POT": {"type": "potentiometer", "ohms": "6 kOhm"}, "V": {"type": "voltage_source", "volts": "-2 V"})",
              R"(["POT.1", "+4V"], ["POT.3", "V.OUT"])");
  bench.machine.set("POT", "-1 V");
  EXPECT_EQ(wiper(bench), -1'000'000);
  EXPECT_THROW(bench.machine.set("POT", "4.1 V"), InputError);
  EXPECT_THROW(bench.machine.set("POT", "-2.1 V"), InputError);
  bench.machine.set("V", "4 V");
  EXPECT_THROW(bench.machine.set("POT", "4 V"), InputError) << "no span";
}

TEST(Potentiometer, RoundsThePosition) {
  // Two thirds are 0.666667 of a track of 1 MOhm: 666 667 of 1 000 000 Ohm at 3 V make 2.000001 V.
  Bench bench(R"("POT": {"type": "potentiometer", "ohms": "1 MOhm"})", R"(["POT.1", "GND"], ["POT.3", "+3V"])");
  bench.machine.set("POT", "2 V");
  EXPECT_EQ(wiper(bench), 2'000'001);
}

TEST(Potentiometer, WithAnOpenEndHasNoVoltageToBeTurnedTo) {
  Bench bench(R"("POT": {"type": "potentiometer"})", R"(["POT.1", "GND"])");
  EXPECT_THROW(bench.machine.set("POT", "0 V"), InputError);
  EXPECT_NO_THROW(bench.machine.set("POT", "50 %"));
}

// Between ends on the supplies no position gives a voltage far outside, however far that is.
TEST(Potentiometer, TakesNoVoltageBeyondItsEnds) {
  Bench bench(R"("POT": {"type": "potentiometer"}, "V": {"type": "voltage_source", "volts": "12 V"})",
              R"(["POT.1", "+5V"], ["POT.3", "V.OUT"])");
  for (const char* far : {"4.9 V", "12.1 V", "9223372036854.775807 V", "-9223372036854.775808 V"}) {
    EXPECT_THROW(bench.machine.set("POT", far), InputError) << far;
  }
  EXPECT_NO_THROW(bench.machine.set("POT", "8.5 V"));
}

TEST(Potentiometer, MovesAtTheMomentThatAScheduleNames) {
  Bench bench = across_the_supply();
  History history;
  bench.machine.watch(history);
  const Cycle begin = bench.machine.now();
  history.restart(begin);
  bench.machine.schedule("POT", "0.5 V", stamp_of(begin) + 6);
  bench.machine.schedule("POT", "4.5 V", stamp_of(begin) + 40);
  bench.machine.run_until(begin + 20);
  EXPECT_EQ(history.take(), "1.2 POT.wiper low pulled\n10.0 POT.wiper high pulled\n");
}

TEST(Potentiometer, IsSavedWithTheMachine) {
  Bench bench = across_the_supply();
  bench.machine.set("POT", "30 %");
  const Snapshot saved = bench.machine.save();
  bench.machine.set("POT", "90 %");
  bench.machine.restore(saved);
  EXPECT_EQ(wiper(bench), 1'500'000);
  bench.machine.power_cycle();
  EXPECT_EQ(wiper(bench), 2'500'000);
}

}  // namespace
}  // namespace prewire::testing
