// The 59 opcodes that the MC6800 data sheet does not define (tests/data/cpu/mc6800-undefined-opcodes.csv; that the data
// sheet defines 197 was read on its page 22, which are missing in Summary-6800).
#include <gtest/gtest.h>

#include "conformance/mc6800_tables.h"
#include "cpu_fixture.h"

namespace prewire::testing {
namespace {

class Mc6800Undefined : public ::testing::TestWithParam<int> {
 protected:
  /// LDAA #1, INCA, the opcode.
  Mc6800Undefined() { bench.poke(CpuBench::kStart, {0x86, 0x01, 0x4C, static_cast<std::uint8_t>(GetParam())}); }

  void expect_stuck(const Stop& stop, Cycle start) {
    EXPECT_EQ(stop.reason, StopReason::undefined_opcode);
    EXPECT_EQ(stop.pc, kHere);
    EXPECT_EQ(stop.cycle, start + 2 + 2 + 1);  // after the fetch
    EXPECT_EQ(bench.machine.now(), stop.cycle);
    EXPECT_EQ(bench.registers().pc, kHere);
    EXPECT_EQ(bench.registers().a, 2);
    EXPECT_EQ(bench.machine.cpu().state(), CpuState::stuck);
  }

  static constexpr std::uint16_t kHere = CpuBench::kStart + 3;
  CpuBench bench;
};

TEST_P(Mc6800Undefined, StopsTheRun) {
  const Cycle start = bench.machine.now();
  expect_stuck(bench.machine.run_for(1000), start);
}

TEST_P(Mc6800Undefined, StopsEveryKindOfStep) {
  const Cycle start = bench.machine.now();
  const Snapshot snapshot = bench.machine.save();
  Stop stop;
  for (int i = 0; i < 5; ++i) stop = bench.machine.step_cycle();
  expect_stuck(stop, start);
  bench.machine.restore(snapshot);
  for (int i = 0; i < 3; ++i) stop = bench.machine.step_instruction();
  expect_stuck(stop, start);
}

TEST_P(Mc6800Undefined, LeavesOnlyReset) {
  bench.machine.run_for(1000);
  const Cycle stuck = bench.machine.now();
  EXPECT_EQ(bench.machine.run_for(10).reason, StopReason::undefined_opcode);
  EXPECT_EQ(bench.machine.step_instruction().reason, StopReason::undefined_opcode);
  EXPECT_EQ(bench.machine.now(), stuck);
  bench.poke(kHere, {0x20, 0xFE});
  bench.machine.reset();
  const Stop stop = bench.machine.run_for(100);
  EXPECT_EQ(stop.reason, StopReason::limit);
  EXPECT_EQ(stop.cycle, stuck + 100);
  EXPECT_EQ(bench.registers().a, 2);
  EXPECT_EQ(bench.machine.cpu().state(), CpuState::running);
}

TEST_P(Mc6800Undefined, ShowsTheWayThere) {
  bench.machine.run_for(1000);
  const std::vector<PastInstruction> way = bench.machine.way_here(10);
  ASSERT_EQ(way.size(), 4U);
  EXPECT_EQ(way[0].opcode, static_cast<int>(Entry::reset));
  EXPECT_EQ(way[1].text, "LDAA #$01");
  EXPECT_EQ(way[2].text, "INCA");
  EXPECT_EQ(way[3].text, fmt::format("FCB ${:02X}", GetParam()));
  EXPECT_EQ(way[3].pc, kHere);
  EXPECT_EQ(way[3].opcode, GetParam());
  EXPECT_EQ(way[3].cycle, bench.machine.now() - 1);
  EXPECT_EQ(bench.machine.cpu().state(), CpuState::stuck);
}

TEST_P(Mc6800Undefined, IsShownAsAByte) {
  const std::array<std::uint8_t, 3> code{static_cast<std::uint8_t>(GetParam()), 0x12, 0x34};
  const Disassembly line = disassemble("mc6800", 0x1000, code);
  EXPECT_FALSE(line.defined);
  EXPECT_EQ(line.bytes, 1);
  EXPECT_EQ(line.cycles, 0);
  EXPECT_EQ(line.text, fmt::format("FCB ${:02X}", GetParam()));
}

INSTANTIATE_TEST_SUITE_P(Table, Mc6800Undefined, ::testing::ValuesIn(undefined_opcodes()),
                         [](const auto& test) { return fmt::format("Opcode{:02X}", test.param); });

}  // namespace
}  // namespace prewire::testing
