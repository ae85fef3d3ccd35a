// Resistors against dividers computed by hand from Ohm's and Kirchhoff's laws.
#include "machine_fixture.h"

namespace prewire::testing {
namespace {

std::int32_t microvolts(const Bench& bench, std::string_view net) {
  const auto state = bench.machine.net(net);
  return state && state->strength != Strength::none ? state->microvolts : -1;
}

/// A chip entry of a resistor.
std::string r(std::string_view name, std::string_view ohms) {
  return fmt::format(R"("{}": {{"type": "resistor", "ohms": "{}"}})", name, ohms);
}

TEST(Resistor, TwoDivideAVoltage) {
  // 5 V x 3.3 / (1.8 + 3.3) = 3.235294 V.
  Bench bench(r("R1", "1.8 kOhm") + ", " + r("R2", "3.3 kOhm"),
              R"(["+5V", "R1.1"], ["R1.2", "R2.1"], ["R2.2", "GND"])");
  EXPECT_EQ(microvolts(bench, "R1.2"), 3'235'294);
  EXPECT_EQ(bench.level("R1.2"), "high");
}

TEST(Resistor, BothWaysRoundAreTheSame) {
  Bench bench(r("R1", "1 kOhm") + ", " + r("R2", "4 kOhm"), R"(["+5V", "R1.2"], ["R1.1", "R2.2"], ["R2.1", "GND"])");
  EXPECT_EQ(microvolts(bench, "R1.1"), 4'000'000);
}

TEST(Resistor, ThreeSourcesMeetInANode) {
  // (5/1k + 0/2k + 2/1k) / (1/1k + 1/2k + 1/1k) = 7 mA / 2.5 mS = 2.8 V.
  Bench bench(r("R1", "1 kOhm") + ", " + r("R2", "2 kOhm") + ", " + r("R3", "1 kOhm"),
              R"(["+5V", "R1.1"], ["GND", "R2.1"], ["+2V", "R3.1"], ["R1.2", "R2.2", "R3.2"])");
  EXPECT_EQ(microvolts(bench, "R1.2"), 2'800'000);
}

TEST(Resistor, ABridgeThatIsNotBalanced) {
  // Wheatstone bridge at 5 V, 1k and 2k over 2k and 1k, 1k across: by symmetry the nodes lie at 5 - x and x, and
  // x/1k = (5 - x)/2k + (5 - 2x)/1k gives x = 15/7 V.
  Bench bench(r("A", "1 kOhm") + ", " + r("B", "2 kOhm") + ", " + r("C", "2 kOhm") + ", " + r("D", "1 kOhm") + ", " +
                  r("X", "1 kOhm"),
              R"(["+5V", "A.1", "C.1"], ["A.2", "B.1", "X.1"], ["C.2", "D.1", "X.2"], ["B.2", "D.2", "GND"])");
  EXPECT_EQ(microvolts(bench, "X.1"), 2'857'143);
  EXPECT_EQ(microvolts(bench, "X.2"), 2'142'857);
}

TEST(Resistor, ALadderHalvesFromRungToRung) {
  // R-2R ladder of four bits with only the lowest at 5 V: 5 V x 1/16 = 0.3125 V at the output, the far end.
  std::string chips = r("END", "20 kOhm");
  std::string wires = R"(["END.1", "GND"])";
  std::string node = "END.2";
  for (int bit = 0; bit < 4; ++bit) {
    chips += ", " + r(fmt::format("B{}", bit), "20 kOhm");
    wires += fmt::format(R"(, ["B{}.1", "{}"], ["B{}.2", "{}"])", bit, bit == 0 ? "+5V" : "GND", bit, node);
    if (bit == 3) break;
    chips += ", " + r(fmt::format("L{}", bit), "10 kOhm");
    wires += fmt::format(R"(, ["L{}.1", "{}"])", bit, node);
    node = fmt::format("L{}.2", bit);
  }
  Bench bench(chips, wires);
  EXPECT_EQ(microvolts(bench, "B3.2"), 312'500);
}

TEST(Resistor, PullsAnOpenDrainNetUp) {
  Bench bench(r("R1", "4.7 kOhm") + R"(, "HAND": {"type": "stimulus"})", R"(["+5V", "R1.1"], ["R1.2", "HAND.P0"])");
  History history;
  bench.machine.watch(history);
  EXPECT_EQ(microvolts(bench, "R1.2"), 5'000'000);
  history.restart(bench.machine.now());
  bench.machine.set("HAND", "P0 sinking");
  bench.machine.run_for(2);
  bench.machine.set("HAND", "P0 open");
  EXPECT_EQ(history.take(), "0.0 R1.2 low\n2.0 R1.2 high pulled\n");
}

TEST(Resistor, WithAnOpenEndPullsNothing) {
  Bench bench(r("R1", "4.7 kOhm"), R"(["R1.1", "CPU.NMI"])");
  EXPECT_EQ(bench.level("R1.1"), "floating");
  EXPECT_EQ(bench.level("R1.2"), "floating");
}

TEST(Resistor, KeepsItsValueWhenPowerComesBack) {
  Bench bench(r("R1", "1 kOhm") + ", " + r("R2", "1 kOhm"), R"(["+5V", "R1.1"], ["R1.2", "R2.1"], ["R2.2", "GND"])");
  bench.machine.power_cycle();
  EXPECT_EQ(microvolts(bench, "R1.2"), 2'500'000);
}

}  // namespace
}  // namespace prewire::testing
