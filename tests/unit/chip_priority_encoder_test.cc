// 74LS148: function table and pin assignment of TI, The TTL Data Book; pin numbers also against the symbols of Debian's
// kicad-symbols 6.0.10.
#include "truth_table.h"

namespace prewire::testing {
namespace {

TEST(PriorityEncoder, FunctionTable) {
  expect_table({"74ls148",
                "EI I0 I1 I2 I3 I4 I5 I6 I7",
                "A2 A1 A0 GS EO",
                {"H XXXXXXXX HHH H H",  // off
                 "L HHHHHHHH HHH H L",  // nobody asks
                 "L XXXXXXXL LLL L H", "L XXXXXXLH LLH L H", "L XXXXXLHH LHL L H", "L XXXXLHHH LHH L H",
                 "L XXXLHHHH HLL L H", "L XXLHHHHH HLH L H", "L XLHHHHHH HHL L H", "L LHHHHHHH HHH L H"}});
}

TEST(PriorityEncoder, Package) {
  EXPECT_EQ(package_text("74ls148"),
            "1 I4, 2 I5, 3 I6, 4 I7, 5 EI, 6 A2, 7 A1, 8 GND, 9 A0, 10 I0, 11 I1, 12 I2, 13 I3, 14 GS, 15 EO, 16 VCC");
}

TEST(PriorityEncoder, TwoInARowMakeSixteenLines) {
  // TI, The TTL Data Book, typical application: EO of the upper one is EI of the lower one.
  Bench bench(R"("U1": {"type": "74ls148"}, "U2": {"type": "74ls148"}, "HIGH": {"type": "stimulus", "high": 255},
                 "LOW": {"type": "stimulus", "high": 255})",
              R"(["HIGH.P0..P7", "U1.I0..I7"], ["LOW.P0..P7", "U2.I0..I7"], ["U1.EI", "GND"], ["U1.EO", "U2.EI"])");
  EXPECT_EQ(bench.level("U2.EO"), "low");
  bench.machine.set("LOW", "P2 low");
  EXPECT_EQ(bench.level("U2.GS"), "low");
  EXPECT_EQ(bench.level("U2.A1"), "low");
  bench.machine.set("HIGH", "P5 low");
  EXPECT_EQ(bench.level("U1.GS"), "low");
  EXPECT_EQ(bench.level("U2.GS"), "high");
  EXPECT_EQ(bench.level("U1.A1"), "high");
  EXPECT_EQ(bench.level("U1.A2"), "low");
}

TEST(PriorityEncoder, ExampleInTheDocs) { EXPECT_EQ(check_docs_example("priority-encoder.md"), "no-reset-vector\n"); }

}  // namespace
}  // namespace prewire::testing
