// The toggle switch: it stays as it was put, and bounces only if told to.
#include "machine_fixture.h"

namespace prewire::testing {
namespace {

Bench with_pull_up(std::string_view parameters = "") {
  return Bench(fmt::format(R"("S": {{"type": "switch"{}{}}}, "R1": {{"type": "resistor", "ohms": "10 kOhm"}})",
                           parameters.empty() ? "" : ", ", parameters),
               R"(["+5V", "R1.1"], ["R1.2", "S.1"], ["S.2", "GND"])");
}

TEST(ToggleSwitch, JoinsItsEndsWhileClosed) {
  Bench bench = with_pull_up();
  History history;
  bench.machine.watch(history);
  history.restart(bench.machine.now());
  EXPECT_EQ(bench.level("S.1"), "high");
  bench.machine.set("S", "closed");
  bench.machine.set("S", "closed");
  bench.machine.run_for(10);
  bench.machine.set("S", "open");
  bench.machine.run_for(10);
  EXPECT_EQ(history.take(),
            "0.0 S: contact 1\n"
            "0.0 S.1 low\n"
            "10.0 S: contact 0\n"
            "10.0 S.1 high pulled\n");
}

TEST(ToggleSwitch, CanBeClosedFromTheStart) {
  Bench bench = with_pull_up(R"("closed": true)");
  EXPECT_EQ(bench.level("S.1"), "low");
  bench.machine.set("S", "open");
  EXPECT_EQ(bench.level("S.1"), "high");
  bench.machine.power_cycle();
  EXPECT_EQ(bench.level("S.1"), "low");
}

TEST(ToggleSwitch, BouncesIfTold) {
  Bench bench = with_pull_up(R"("bounce": "1 ms")");
  History history;
  bench.machine.watch(history);
  history.restart(bench.machine.now());
  bench.machine.set("S", "closed");
  bench.machine.run_for(1'100);
  const std::string text = history.take();
  EXPECT_TRUE(text.starts_with("0.0 S: contact 1\n0.0 S.1 low\n")) << text;
  EXPECT_TRUE(text.ends_with("1000.0 S: contact 1\n1000.0 S.1 low\n")) << text;
  EXPECT_NE(text.find("S.1 high"), std::string::npos) << text;
}

TEST(ToggleSwitch, RefusesOtherWords) {
  Bench bench = with_pull_up();
  for (const std::string_view text : {"pressed", "1", "", "Open"}) {
    EXPECT_THROW(bench.machine.set("S", text), InputError) << text;
  }
}

}  // namespace
}  // namespace prewire::testing
