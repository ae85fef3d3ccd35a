// 74LS138, 74LS139, 74LS145, 74LS154: function tables and pin assignments of TI, The TTL Data Book; pin numbers also
// against the symbols of Debian's kicad-symbols 6.0.10.
#include "truth_table.h"

namespace prewire::testing {
namespace {

/// Rows in which one of the outputs is low, by the number of the inputs, the highest bit first.
std::vector<std::string> one_low(const std::string& enabled, int bits, int outputs, char high) {
  std::vector<std::string> rows;
  for (int number = 0; number < 1 << bits; ++number) {
    std::string row = enabled;
    for (int bit = bits; bit-- > 0;) row += number >> bit & 1 ? 'H' : 'L';
    row += std::string(static_cast<std::size_t>(outputs), high);
    if (number < outputs) row[row.size() - static_cast<std::size_t>(outputs - number)] = 'L';
    rows.push_back(row);
  }
  return rows;
}

TEST(LineDecoder, FunctionTableOf138) {
  std::vector<std::string> rows = one_low("HLL", 3, 8, 'H');
  rows.insert(rows.end(), {"LXX XXX HHHHHHHH", "XHX XXX HHHHHHHH", "XXH XXX HHHHHHHH"});
  expect_table({"74ls138", "G1 G2A G2B C B A", "Y0 Y1 Y2 Y3 Y4 Y5 Y6 Y7", rows});
}

TEST(LineDecoder, FunctionTableOf139) {
  std::vector<std::string> rows = one_low("L", 2, 4, 'H');
  rows.push_back("H XX HHHH");
  expect_table({"74ls139", "#G #B #A", "#Y0 #Y1 #Y2 #Y3", rows, "12"});
}

TEST(LineDecoder, FunctionTableOf145) {
  expect_table({"74ls145", "D C B A", "Y0 Y1 Y2 Y3 Y4 Y5 Y6 Y7 Y8 Y9", one_low("", 4, 10, 'Z')});
}

TEST(LineDecoder, FunctionTableOf154) {
  std::vector<std::string> rows = one_low("LL", 4, 16, 'H');
  rows.insert(rows.end(), {"HX XXXX HHHHHHHHHHHHHHHH", "XH XXXX HHHHHHHHHHHHHHHH"});
  expect_table({"74ls154", "G1 G2 D C B A", "Y0 Y1 Y2 Y3 Y4 Y5 Y6 Y7 Y8 Y9 Y10 Y11 Y12 Y13 Y14 Y15", std::move(rows)});
}

TEST(LineDecoder, Packages) {
  EXPECT_EQ(package_text("74ls138"),
            "1 A, 2 B, 3 C, 4 G2A, 5 G2B, 6 G1, 7 Y7, 8 GND, 9 Y6, 10 Y5, 11 Y4, 12 Y3, 13 Y2, 14 Y1, 15 Y0, 16 VCC");
  EXPECT_EQ(package_text("74ls139"),
            "1 1G, 2 1A, 3 1B, 4 1Y0, 5 1Y1, 6 1Y2, 7 1Y3, 8 GND, 9 2Y3, 10 2Y2, 11 2Y1, 12 2Y0, 13 2B, 14 2A, 15 2G, "
            "16 VCC");
  EXPECT_EQ(package_text("74ls145"),
            "1 Y0, 2 Y1, 3 Y2, 4 Y3, 5 Y4, 6 Y5, 7 Y6, 8 GND, 9 Y7, 10 Y8, 11 Y9, 12 D, 13 C, 14 B, 15 A, 16 VCC");
  EXPECT_EQ(package_text("74ls154"),
            "1 Y0, 2 Y1, 3 Y2, 4 Y3, 5 Y4, 6 Y5, 7 Y6, 8 Y7, 9 Y8, 10 Y9, 11 Y10, 12 GND, 13 Y11, 14 Y12, 15 Y13, "
            "16 Y14, 17 Y15, 18 G1, 19 G2, 20 D, 21 C, 22 B, 23 A, 24 VCC");
}

TEST(LineDecoder, TheWholeHistoryOfANewCode) {
  Bench bench(R"("U1": {"type": "74ls138"}, "HAND": {"type": "stimulus", "low": 7})",
              R"(["HAND.P0", "U1.A"], ["HAND.P1", "U1.B"], ["HAND.P2", "U1.C"], ["U1.G1", "+5V"],
                 ["U1.G2A", "U1.G2B", "GND"])");
  History history;
  bench.machine.watch(history);
  history.restart(bench.machine.now());
  bench.machine.set("HAND", "P2 high");
  EXPECT_EQ(history.take(), "0.0 U1.C high\n0.0 U1.Y4 low\n0.0 U1.Y0 high\n");
}

TEST(LineDecoder, ExampleInTheDocs) { EXPECT_EQ(check_docs_example("line-decoder.md"), "no-reset-vector\n"); }

}  // namespace
}  // namespace prewire::testing
