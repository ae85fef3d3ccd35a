// Eight switches in a package: pin assignment as in the symbols of Debian's kicad-symbols 6.0.10.
#include "truth_table.h"

namespace prewire::testing {
namespace {

TEST(DipSwitch, Package) {
  EXPECT_EQ(package_text("dip_switch"),
            "1 1A, 2 2A, 3 3A, 4 4A, 5 5A, 6 6A, 7 7A, 8 8A, 9 8B, 10 7B, 11 6B, 12 5B, 13 4B, 14 3B, 15 2B, 16 1B");
}

TEST(DipSwitch, ContactsReadZeroWhereTheyAreClosed) {
  Bench bench(R"("PORT": {"type": "74ls244", "at": "$6000"}, "SW": {"type": "dip_switch", "closed": 5},
                 "PULL": {"type": "resistor_bussed_8", "ohms": "4.7 kOhm"})",
              R"(["PORT.1A1..1A4", "SW.1A..4A", "PULL.R1..R4"], ["PORT.2A1..2A4", "SW.5A..8A", "PULL.R5..R8"],
                 ["SW.1B..8B", "GND"], ["PULL.COM", "+5V"])");
  EXPECT_EQ(bench.read(0x6000), 0xFA);
  bench.machine.set("SW-1", "open");
  EXPECT_EQ(bench.read(0x6000), 0xFB) << "only 3 is ON";
  for (int i = 0; i < 8; ++i) bench.machine.set(fmt::format("SW-{}", i + 1), "closed");
  EXPECT_EQ(bench.read(0x6000), 0x00);
  bench.machine.set("SW-8", "open");
  EXPECT_EQ(bench.read(0x6000), 0x80);
  EXPECT_EQ(bench.findings(), "");
}

TEST(DipSwitch, ExampleInTheDocs) { EXPECT_EQ(check_docs_example("dip-switch.md"), "no-reset-vector\n"); }

}  // namespace
}  // namespace prewire::testing
