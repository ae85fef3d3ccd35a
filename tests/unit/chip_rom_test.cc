// EPROMs: ST M27C256B data sheet for what a cell does; pin assignments from memory of Intel's data sheets.
#include <map>

#include "machine_fixture.h"

namespace prewire::testing {
namespace {

TEST(Rom, BlankCellsReadOnes) {
  // M27C256B, "Programming": an erased EPROM holds ones.
  const std::map<std::string, int> sizes{{"2716", 0x800}, {"2732", 0x1000}, {"2764", 0x2000}, {"27256", 0x8000}};
  for (const auto& [type, size] : sizes) {
    SCOPED_TRACE(type);
    const int last = 0x1000 + size - 1;
    Bench bench(fmt::format(R"("CHIP": {{"type": "{}", "at": "$1000-${:04X}"}})", type, last));
    EXPECT_EQ(bench.read(0x1000), 0xFF);
    EXPECT_EQ(bench.read(static_cast<std::uint16_t>(last)), 0xFF);
    EXPECT_EQ(bench.findings(), "") << "a blank cell is no mistake by itself";
    EXPECT_TRUE(bench.machine.answering(static_cast<std::uint16_t>(last + 1)).empty());
  }
}

TEST(Rom, StoresHaveNoEffect) {
  Bench bench(R"("CHIP": {"type": "2716", "at": "$1000-$17FF"})");
  bench.poke(0x1234, "5A");
  bench.write(0x1234, 0xA5);
  EXPECT_EQ(bench.read(0x1234), 0x5A);
  ASSERT_EQ(bench.findings(), "rom-write 1\n");
  EXPECT_EQ(bench.machine.findings()[0].message, "$A5 written to $1234: CHIP cannot be written");
}

TEST(Rom, HoldsProgramAndVectors) {
  // A 2716 at the top of memory: reset vector at $FFFE (MC6800 data sheet), code from $F800.
  Bench bench("");
  bench.poke(0xF800, "86 42 97 10 20 FE");
  bench.poke(0xFFFE, "F8 00");
  bench.machine.reset();
  bench.machine.run_for(40);
  EXPECT_EQ(bench.machine.cpu().pc(), 0xF804);
  EXPECT_EQ(bench.machine.peek(0x0010), 0x42);
}

TEST(Rom, Packages) {
  const std::map<std::string, std::string> expected{
      {"2716", "A7 A6 A5 A4 A3 A2 A1 A0 O0 O1 O2 GND O3 O4 O5 O6 O7 CE/PGM A10 OE VPP A9 A8 VCC"},
      {"2732", "A7 A6 A5 A4 A3 A2 A1 A0 O0 O1 O2 GND O3 O4 O5 O6 O7 CE A10 OE/VPP A11 A9 A8 VCC"},
      {"2764", "VPP A12 A7 A6 A5 A4 A3 A2 A1 A0 O0 O1 O2 GND O3 O4 O5 O6 O7 CE A10 OE A11 A9 A8 NC PGM VCC"},
      {"27256", "VPP A12 A7 A6 A5 A4 A3 A2 A1 A0 O0 O1 O2 GND O3 O4 O5 O6 O7 CE A10 OE A11 A9 A8 A13 A14 VCC"}};
  const Registry registry = standard_chips();
  for (const auto& [name, pins] : expected) {
    SCOPED_TRACE(name);
    const ChipType* type = registry.find(name);
    ASSERT_NE(type, nullptr);
    std::string text;
    std::uint32_t words = 1, data = 0;
    for (std::size_t i = 0; i < type->pins.size(); ++i) {
      const PinSpec& pin = type->pins[i];
      EXPECT_EQ(pin.number, i + 1);
      text += (i > 0 ? " " : "") + std::string(pin.name);
      if (pin.kind == PinKind::input && pin.name[0] == 'A') words *= 2;
      if (pin.kind == PinKind::three_state) ++data;
    }
    EXPECT_EQ(text, pins);
    EXPECT_EQ(type->bus->size, words);
    EXPECT_EQ(data, 8U);
    EXPECT_FALSE(type->bus->writes);
  }
}

TEST(Rom, ExampleInTheDocs) { EXPECT_EQ(check_docs_example("rom.md"), "no-reset-vector\n"); }

}  // namespace
}  // namespace prewire::testing
