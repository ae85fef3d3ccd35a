// Static RAMs: NTE2114 and NTE6810 data sheets, and the makers' pin assignments from memory where no other is named.
#include <map>

#include "machine_fixture.h"

namespace prewire::testing {
namespace {

constexpr const char* kLow = R"("LOW": {"type": "2114", "at": "$1000-$13FF", "data": "D0-D3"})";
constexpr const char* kHigh = R"("HIGH": {"type": "2114", "at": "$1000-$13FF", "data": "D4-D7"})";
constexpr const char* kPullUps = R"("bus": {"keeper": "ones"})";

/// The package as a data sheet draws it: names in the order of the pins.
std::string package(const ChipType& type) {
  std::vector<std::string> names(type.pins.size() + 1);
  for (const PinSpec& pin : type.pins) names.at(pin.number) = pin.name;
  std::string text;
  for (std::size_t i = 1; i < names.size(); ++i) text += (i > 1 ? " " : "") + names[i];
  return text;
}

TEST(StaticRam, PairOfNibblesMakesBytes) {
  // NTE2114: common I/O, data out has the polarity of data in.
  Bench bench(fmt::format("{}, {}", kLow, kHigh));
  for (const int value : {0x5A, 0xA5, 0x00, 0xFF}) {
    bench.write(0x1000, value);
    bench.write(0x13FF, value ^ 0xFF);
    EXPECT_EQ(bench.read(0x1000), value);
    EXPECT_EQ(bench.read(0x13FF), value ^ 0xFF);
  }
  EXPECT_EQ(bench.findings(), "");
}

TEST(StaticRam, MissingNibbleReadsAsTheBusKeeps) {
  // Derived: data lines that nobody drives show pull-ups, or the byte before.
  Bench without_high(kLow, "", kPullUps);
  without_high.write(0x1000, 0x5A);
  EXPECT_EQ(without_high.read(0x1000), 0xFA);
  ASSERT_EQ(without_high.findings(), "undriven-lines 1\n");
  EXPECT_EQ(without_high.machine.findings()[0].message,
            "read from $1000: nobody drives D7, D6, D5, D4; the bus shows $F0 there");

  Bench without_low(kHigh, "", kPullUps);
  without_low.write(0x1000, 0x5A);
  EXPECT_EQ(without_low.read(0x1000), 0x5F);
  EXPECT_EQ(without_low.findings(), "undriven-lines 1\n");

  Bench kept(kLow);
  kept.write(0x1000, 0x5A);
  EXPECT_EQ(kept.read(0x1000), 0x0A) << "the low byte of the address was on the lines just before";
}

TEST(StaticRam, Quarter2112) {
  Bench bench(
      R"("A": {"type": "2112", "at": "$1000-$10FF"}, "B": {"type": "2112", "at": "$1000-$10FF", "data": "D4-D7"})");
  bench.write(0x1000, 0xC3);
  bench.write(0x10FF, 0x3C);
  EXPECT_EQ(bench.read(0x1000), 0xC3);
  EXPECT_EQ(bench.read(0x10FF), 0x3C);
  EXPECT_EQ(bench.findings(), "");
}

TEST(StaticRam, PartialDecodingMakesAliases) {
  // Derived: an MCM6810 looks at A0-A6 only.
  Bench bench(R"("SMALL": {"type": "mcm6810", "at": "$2000-$207F", "mirror": "$2000-$3FFF"})");
  bench.write(0x2000, 0x12);
  EXPECT_EQ(bench.read(0x2080), 0x12);
  EXPECT_EQ(bench.read(0x3F80), 0x12);
  bench.write(0x3FFF, 0x34);
  EXPECT_EQ(bench.read(0x207F), 0x34);
  EXPECT_EQ(bench.read(0x2000), 0x12);
}

TEST(StaticRam, WholeRangeHoldsItsBytes) {
  // Each size against its address lines: no cell of a chip is the alias of another.
  const std::map<std::string, int> sizes{{"mcm6810", 128}, {"6116", 2048}, {"62256", 32768}};
  for (const auto& [type, size] : sizes) {
    SCOPED_TRACE(type);
    const int first = 0x1000;
    Bench bench(fmt::format(R"("CHIP": {{"type": "{}", "at": "${:04X}-${:04X}"}})", type, first, first + size - 1));
    for (int line = 1; line < size; line *= 2) bench.write(static_cast<std::uint16_t>(first + line), line % 251);
    bench.write(first, 0xEE);
    for (int line = 1; line < size; line *= 2) {
      EXPECT_EQ(bench.read(static_cast<std::uint16_t>(first + line)), line % 251) << line;
    }
    EXPECT_EQ(bench.read(first), 0xEE);
  }
}

TEST(StaticRam, PowerUpContents) {
  // Common practice: undefined; a machine file may choose.
  const auto bytes = [](const char* choice, int seed) {
    const Bench bench(fmt::format(R"("CHIP": {{"type": "mcm6810", "at": "$2000-$207F"{}}})", choice), "",
                      fmt::format(R"("seed": {})", seed));
    std::vector<int> cells;
    for (std::uint16_t address = 0x2000; address < 0x2080; ++address) cells.push_back(bench.machine.peek(address));
    return cells;
  };
  EXPECT_EQ(bytes(R"(, "power_up": "zeros")", 1), std::vector<int>(128, 0x00));
  EXPECT_EQ(bytes(R"(, "power_up": "ones")", 1), std::vector<int>(128, 0xFF));
  EXPECT_EQ(bytes("", 1), bytes(R"(, "power_up": "random")", 1));
  EXPECT_EQ(bytes("", 7), bytes("", 7));
  EXPECT_NE(bytes("", 1), bytes("", 7));
}

TEST(StaticRam, ReadBeforeTheFirstWriteIsReported) {
  Bench bench(R"("CHIP": {"type": "mcm6810", "at": "$2000-$207F", "power_up": "zeros"})");
  EXPECT_EQ(bench.read(0x2000), 0);
  EXPECT_EQ(bench.findings(), "uninitialised-read 1\n");
  bench.write(0x2000, 1);
  bench.read(0x2000);
  EXPECT_EQ(bench.findings(), "uninitialised-read 1\n");
}

TEST(StaticRam, Packages) {
  const std::map<std::string, std::string> expected{
      {"mcm6810", "GND D0 D1 D2 D3 D4 D5 D6 D7 CS0 CS1 CS2 CS3 CS4 CS5 R/W A6 A5 A4 A3 A2 A1 A0 VCC"},  // NTE6810
      {"6116", "A7 A6 A5 A4 A3 A2 A1 A0 D0 D1 D2 GND D3 D4 D5 D6 D7 CS A10 OE WE A9 A8 VCC"},
      {"62256", "A14 A12 A7 A6 A5 A4 A3 A2 A1 A0 D0 D1 D2 GND D3 D4 D5 D6 D7 CS A10 OE A11 A9 A8 A13 WE VCC"},
      {"2112", "A3 A2 A1 A0 A5 A6 A7 GND I/O1 I/O2 I/O3 I/O4 CE R/W A4 VCC"},
      {"2114", "A6 A5 A4 A3 A0 A1 A2 CS GND WE I/O4 I/O3 I/O2 I/O1 A9 A8 A7 VCC"}};  // NTE2114
  const Registry registry = standard_chips();
  for (const auto& [name, pins] : expected) {
    SCOPED_TRACE(name);
    const ChipType* type = registry.find(name);
    ASSERT_NE(type, nullptr);
    EXPECT_EQ(package(*type), pins);
    std::uint32_t words = 1, data = 0;
    for (const PinSpec& pin : type->pins) {
      if (pin.kind == PinKind::input && pin.name[0] == 'A') words *= 2;
      if (pin.kind == PinKind::three_state) ++data;
      EXPECT_EQ(pin.implied, pin.kind == PinKind::supply ? Implied::nothing : Implied::bus) << pin.name;
    }
    EXPECT_EQ(type->bus->size, words);
    EXPECT_EQ(data, type->bus->data_mask == 0xFF ? 8U : 4U);
  }
}

TEST(StaticRam, ExampleInTheDocs) { EXPECT_EQ(check_docs_example("static-ram.md"), "no-reset-vector\n"); }

// Breakpoints belong to who debugs: a state brings none of them and takes none away, whoever saved it.
TEST(StaticRam, KeepsBreakpointsThroughAState) {
  Bench saved("");
  saved.machine.set_breakpoint(0x0180, true);
  saved.machine.run_for(100);  // the loop in RAM has been executed, and is fast
  const Snapshot state = saved.machine.save();

  Bench bench("");
  bench.machine.set_breakpoint(Bench::kCode, true);
  bench.machine.restore(state);
  EXPECT_EQ(bench.machine.run_for(100).reason, StopReason::breakpoint);
  bench.machine.set_breakpoint(Bench::kCode, false);
  bench.machine.restore(state);
  EXPECT_EQ(bench.machine.run_for(100).reason, StopReason::limit);
}

}  // namespace
}  // namespace prewire::testing
