// Resistor networks: pin assignments as in the symbols of Debian's kicad-symbols 6.0.10.
#include "truth_table.h"

namespace prewire::testing {
namespace {

TEST(ResistorNetwork, Packages) {
  EXPECT_EQ(package_text("resistor_bussed_8"), "1 COM, 2 R1, 3 R2, 4 R3, 5 R4, 6 R5, 7 R6, 8 R7, 9 R8");
  EXPECT_EQ(package_text("resistor_isolated_4"), "1 1A, 2 1B, 3 2A, 4 2B, 5 3A, 6 3B, 7 4A, 8 4B");
  EXPECT_EQ(package_text("resistor_isolated_8"),
            "1 1A, 2 2A, 3 3A, 4 4A, 5 5A, 6 6A, 7 7A, 8 8A, 9 8B, 10 7B, 11 6B, 12 5B, 13 4B, 14 3B, 15 2B, 16 1B");
}

std::int32_t microvolts(Bench& bench, const char* net) { return bench.machine.net(net)->microvolts; }

TEST(ResistorNetwork, ABussedOnePullsAllLines) {
  Bench bench(R"("RN": {"type": "resistor_bussed_8", "ohms": "10 kOhm"}, "HAND": {"type": "stimulus"})",
              R"(["HAND.P0..P7", "RN.R1..R8"], ["RN.COM", "+5V"])");
  for (int i = 0; i < 8; ++i) EXPECT_EQ(bench.level(fmt::format("HAND.P{}", i)), "high");
  bench.machine.set("HAND", "P3 low");
  EXPECT_EQ(bench.level("HAND.P3"), "low");
  EXPECT_EQ(bench.level("HAND.P4"), "high");
  EXPECT_EQ(bench.remarks(), "no-reset-vector\n");
}

TEST(ResistorNetwork, ABussedOneWithItsCommonOpenCouplesLines) {
  Bench bench(R"("RN": {"type": "resistor_bussed_8", "ohms": "10 kOhm"}, "HAND": {"type": "stimulus", "high": 1}, 
                 "R": {"type": "resistor", "ohms": "20 kOhm"})",
              R"(["HAND.P0", "RN.R1"], ["LINE", "RN.R2", "R.1"], ["R.2", "GND"])");
  // 5 V through 2 x 10 kOhm, and 20 kOhm to ground.
  EXPECT_EQ(microvolts(bench, "LINE"), 2'500'000);
  EXPECT_EQ(bench.remarks(), "no-reset-vector\nopen-end\n");
}

TEST(ResistorNetwork, IsolatedOnesAreSeparate) {
  Bench bench(
      R"("RN": {"type": "resistor_isolated_4", "ohms": "10 kOhm"})",
      R"(["RN.1A", "+5V"], ["MIDDLE", "RN.1B", "RN.2A"], ["RN.2B", "GND"], ["FREE", "RN.3A"], ["RN.3B", "+5V"])");
  EXPECT_EQ(microvolts(bench, "MIDDLE"), 2'500'000);
  EXPECT_EQ(bench.level("FREE"), "high");
  EXPECT_EQ(bench.remarks(), "no-reset-vector\nopen-end\n") << "RN-3 ends in the air";
}

TEST(ResistorNetwork, PartsHaveNamesAndPinsOfTheirOwn) {
  Bench bench(R"("RN": {"type": "resistor_isolated_8", "ohms": "1 kOhm"})",
              R"(["RN-1.1", "+5V"], ["LINE", "RN.1B"], ["OTHER", "RN-8.2", "RN.8A"], ["RN-8.1", "GND"])");
  EXPECT_EQ(bench.level("LINE"), "high");
  EXPECT_EQ(bench.level("OTHER"), "low");
}

TEST(ResistorNetwork, UnusedPackageIsOneHint) {
  Bench bench(R"("RN": {"type": "resistor_bussed_8", "ohms": "1 kOhm"})");
  EXPECT_EQ(bench.remarks(), "no-reset-vector\nidle-chip\n");
}

TEST(ResistorNetwork, ExampleInTheDocs) { EXPECT_EQ(check_docs_example("resistor-network.md"), "no-reset-vector\n"); }

}  // namespace
}  // namespace prewire::testing
