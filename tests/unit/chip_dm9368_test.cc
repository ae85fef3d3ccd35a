// DM9368 against the Fairchild DM9368 data sheet; the shapes of the digits are from memory, but for A b C d E F.
#include "machine_fixture.h"

namespace prewire::testing {
namespace {

/// A decoder under a hand, with a display: P0 to P3 are A0 to A3, P4 is LE (low), P5 RBI (high), P6 RBO, which starts
/// open.
Bench driver(std::string_view parameters = R"(, "high": 32, "low": 31)", std::string_view more = "") {
  return Bench(fmt::format(R"("HAND": {{"type": "stimulus"{}}}, "U1": {{"type": "dm9368"}},
    "D": {{"type": "seven_segment"}})",
                           parameters),
               R"(["HAND.P0", "U1.A0"], ["HAND.P1", "U1.A1"], ["HAND.P2", "U1.A2"], ["HAND.P3", "U1.A3"],
    ["HAND.P4", "U1.LE"], ["HAND.P5", "U1.RBI"], ["HAND.P6", "U1.RBO"], ["U1.a", "D.a"], ["U1.b", "D.b"],
    ["U1.c", "D.c"], ["U1.d", "D.d"], ["U1.e", "D.e"], ["U1.f", "D.f"], ["U1.g", "D.g"], ["D.COM", "GND"])",
               more);
}

void enter(Bench& bench, unsigned digit) {
  for (int i = 0; i < 4; ++i) {
    bench.machine.set("HAND", fmt::format("P{} {}", i, (digit >> i & 1) != 0 ? "high" : "low"));
  }
}

unsigned lit(const Bench& bench) {
  unsigned bits = 0;
  for (const ChipView& chip : bench.machine.chips()) {
    if (chip.name != "D") continue;
    for (std::size_t i = 0; i < 8; ++i) bits |= chip.lamps[i].lit() ? 1U << i : 0;
  }
  return bits;
}

TEST(Dm9368, ShowsSixteenDigits) {
  Bench bench = driver();
  constexpr unsigned kShapes[] = {0x3F, 0x06, 0x5B, 0x4F, 0x66, 0x6D, 0x7D, 0x07,
                                  0x7F, 0x6F, 0x77, 0x7C, 0x39, 0x5E, 0x79, 0x71};
  std::string text;
  for (unsigned digit = 0; digit < 16; ++digit) {
    enter(bench, digit);
    EXPECT_EQ(lit(bench), kShapes[digit]) << digit;
    EXPECT_EQ(bench.level("U1.RBO"), "high");
    text += bench.machine.display("display");
  }
  EXPECT_EQ(text, "0123456789AbCdEF");
}

TEST(Dm9368, HoldsTheDigitWhileLeIsHigh) {
  // Fairchild data sheet: transparent while LE is low, latched as it rises.
  Bench bench = driver();
  enter(bench, 3);
  bench.machine.set("HAND", "P4 high");
  enter(bench, 8);
  EXPECT_EQ(bench.machine.display("display"), "3");
  bench.machine.set("HAND", "P4 low");
  EXPECT_EQ(bench.machine.display("display"), "8");
}

TEST(Dm9368, BlanksAStoredZeroOnly) {
  // Fairchild data sheet: RBI low blanks the stored 0, and RBO goes low.
  Bench bench = driver();
  bench.machine.set("HAND", "P5 low");
  EXPECT_EQ(lit(bench), 0U);
  EXPECT_EQ(bench.level("U1.RBO"), "low");
  bench.machine.set("HAND", "P4 high");
  enter(bench, 7);
  EXPECT_EQ(lit(bench), 0U) << "the 0 is still stored";
  bench.machine.set("HAND", "P4 low");
  EXPECT_EQ(bench.machine.display("display"), "7");
  EXPECT_EQ(bench.level("U1.RBO"), "high");
  bench.machine.set("HAND", "P5 high");
  enter(bench, 0);
  EXPECT_EQ(bench.machine.display("display"), "0");
}

TEST(Dm9368, RboHeldLowBlanksAnything) {
  Bench bench = driver();
  enter(bench, 5);
  bench.machine.set("HAND", "P6 sinking");
  EXPECT_EQ(lit(bench), 0U);
  bench.machine.set("HAND", "P6 open");
  EXPECT_EQ(bench.machine.display("display"), "5");
}

TEST(Dm9368, TheWholeHistoryOfADigit) {
  // From 1 to 7: a current source for segment a comes on. What it does not feed it lets go of.
  Bench bench = driver();
  enter(bench, 1);
  History history;
  bench.machine.watch(history);
  history.restart(bench.machine.now());
  bench.machine.set("HAND", "P1 high");  // 1 to 3
  bench.machine.run_for(2);
  bench.machine.set("HAND", "P2 high");  // 3 to 7
  EXPECT_EQ(history.take(),
            "0.0 HAND.P1 high\n"
            "0.0 U1.a high\n"
            "0.0 U1.d high\n"
            "0.0 U1.g high\n"
            "2.0 HAND.P2 high\n"
            "2.0 U1.d floating\n"
            "2.0 U1.g floating\n");
}

TEST(Dm9368, CannotLightACommonAnode) {
  // Its outputs are current sources: they cannot sink.
  Bench bench(
      R"("U1": {"type": "dm9368"}, "D": {"type": "seven_segment", "common": "anode"})",
      R"(["U1.A0", "U1.A1", "U1.A2", "U1.A3", "U1.LE", "GND"], ["U1.a", "D.a"], ["U1.b", "D.b"], ["U1.c", "D.c"],
    ["U1.d", "D.d"], ["U1.e", "D.e"], ["U1.f", "D.f"], ["U1.g", "D.g"], ["D.COM", "+5V"])");
  EXPECT_EQ(lit(bench), 0U);
}

TEST(Dm9368, HoldsSomethingAtPowerOnAndTheSameForTheSameSeed) {
  const auto shown = [](int seed) {
    return driver(R"(, "high": 48, "low": 15)", fmt::format(R"("seed": {})", seed)).machine.display("display");
  };
  EXPECT_EQ(shown(5), shown(5));
  std::string all;
  for (int seed = 1; seed < 8; ++seed) all += shown(seed);
  EXPECT_NE(all.find_first_not_of(all[0]), std::string::npos) << all;
}

TEST(Dm9368, OpenInputsReadOneAndAreToldOfAfterAWhile) {
  Bench bench = driver();
  enter(bench, 4);
  bench.machine.set("HAND", "P1 open");
  EXPECT_EQ(bench.machine.display("display"), "6");
  bench.machine.run_for(9'000);
  EXPECT_EQ(bench.findings(), "");
  bench.machine.run_for(2'000);
  EXPECT_EQ(bench.findings(), "floating-input 1\n");
}

TEST(Dm9368, OpenInputsAreToldOfWhileTheLatchIsShut) {
  Bench bench = driver();
  bench.machine.set("HAND", "P4 high");
  bench.machine.run_for(10);
  enter(bench, 5);  // of changes like these a shut latch hears no more
  bench.machine.set("HAND", "P0 open");
  bench.machine.run_for(11'000);
  EXPECT_EQ(bench.findings(), "floating-input 1\n");
}

TEST(Dm9368, DataThatMoveAsTheLatchShutsAreToldOfInAnyOrder) {
  for (const bool latch_first : {false, true}) {
    Bench bench = driver();
    bench.machine.run_for(10);
    bench.machine.set("HAND", latch_first ? "P4 high" : "P0 high");
    EXPECT_EQ(bench.findings(), "");
    bench.machine.set("HAND", latch_first ? "P0 high" : "P4 high");
    EXPECT_EQ(bench.findings(), "latch-setup 1\n");
  }
}

TEST(Dm9368, PinsAreNumberedAsInTheDataSheet) {
  // From memory of the Fairchild data sheet.
  const Registry& registry = bench_registry();
  std::string text;
  for (const PinSpec& pin : registry.find("dm9368")->pins) text += fmt::format("{} {}, ", pin.number, pin.name);
  EXPECT_EQ(text,
            "1 A1, 2 A2, 3 LE, 4 RBO, 5 RBI, 6 A3, 7 A0, 8 GND, 9 e, 10 d, 11 c, 12 b, 13 a, 14 g, 15 f, 16 VCC, ");
}

TEST(Dm9368, HearsItsDataAgainAfterARestore) {
  Bench bench = driver();
  const Snapshot open = bench.machine.save();
  bench.machine.set("HAND", "P4 high");
  bench.machine.run_for(10);
  enter(bench, 3);
  bench.machine.restore(open);
  enter(bench, 6);
  EXPECT_EQ(bench.machine.display("display"), "6");
}

TEST(Dm9368, IsSavedWithTheMachine) {
  Bench bench = driver();
  enter(bench, 9);
  bench.machine.set("HAND", "P4 high");
  enter(bench, 2);
  const Snapshot saved = bench.machine.save();
  bench.machine.set("HAND", "P4 low");
  EXPECT_EQ(bench.machine.display("display"), "2");
  bench.machine.restore(saved);
  EXPECT_EQ(bench.machine.display("display"), "9");
  bench.machine.set("HAND", "P5 low");
  EXPECT_EQ(bench.machine.display("display"), "9") << "the latch came back, not only what it showed";
}

}  // namespace
}  // namespace prewire::testing
