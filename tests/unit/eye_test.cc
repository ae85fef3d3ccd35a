// What a person sees of digits that are lit in turn, and what is there at one moment.
#include "prewire/eye.h"

#include "machine_fixture.h"

namespace prewire::testing {
namespace {

TEST(Eye, SeesDigitsThatAreLitInTurn) {
  // Segments in common, a common cathode for each: 1 on the left digit, 7 on the right one.
  Bench bench(R"("S": {"type": "stimulus"}, "T": {"type": "stimulus", "high": 3},
    "LEFT": {"type": "seven_segment", "common": "cathode"}, "RIGHT": {"type": "seven_segment", "common": "cathode"})",
              R"(["S.P0", "LEFT.a", "RIGHT.a"], ["S.P1", "LEFT.b", "RIGHT.b"], ["S.P2", "LEFT.c", "RIGHT.c"],
    ["S.P3", "LEFT.d", "RIGHT.d"], ["S.P4", "LEFT.e", "RIGHT.e"], ["S.P5", "LEFT.f", "RIGHT.f"],
    ["S.P6", "LEFT.g", "RIGHT.g", "LEFT.dp", "RIGHT.dp"], ["T.P0", "LEFT.COM"], ["T.P1", "RIGHT.COM"])",
              R"("display": {"ADDR": ["LEFT", "RIGHT"]})");
  Machine& machine = bench.machine;
  for (int pin = 0; pin < 7; ++pin) machine.set("S", fmt::format("P{} {}", pin, pin == 1 || pin == 2 ? "high" : "low"));
  const Stamp begin = stamp_of(machine.now());
  for (int turn = 0; turn < 60; ++turn) {
    const Stamp when = begin + stamp_of(1'000 * turn);
    const bool right = turn % 2 == 1;
    machine.schedule("S", right ? "P0 high" : "P0 low", when);
    machine.schedule("T", right ? "P0 high" : "P1 high", when);
    machine.schedule("T", right ? "P1 low" : "P0 low", when);
  }
  Eye eye(machine);
  const Cycle before = machine.now();
  const Stop stop = eye.run_for(machine, 50'500);
  EXPECT_EQ(stop.reason, StopReason::limit);
  EXPECT_EQ(machine.now(), before + 50'500);
  EXPECT_EQ(eye.display("ADDR"), "17");
  EXPECT_EQ(machine.display("ADDR"), "1 ");
  eye.run_for(machine, 1'000);
  EXPECT_EQ(machine.display("ADDR"), " 7");
  EXPECT_EQ(eye.display("ADDR"), "17");
}

TEST(Eye, EndsWhereTheMachineDoes) {
  Bench bench("");
  bench.poke(Bench::kCode, "01 01 01 01 20 FE");
  bench.machine.set_breakpoint(Bench::kCode + 4, true);
  Eye eye(bench.machine);
  const Stop stop = eye.run_for(bench.machine, 100'000);
  EXPECT_EQ(stop.reason, StopReason::breakpoint);
  EXPECT_EQ(stop.pc, Bench::kCode + 4);
}

}  // namespace
}  // namespace prewire::testing
