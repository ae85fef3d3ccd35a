// 74LS240, 74LS244: function tables and pin assignments of TI, The TTL Data Book (from memory).
#include <array>

#include "truth_table.h"

namespace prewire::testing {
namespace {

constexpr const char* kInputs = R"(["U1.1A1..1A4", "IN.P0..P3"], ["U1.2A1..2A4", "IN.P4..P7"])";

std::string in(int value) {
  return fmt::format(R"("IN": {{"type": "stimulus", "high": {}, "low": {}}})", value, value ^ 0xFF);
}

/// A buffer off the bus: A on IN, 1G and 2G on CTL.P0 and P1.
class WiredBuffer : public Bench {
 public:
  WiredBuffer(int value, int groups_off)
      : Bench(fmt::format(R"("U1": {{"type": "74ls244"}}, {}, "CTL": {{"type": "stimulus", "high": {}, "low": {}}})",
                          in(value), groups_off, groups_off ^ 3),
              fmt::format(R"({}, ["U1.1G", "CTL.P0"], ["U1.2G", "CTL.P1"], ["U1.1Y1", "CTL.P7"])", kInputs)) {}

  /// Y as a word of 1, 0, Z from 2Y4 to 1Y1.
  std::string y() {
    std::string text;
    for (const char* pin : {"2Y4", "2Y3", "2Y2", "2Y1", "1Y4", "1Y3", "1Y2", "1Y1"}) {
      const std::string at = level(fmt::format("U1.{}", pin));
      text += at == "high" ? '1' : at == "low" ? '0' : 'Z';
    }
    return text;
  }
};

TEST(OctalBuffer, FunctionTable) {
  // G L: Y = A. G H: Z. The groups are independent.
  EXPECT_EQ(WiredBuffer(0xA6, 0).y(), "10100110");
  EXPECT_EQ(WiredBuffer(0xA6, 1).y(), "1010ZZZZ");
  EXPECT_EQ(WiredBuffer(0xA6, 2).y(), "ZZZZ0110");
  EXPECT_EQ(WiredBuffer(0xA6, 3).y(), "ZZZZZZZZ");
}

TEST(OctalBuffer, FunctionTablesInFull) {
  const std::string inputs = "#G #A1 #A2 #A3 #A4", outputs = "#Y1 #Y2 #Y3 #Y4";
  TruthTable straight{"74ls244", inputs, outputs, {"HXXXX ZZZZ"}, "12"};
  TruthTable inverting{"74ls240", inputs, outputs, {"HXXXX ZZZZ"}, "12"};
  for (int value = 0; value < 16; ++value) {
    std::string same, other;
    for (int bit = 0; bit < 4; ++bit) {
      same += value >> bit & 1 ? 'H' : 'L';
      other += value >> bit & 1 ? 'L' : 'H';
    }
    straight.rows.push_back(fmt::format("L{} {}", same, same));
    inverting.rows.push_back(fmt::format("L{} {}", same, other));
  }
  expect_table(straight);
  expect_table(inverting);
}

TEST(OctalBuffer, InvertingInputPort) {
  Bench bench(fmt::format(R"("U1": {{"type": "74ls240", "at": "$6000"}}, {})", in(0xA6)), kInputs);
  EXPECT_EQ(bench.read(0x6000), 0x59);
  EXPECT_EQ(bench.machine.peek(0x6000), 0x59);
}

TEST(OctalBuffer, EachOutputFollowsItsOwnInput) {
  for (int bit = 0; bit < 8; ++bit) {
    std::string expected = "00000000";
    expected[static_cast<std::size_t>(7 - bit)] = '1';
    EXPECT_EQ(WiredBuffer(1 << bit, 0).y(), expected);
  }
}

TEST(OctalBuffer, EdgesAsTheyCome) {
  WiredBuffer bench(0x01, 2);
  History history;
  bench.machine.watch(history);
  history.restart(bench.machine.now());
  bench.machine.schedule("IN", "P1 high", stamp_of(bench.machine.now()) + 3);
  bench.machine.schedule("IN", "P4 high", stamp_of(bench.machine.now()) + 5);
  bench.idle(2);
  bench.machine.set("CTL", "P1 low");
  bench.idle(2);
  bench.machine.set("CTL", "P0 high");
  EXPECT_EQ(history.take(),
            "0.3 U1.1A2 high\n0.3 U1.1Y2 high\n"
            "1.1 U1.2A1 high\n"
            "2.0 U1.2G low\n2.0 U1.2Y4 low\n2.0 U1.2Y3 low\n2.0 U1.2Y2 low\n2.0 U1.2Y1 high\n"
            "4.0 U1.1G high\n4.0 U1.1Y4 floating\n4.0 U1.1Y3 floating\n4.0 U1.1Y2 floating\n4.0 U1.1Y1 floating\n");
}

TEST(OctalBuffer, InputPortOnTheBus) {
  Bench bench(fmt::format(R"("U1": {{"type": "74ls244", "at": "$6000"}}, {})", in(0xA6)), kInputs);
  EXPECT_EQ(bench.remarks(), "no-reset-vector\n");
  EXPECT_EQ(bench.machine.peek(0x6000), 0xA6);
  EXPECT_EQ(bench.read(0x6000), 0xA6);
  for (int bit = 0; bit < 8; ++bit) {
    // 1A1 is D0, 2A4 is D7.
    const bool up = (0xA6 >> bit & 1) == 0;
    bench.machine.set("IN", fmt::format("P{} {}", bit, up ? "high" : "low"));
    EXPECT_EQ(bench.read(0x6000), 0xA6 ^ (1 << bit));
    bench.machine.set("IN", fmt::format("P{} {}", bit, up ? "low" : "high"));
  }
  EXPECT_EQ(bench.findings(), "");
}

TEST(OctalBuffer, InputIsSeenAtTheEndOfTheCycle) {
  // The data bus shows the pins while the strobe lasts; the processor takes it at the fall of E.
  for (const auto& [quarter, expected] : {std::pair(15, 0x01), std::pair(16, 0x00)}) {
    Bench bench(fmt::format(R"("U1": {{"type": "74ls244", "at": "$6000"}}, {})", in(0x00)), kInputs);
    bench.machine.schedule("IN", "P0 high", stamp_of(bench.machine.now()) + quarter);
    EXPECT_EQ(bench.read(0x6000), expected) << quarter;
    EXPECT_EQ(bench.read(0x6000), 0x01);
  }
}

TEST(OctalBuffer, FloatingInputReadsOne) {
  Bench bench(fmt::format(R"("U1": {{"type": "74ls244", "at": "$6000"}}, {})", in(0x00)), kInputs);
  bench.machine.set("IN", "P7 open");
  EXPECT_EQ(bench.machine.peek(0x6000), 0x80);
  EXPECT_EQ(bench.findings(), "") << "looking must not count";
  EXPECT_EQ(bench.read(0x6000), 0x80);
  EXPECT_EQ(bench.read(0x6000), 0x80);
  ASSERT_EQ(bench.findings(), "floating-input 2\n");
  EXPECT_EQ(bench.machine.findings()[0].message, "U1.2A4 was read while nobody drives it; it read as 1");
  bench.machine.set("IN", "P0 1.4 V");
  EXPECT_EQ(bench.read(0x6000), 0x81);
  EXPECT_EQ(bench.findings(), "floating-input 3\nuncertain-input 1\n");
}

TEST(OctalBuffer, InputThatFloatsForLongIsReportedWhileItDrives) {
  WiredBuffer bench(0x00, 3);
  bench.machine.set("IN", "P0 open");
  bench.wait(10'010);
  EXPECT_EQ(bench.findings(), "") << "the group is off";
  bench.machine.set("CTL", "P0 low");
  EXPECT_EQ(bench.y(), "ZZZZ0001");
  bench.wait(9'990);
  EXPECT_EQ(bench.findings(), "");
  bench.wait(20);
  EXPECT_EQ(bench.findings(), "floating-input 1\n");
}

TEST(OctalBuffer, PortCannotBeWritten) {
  Bench bench(fmt::format(R"("U1": {{"type": "74ls244", "at": "$6000"}}, {})", in(0xA6)), kInputs);
  bench.write(0x6000, 0x00);
  EXPECT_EQ(bench.read(0x6000), 0xA6);
  EXPECT_EQ(bench.findings(), "unmapped-write 1\n");
}

TEST(OctalBuffer, ContinuesFromASavedState) {
  WiredBuffer bench(0x00, 0);
  const Snapshot state = bench.machine.save();
  bench.machine.set("IN", "P3 high");
  bench.machine.set("CTL", "P1 high");
  EXPECT_EQ(bench.y(), "ZZZZ1000");
  bench.machine.restore(state);
  EXPECT_EQ(bench.y(), "00000000");
  bench.machine.set("IN", "P4 high");
  EXPECT_EQ(bench.y(), "00010000");
}

TEST(OctalBuffer, Package) {
  constexpr std::array kPins{"1G",  "1A1", "2Y4", "1A2", "2Y3", "1A3", "2Y2", "1A4", "2Y1", "GND",
                             "2A1", "1Y4", "2A2", "1Y3", "2A3", "1Y2", "2A4", "1Y1", "2G",  "VCC"};
  const Registry registry = standard_chips();
  for (const char* name : {"74ls240", "74ls244"}) {
    const ChipType& type = *registry.find(name);
    ASSERT_EQ(type.pins.size(), kPins.size());
    for (std::size_t i = 0; i < kPins.size(); ++i) {
      EXPECT_EQ(type.pins[i].number, i + 1);
      EXPECT_EQ(type.pins[i].name, kPins[i]);
    }
  }
}

TEST(OctalBuffer, ExampleInTheDocs) { EXPECT_EQ(check_docs_example("octal-buffer.md"), "no-reset-vector\n"); }

}  // namespace
}  // namespace prewire::testing
