// The voltage source: what it holds, what it takes.
#include "machine_fixture.h"

namespace prewire::testing {
namespace {

constexpr std::string_view kSource = R"("V": {"type": "voltage_source", "volts": "1.5 V"})";

TEST(VoltageSource, HoldsItsNet) {
  // 10 kOhm to 5 V change nothing: a source is stiff.
  Bench bench(fmt::format(R"({}, "R1": {{"type": "resistor", "ohms": "10 kOhm"}})", kSource),
              R"(["V.OUT", "R1.1"], ["R1.2", "+5V"])");
  const auto volts = [&] { return bench.machine.net("V.OUT")->microvolts; };
  EXPECT_EQ(volts(), 1'500'000);
  bench.machine.set("V", "-12 V");
  EXPECT_EQ(volts(), -12'000'000);
  bench.machine.set("V", "3.3 V");
  EXPECT_EQ(volts(), 3'300'000);
  bench.machine.power_cycle();
  EXPECT_EQ(volts(), 1'500'000);
}

TEST(VoltageSource, MakesTheLevelsOfTtlInputs) {
  // TI, The TTL Data Book: low up to 0.8 V, high from 2.0 V.
  Bench bench{kSource};
  History history;
  bench.machine.watch(history);
  history.restart(bench.machine.now());
  for (const std::string_view volts : {"0.8 V", "0.801 V", "1.999 V", "2 V", "5 V"}) bench.machine.set("V", volts);
  EXPECT_EQ(history.take(),
            "0.0 V.OUT low\n"
            "0.0 V.OUT unknown\n"
            "0.0 V.OUT unknown\n"
            "0.0 V.OUT high\n"
            "0.0 V.OUT high\n");
}

TEST(VoltageSource, RefusesWhatItCannotGive) {
  Bench bench{kSource};
  for (const std::string_view text : {"15.001 V", "-15.001 V", "1.5", "1 A", "high", ""}) {
    EXPECT_THROW(bench.machine.set("V", text), InputError) << text;
  }
  EXPECT_NO_THROW(bench.machine.set("V", "15 V"));
  EXPECT_NO_THROW(bench.machine.set("V", "-15 V"));
}

TEST(VoltageSource, IsSavedWithTheMachine) {
  Bench bench{kSource};
  bench.machine.set("V", "4 V");
  const Snapshot saved = bench.machine.save();
  bench.machine.set("V", "0 V");
  bench.machine.restore(saved);
  EXPECT_EQ(bench.machine.net("V.OUT")->microvolts, 4'000'000);
}

}  // namespace
}  // namespace prewire::testing
