// 74LS125, 74LS126, 74LS245: function tables and pin assignments of TI, The TTL Data Book; pin numbers also against the
// symbols of Debian's kicad-symbols 6.0.10.
#include "truth_table.h"

namespace prewire::testing {
namespace {

TEST(BusBuffer, FunctionTables) {
  expect_table({"74ls125", "#OE #A", "#Y", {"L L L", "L H H", "H X Z"}, "1234"});
  expect_table({"74ls126", "#OE #A", "#Y", {"H L L", "H H H", "L X Z"}, "1234"});
}

/// A transceiver with hands on both sides: CTL.P0 is DIR, CTL.P1 is G.
Bench transceiver(int control) {
  return Bench(fmt::format(R"("U1": {{"type": "74ls245"}}, "A": {{"type": "stimulus"}}, "B": {{"type": "stimulus"}},
                 "CTL": {{"type": "stimulus", "high": {}, "low": {}}})",
                           control, control ^ 3),
               R"(["A.P0..P7", "U1.A1..A8"], ["B.P0..P7", "U1.B1..B8"], ["CTL.P0", "U1.DIR"], ["CTL.P1", "U1.G"])");
}

std::string side(Bench& bench, char which) {
  std::string text;
  for (int i = 8; i > 0; --i) {
    const std::string level = bench.level(fmt::format("U1.{}{}", which, i));
    text += level == "high" ? '1' : level == "low" ? '0' : 'Z';
  }
  return text;
}

// Function table: G L, DIR L: B to A; G L, DIR H: A to B; G H: isolated.
TEST(BusBuffer, TransceiverPassesEveryByteTheWayThatDirSays) {
  for (const int dir : {0, 1}) {
    Bench bench = transceiver(dir);
    const char* from = dir == 1 ? "A" : "B";
    const char to = dir == 1 ? 'B' : 'A';
    unsigned now = 0x100;  // nothing yet
    for (unsigned value = 0; value < 256; ++value) {
      for (int bit = 0; bit < 8; ++bit) {
        if (now != 0x100 && ((now ^ value) >> bit & 1) == 0) continue;
        bench.machine.set(from, fmt::format("P{} {}", bit, value >> bit & 1 ? "high" : "low"));
      }
      now = value;
      EXPECT_EQ(side(bench, to), fmt::format("{:08b}", value)) << "DIR " << dir;
    }
    EXPECT_EQ(bench.findings(), "");
    bench.machine.set("CTL", "P1 high");
    EXPECT_EQ(side(bench, to), "ZZZZZZZZ");
  }
}

TEST(BusBuffer, TransceiverTurnsRoundWithoutAFight) {
  Bench bench = transceiver(1);
  bench.machine.set("A", "P0 low");
  EXPECT_EQ(bench.level("U1.B1"), "low");
  bench.machine.set("CTL", "P1 high");
  bench.machine.set("A", "P0 open");
  bench.machine.set("CTL", "P0 low");
  bench.machine.set("B", "P0 high");
  bench.machine.set("CTL", "P1 low");
  EXPECT_EQ(bench.level("U1.A1"), "high");
  EXPECT_EQ(bench.findings(), "");
}

TEST(BusBuffer, TransceiverAgainstAnOutputIsContention) {
  Bench bench = transceiver(1);
  bench.machine.set("A", "P3 high");
  bench.machine.set("B", "P3 low");
  EXPECT_NE(bench.findings().find("contention"), std::string::npos) << bench.findings();
}

TEST(BusBuffer, Packages) {
  for (const char* type : {"74ls125", "74ls126"}) {
    EXPECT_EQ(package_text(type),
              "1 1OE, 2 1A, 3 1Y, 4 2OE, 5 2A, 6 2Y, 7 GND, 8 3Y, 9 3A, 10 3OE, 11 4Y, 12 4A, 13 4OE, 14 VCC");
  }
  EXPECT_EQ(package_text("74ls245"),
            "1 DIR, 2 A1, 3 A2, 4 A3, 5 A4, 6 A5, 7 A6, 8 A7, 9 A8, 10 GND, 11 B8, 12 B7, 13 B6, 14 B5, 15 B4, 16 B3, "
            "17 B2, 18 B1, 19 G, 20 VCC");
}

TEST(BusBuffer, ExampleInTheDocs) { EXPECT_EQ(check_docs_example("bus-buffer.md"), "no-reset-vector\n"); }

}  // namespace
}  // namespace prewire::testing
