// The seven-segment digit: which segments light, for how long, and what a person reads.
#include "machine_fixture.h"

namespace prewire::testing {
namespace {

/// A digit whose segments a to g and dp are P0 to P7 of a hand, and COM is P0 of another.
Bench digit(std::string_view parameters = "") {
  return Bench(fmt::format(R"("HAND": {{"type": "stimulus"}}, "SIDE": {{"type": "stimulus"}},
    "D": {{"type": "seven_segment"{}{}}})",
                           parameters.empty() ? "" : ", ", parameters),
               R"(["HAND.P0", "D.a"], ["HAND.P1", "D.b"], ["HAND.P2", "D.c"], ["HAND.P3", "D.d"], ["HAND.P4", "D.e"],
    ["HAND.P5", "D.f"], ["HAND.P6", "D.g"], ["HAND.P7", "D.dp"], ["SIDE.P0", "D.COM"])");
}

const ChipView& view(const std::vector<ChipView>& chips) {
  for (const ChipView& chip : chips) {
    if (chip.name == "D") return chip;
  }
  std::abort();
}

/// The lit segments, a bit each.
unsigned lit(const Bench& bench) {
  unsigned bits = 0;
  const std::vector<ChipView> chips = bench.machine.chips();
  for (std::size_t i = 0; i < 8; ++i) bits |= view(chips).lamps[i].lit() ? 1U << i : 0;
  return bits;
}

void show(Bench& bench, unsigned pattern) {
  for (int i = 0; i < 8; ++i) {
    bench.machine.set("HAND", fmt::format("P{} {}", i, (pattern >> i & 1) != 0 ? "high" : "low"));
  }
}

/// What the display shows for each pattern, in the order of the patterns.
std::string readings(std::string_view parameters, std::initializer_list<unsigned> patterns) {
  Bench bench = digit(parameters);
  bench.machine.set("SIDE", "P0 low");
  std::string text;
  for (const unsigned pattern : patterns) {
    show(bench, pattern);
    EXPECT_EQ(lit(bench), pattern);
    text += bench.machine.display("display");
  }
  return text;
}

TEST(SevenSegment, ReadsHexDigitsOfTheUsualFont) {
  // Common practice: bit 0 is segment a. The letters are A b C d E F.
  EXPECT_EQ(
      readings("", {0x3F, 0x06, 0x5B, 0x4F, 0x66, 0x6D, 0x7D, 0x07, 0x7F, 0x6F, 0x77, 0x7C, 0x39, 0x5E, 0x79, 0x71}),
      "0123456789AbCdEF");
}

TEST(SevenSegment, ReadsDigitsWithoutTails) {
  // National 74LS48 data sheet: 6 and 9 have no tails. A hex font needs that pattern for b.
  EXPECT_EQ(readings(R"("reads": "decimal")", {0x7C, 0x67, 0x7D, 0x6F}), "6969");
  EXPECT_EQ(readings(R"("reads": "hex")", {0x7C, 0x67, 0x7D, 0x6F}), "b969");
}

TEST(SevenSegment, ReadsOtherSignsOfTheTrade) {
  // Common practice.
  EXPECT_EQ(readings("", {0x00, 0x40, 0x27, 0x58, 0x76, 0x38, 0x54, 0x5C, 0x73, 0x50, 0x78, 0x3E}), " -7cHLnoPrtU");
}

TEST(SevenSegment, ReadsNothingIntoOtherPatterns) {
  // National 74LS48 data sheet: 10 to 14 give 58, 4C, 62, 69, 78. Two of them happen to be the letters c and t.
  EXPECT_EQ(readings("", {0x4C, 0x62, 0x69, 0x01, 0x08, 0x49, 0x7E}), "???????");
}

TEST(SevenSegment, ReadsThePointBehindTheDigit) { EXPECT_EQ(readings("", {0xE6, 0x80, 0xFF, 0x81}), "4. .8.?."); }

TEST(SevenSegment, ShowsAllPatterns) {
  Bench bench = digit();
  bench.machine.set("SIDE", "P0 low");
  for (unsigned pattern = 0; pattern < 256; ++pattern) {
    show(bench, pattern);
    ASSERT_EQ(lit(bench), pattern);
  }
}

TEST(SevenSegment, WithACommonAnodeIsLitByLows) {
  Bench bench = digit(R"("common": "anode")");
  bench.machine.set("SIDE", "P0 high");
  show(bench, 0xFF & ~0x4FU);
  EXPECT_EQ(lit(bench), 0x4FU);
  EXPECT_EQ(bench.machine.display("display"), "3");
  bench.machine.set("SIDE", "P0 low");
  EXPECT_EQ(lit(bench), 0U);
}

TEST(SevenSegment, IsDarkWithoutItsCommonSide) {
  Bench bench = digit();
  show(bench, 0x7F);
  EXPECT_EQ(lit(bench), 0U);
  bench.machine.set("SIDE", "P0 low");
  EXPECT_EQ(lit(bench), 0x7FU);
  bench.machine.set("SIDE", "P0 high");
  EXPECT_EQ(lit(bench), 0U);
  bench.machine.set("SIDE", "P0 open");
  EXPECT_EQ(lit(bench), 0U);
}

TEST(SevenSegment, ASegmentThatFloatsIsDark) {
  Bench bench = digit();
  bench.machine.set("SIDE", "P0 low");
  show(bench, 0x06);
  bench.machine.set("HAND", "P1 open");
  EXPECT_EQ(lit(bench), 0x04U);
}

TEST(SevenSegment, NeedsItsForwardVoltage) {
  // Common practice: a red segment begins at 1.6 V. Both voltages below stay highs of logic.
  Bench bench = digit();
  bench.machine.set("SIDE", "P0 3.4 V");
  bench.machine.set("HAND", "P0 4.999 V");
  EXPECT_EQ(lit(bench), 0U);
  bench.machine.set("HAND", "P0 5 V");
  EXPECT_EQ(lit(bench), 0x01U);
  bench.machine.set("SIDE", "P0 3.5 V");
  EXPECT_EQ(lit(bench), 0U);
}

TEST(SevenSegment, SumsTheTimeThatASegmentIsLit) {
  // Two digits at 2 ms each would be half of the time; here segment a is on for 5 of 20 cycles, twice.
  Bench bench = digit();
  bench.machine.set("SIDE", "P0 low");
  const Stamp begin = stamp_of(bench.machine.now());
  for (const Stamp when : {20, 100}) {
    bench.machine.schedule("HAND", "P0 high", begin + when);
    bench.machine.schedule("HAND", "P0 low", begin + when + 20);
  }
  const auto time = [&](std::size_t lamp) {
    const std::vector<ChipView> chips = bench.machine.chips();
    return view(chips).lamps[lamp].lit_stamps(stamp_of(bench.machine.now()));
  };
  bench.machine.run_for(8);
  EXPECT_EQ(time(0), 12);  // still on
  bench.machine.run_for(32);
  EXPECT_EQ(time(0), 40);
  EXPECT_EQ(time(1), 0);
}

TEST(SevenSegment, StandsInTheGroupsOfTheDescription) {
  const auto groups = [](std::string_view chips, std::string_view more) {
    return Bench(chips, "", more).machine.displays();
  };
  const std::string_view two = R"("D10": {"type": "seven_segment"}, "D1": {"type": "seven_segment"})";
  using Names = std::vector<std::string>;
  EXPECT_EQ(groups(two, R"("display": {"LEVEL": ["D10"], "ALARM": ["D1"]})"), (Names{"LEVEL", "ALARM"}));
  EXPECT_EQ(groups(two, R"("display": {})"), Names{});
  EXPECT_EQ(groups(two, ""), Names{"display"});
  EXPECT_EQ(Bench(two).machine.display("display"), "  ");
  EXPECT_EQ(groups("", ""), Names{});
}

TEST(SevenSegment, IsSavedWithTheMachine) {
  Bench bench = digit();
  bench.machine.set("SIDE", "P0 low");
  show(bench, 0x5B);
  bench.machine.run_for(10);
  const Snapshot saved = bench.machine.save();
  show(bench, 0);
  bench.machine.run_for(10);
  bench.machine.restore(saved);
  EXPECT_EQ(bench.machine.display("display"), "2");
  EXPECT_EQ(bench.machine.save(), saved);
  bench.machine.power_cycle();
  EXPECT_EQ(lit(bench), 0U);
}

}  // namespace
}  // namespace prewire::testing
