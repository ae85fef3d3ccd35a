// What M6809PM does not define: opcodes on three pages (table C-1, "undefined and illegal"), indexed postbytes (table
// 2-1), register pairs of TFR and EXG (appendix A). The run stops there.
#include <gtest/gtest.h>

#include "conformance/mc6809_tables.h"
#include "cpu_fixture.h"

namespace prewire::testing {
namespace {

class Mc6809Stuck {
 public:
  static constexpr std::uint16_t kHere = CpuBench::kStart + 3;

  Mc6809Stuck() : bench(CpuBench::mc6809()) {
    bench.poke(CpuBench::kStart, {0x86, 0x01, 0x4C});  // LDA #1; INCA
    bench.poke(0x2000, std::vector<std::uint8_t>(64, 0x55));
    registers_ = {0x00, 0x33, 0x2010, 0x2020, CpuBench::kStart, 0x0F, 0x2018, 0x2028, 0x20};
    bench.set(registers_);
    begin_ = bench.machine.save();
    start_ = bench.machine.now();
    registers_.a = 2;
    registers_.cc = 0x01;  // INCA clears N, Z and V
    registers_.pc = kHere;
  }

  /// Puts an instruction that has no meaning behind the two that have, of which `bytes` must be read to see that.
  void place(const std::vector<std::uint8_t>& code, int bytes) {
    bench.machine.restore(begin_);
    bench.poke(kHere, code);
    placed_ = bench.machine.save();
    bytes_ = bytes;
  }

  /// Runs it in every way.
  void expect_every_stop() {
    Stop stop;
    const std::vector<BusCycle> log = bench.log([&] { stop = bench.machine.run_for(1000); });
    expect_stuck(stop);
    ASSERT_EQ(static_cast<Cycle>(log.size()), 4 + bytes_);
    for (int i = 0; i < bytes_; ++i) {
      EXPECT_EQ(log[static_cast<std::size_t>(4 + i)].address, kHere + i);
      EXPECT_TRUE(log[static_cast<std::size_t>(4 + i)].rw);
    }
    bench.machine.restore(placed_);
    expect_stuck(bench.machine.run_for(1000));
    bench.machine.restore(placed_);
    for (int i = 0; i < 4 + bytes_; ++i) stop = bench.machine.step_cycle();
    expect_stuck(stop);
    bench.machine.restore(placed_);
    for (int i = 0; i < 3; ++i) stop = bench.machine.step_instruction();
    expect_stuck(stop);
    EXPECT_EQ(bench.machine.run_for(10).reason, StopReason::undefined_opcode);
    EXPECT_EQ(bench.machine.step_instruction().reason, StopReason::undefined_opcode);
    EXPECT_EQ(bench.machine.now(), start_ + 4 + bytes_);
  }

  void expect_stuck(const Stop& stop) {
    EXPECT_EQ(stop.reason, StopReason::undefined_opcode);
    EXPECT_EQ(stop.pc, kHere);
    EXPECT_EQ(stop.cycle, start_ + 4 + bytes_);
    EXPECT_EQ(bench.machine.now(), stop.cycle);
    EXPECT_EQ(bench.registers(), registers_);
    EXPECT_EQ(bench.machine.cpu().state(), CpuState::stuck);
  }

  /// The way out, and the way there.
  void expect_reset_to_help(int first_byte) {
    bench.machine.restore(placed_);
    bench.machine.run_for(1000);
    const std::vector<PastInstruction> way = bench.machine.way_here(10);
    ASSERT_EQ(way.size(), 3U);
    EXPECT_EQ(way[0].text, "LDA #$01");
    EXPECT_EQ(way[1].text, "INCA");
    EXPECT_EQ(way[2].text, fmt::format("FCB ${:02X}", first_byte));
    EXPECT_EQ(way[2].pc, kHere);
    EXPECT_EQ(bench.machine.cpu().state(), CpuState::stuck);
    const Cycle stuck = bench.machine.now();
    bench.poke(kHere, {0x20, 0xFE});  // BRA to itself
    bench.machine.reset();
    const Stop stop = bench.machine.run_for(100);
    EXPECT_EQ(stop.reason, StopReason::limit);
    EXPECT_EQ(stop.cycle, stuck + 100);
    EXPECT_EQ(bench.registers().a, 2);
    EXPECT_EQ(bench.machine.cpu().state(), CpuState::running);
  }

  CpuBench bench;

 private:
  CpuRegisters registers_;
  Snapshot begin_, placed_;
  Cycle start_ = 0;
  int bytes_ = 1;
};

class Mc6809UndefinedOpcode : public ::testing::TestWithParam<Mc6809Undefined> {};

TEST_P(Mc6809UndefinedOpcode, StopsEveryRun) {
  Mc6809Stuck stuck;
  for (const int opcode : GetParam().opcodes()) {
    SCOPED_TRACE(fmt::format("page {} opcode {:02X}", GetParam().page, opcode));
    std::vector<std::uint8_t> code{static_cast<std::uint8_t>(opcode), 0x12, 0x34};
    if (GetParam().page > 1) code.insert(code.begin(), GetParam().page == 2 ? 0x10 : 0x11);
    stuck.place(code, GetParam().page == 1 ? 1 : 2);
    stuck.expect_every_stop();
    const Disassembly line = disassemble("mc6809", 0x1000, code);
    EXPECT_FALSE(line.defined);
    EXPECT_EQ(line.bytes, 1);
    EXPECT_EQ(line.cycles, 0);
    EXPECT_EQ(line.text, fmt::format("FCB ${:02X}", code[0]));
    if (HasFailure()) return;
  }
  stuck.expect_reset_to_help(GetParam().page == 1 ? GetParam().opcode : GetParam().page == 2 ? 0x10 : 0x11);
}

INSTANTIATE_TEST_SUITE_P(Table, Mc6809UndefinedOpcode, ::testing::ValuesIn(mc6809_undefined_rows()),
                         [](const auto& test) { return test.param.name(); });

std::vector<Mc6809Postbyte> illegal_postbytes() {
  std::vector<Mc6809Postbyte> rows = mc6809_postbyte_rows();
  std::erase_if(rows, [](const Mc6809Postbyte& row) { return row.legal; });
  return rows;
}

class Mc6809UndefinedPostbyte : public ::testing::TestWithParam<Mc6809Postbyte> {};

TEST_P(Mc6809UndefinedPostbyte, StopsEveryRun) {
  Mc6809Stuck stuck;
  int first = 0;
  for (const Mc6809Row& row : mc6809_rows()) {
    if (!row.indexed()) continue;
    for (const std::uint8_t postbyte : GetParam().postbytes()) {
      SCOPED_TRACE(fmt::format("{} postbyte {:02X}", row.name(), postbyte));
      std::vector<std::uint8_t> code = row.code();
      first = code[0];
      code.insert(code.end(), {postbyte, 0x12, 0x34});
      stuck.place(code, static_cast<int>(row.code().size()) + 1);
      stuck.expect_every_stop();
      if (HasFailure()) return;
    }
  }
  stuck.expect_reset_to_help(first);
}

INSTANTIATE_TEST_SUITE_P(Table, Mc6809UndefinedPostbyte, ::testing::ValuesIn(illegal_postbytes()),
                         [](const auto& test) { return test.param.name(); });

class Mc6809UndefinedPair : public ::testing::TestWithParam<int> {};

TEST_P(Mc6809UndefinedPair, StopsEveryRun) {
  Mc6809Stuck stuck;
  const std::vector<int> words{0, 1, 2, 3, 4, 5}, bytes{8, 9, 10, 11};
  int legal = 0;
  for (int postbyte = 0; postbyte < 256; ++postbyte) {
    const auto both_in = [&](const std::vector<int>& codes) {
      const auto in = [&](int code) { return std::find(codes.begin(), codes.end(), code) != codes.end(); };
      return in(postbyte >> 4) && in(postbyte & 15);
    };
    if (both_in(words) || both_in(bytes)) {
      ++legal;
      continue;
    }
    SCOPED_TRACE(fmt::format("postbyte {:02X}", postbyte));
    stuck.place({static_cast<std::uint8_t>(GetParam()), static_cast<std::uint8_t>(postbyte), 0x12}, 2);
    stuck.expect_every_stop();
    if (HasFailure()) return;
  }
  EXPECT_EQ(legal, 36 + 16);
  stuck.expect_reset_to_help(GetParam());
}

INSTANTIATE_TEST_SUITE_P(M6809PM, Mc6809UndefinedPair, ::testing::Values(0x1E, 0x1F),
                         [](const auto& test) { return test.param == 0x1E ? "Exg" : "Tfr"; });

}  // namespace
}  // namespace prewire::testing
