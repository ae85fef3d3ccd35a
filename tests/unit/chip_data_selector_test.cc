// 74LS257: function table and pin assignment of TI, The TTL Data Book; pin numbers also against the symbols of Debian's
// kicad-symbols 6.0.10.
#include "truth_table.h"

namespace prewire::testing {
namespace {

TEST(DataSelector, FunctionTable) {
  expect_table(
      {"74ls257", "OE S #A #B", "#Y", {"H X X X Z", "L L L X L", "L L H X H", "L H X L L", "L H X H H"}, "1234"});
}

TEST(DataSelector, Package) {
  EXPECT_EQ(package_text("74ls257"),
            "1 S, 2 1A, 3 1B, 4 1Y, 5 2A, 6 2B, 7 2Y, 8 GND, 9 3Y, 10 3B, 11 3A, 12 4Y, 13 4B, 14 4A, 15 OE, 16 VCC");
}

TEST(DataSelector, ExampleInTheDocs) { EXPECT_EQ(check_docs_example("data-selector.md"), "no-reset-vector\n"); }

}  // namespace
}  // namespace prewire::testing
