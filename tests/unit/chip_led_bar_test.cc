// A bar of ten LEDs: pin assignment as in the symbols of Debian's kicad-symbols 6.0.10.
#include "truth_table.h"

namespace prewire::testing {
namespace {

TEST(LedBar, Package) {
  EXPECT_EQ(package_text("led_bar"),
            "1 A1, 2 A2, 3 A3, 4 A4, 5 A5, 6 A6, 7 A7, 8 A8, 9 A9, 10 A10, 11 K10, 12 K9, 13 K8, 14 K7, 15 K6, 16 K5, "
            "17 K4, 18 K3, 19 K2, 20 K1");
}

TEST(LedBar, EachLedIsLitByItsOwnPins) {
  Bench bench(R"("BAR": {"type": "led_bar", "color": "green"}, "HAND": {"type": "stimulus", "high": 255},
                 "R1..R8": {"type": "resistor", "ohms": "1 kOhm"})",
              R"(["HAND.P0..P7", "BAR.K1..K8"], ["BAR.A1..A8", "R1..R8.1"], ["R1..R8.2", "+5V"])");
  const auto lit = [&] {
    std::string text;
    for (const ChipView& chip : bench.machine.chips()) {
      if (chip.type->name == "led" && chip.lamps[0].lit()) text += fmt::format("{} ", chip.name);
    }
    return text;
  };
  EXPECT_EQ(lit(), "");
  for (int i = 0; i < 8; ++i) {
    bench.machine.set("HAND", fmt::format("P{} low", i));
    EXPECT_EQ(lit(), fmt::format("BAR-{} ", i + 1));
    bench.machine.set("HAND", fmt::format("P{} high", i));
  }
  EXPECT_EQ(bench.remarks(), "no-reset-vector\n") << "two are spare";
}

TEST(LedBar, ExampleInTheDocs) { EXPECT_EQ(check_docs_example("led-bar.md"), "no-reset-vector\n"); }

}  // namespace
}  // namespace prewire::testing
