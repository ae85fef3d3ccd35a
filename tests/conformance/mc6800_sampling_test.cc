// When interrupt inputs are looked at: a request that is there at the end of the last cycle but one of an instruction
// is taken after it, one that comes with the end of its last cycle is not before the next instruction is over (MC6800
// data sheet p. 9: set up before phi2 of the cycle that precedes an opcode fetch; read in part).
#include <gtest/gtest.h>

#include <array>

#include "conformance/mc6800_model.h"
#include "conformance/mc6800_tables.h"
#include "cpu_fixture.h"

namespace prewire::testing {
namespace {

class Mc6800Sampling : public ::testing::TestWithParam<OpcodeRow> {
 protected:
  static constexpr CpuRegisters kBefore{0x25, 0xB2, 0x5000, 0x6000, 0x7000, 0xC0};

  struct Shared {
    Shared() {
      for (int at = 0; at < 65536; ++at) bench.machine.poke(static_cast<std::uint16_t>(at), kNop);
      base = bench.machine.save();
    }
    CpuBench bench;
    Snapshot base;
  };
  static Shared& shared() {
    static Shared shared;
    return shared;
  }

  /// Executes the instruction with `pin` low from `when` on, counted from its start; the cycles of both and more.
  std::vector<BusCycle> run(const std::string& pin, Stamp when) {
    CpuBench& bench = shared().bench;
    bench.machine.restore(shared().base);
    std::vector<std::uint8_t> code{static_cast<std::uint8_t>(GetParam().opcode), 0x01, 0x01};
    code.resize(GetParam().bytes);
    bench.poke(kBefore.pc, code);
    bench.set(kBefore);
    const Cycle start = bench.machine.now();
    bench.hand(pin + " low", stamp_of(start) + when);
    return bench.log_until(start + GetParam().cycles + 20);
  }
  /// Whether an interrupt entry begins at `cycle`: seven bytes are stacked from its third cycle on.
  static bool entry_at(const std::vector<BusCycle>& log, std::size_t cycle) {
    if (!log[cycle].fetch) return false;
    for (std::size_t i = cycle + 2; i < cycle + 9; ++i) {
      if (log[i].rw || !log[i].vma) return false;
    }
    return true;
  }
};

TEST_P(Mc6800Sampling, IsInTheLastCycle) {
  const OpcodeRow& row = GetParam();
  const std::size_t cycles = row.cycles;
  const std::array<std::uint8_t, 3> code{static_cast<std::uint8_t>(row.opcode), 0x01, 0x01};
  Mc6800Model model([&](std::uint16_t at) {
    const auto index = static_cast<std::uint16_t>(at - kBefore.pc);
    return index < row.bytes ? code[index] : kNop;
  });
  model.load(kBefore);
  Mc6800Model::action(row)(model);
  for (const std::string pin : {"NMI", "IRQ"}) {
    SCOPED_TRACE(pin);
    const bool masked = pin == "IRQ" && model.i;  // SEI, SWI
    std::vector<BusCycle> log = run(pin, e_fall(static_cast<Cycle>(cycles) - 2));
    EXPECT_EQ(entry_at(log, cycles), !masked);
    if (!masked) {
      EXPECT_EQ(log[cycles].address, model.pc & 0xFFFF);
      EXPECT_EQ(log[cycles + 2].data, model.pc & 0xFF);
      EXPECT_EQ(log[cycles + 3].data, model.pc >> 8 & 0xFF);
      EXPECT_EQ(log[cycles + 4].data, model.x & 0xFF);
      EXPECT_EQ(log[cycles + 5].data, model.x >> 8 & 0xFF);
      EXPECT_EQ(log[cycles + 6].data, model.a);
      EXPECT_EQ(log[cycles + 7].data, model.b);
      EXPECT_EQ(log[cycles + 8].data, model.cc());
    }
    // A cycle later the next instruction, a NOP, comes first.
    log = run(pin, e_fall(static_cast<Cycle>(cycles) - 1));
    EXPECT_FALSE(entry_at(log, cycles));
    EXPECT_TRUE(log[cycles].fetch);
    EXPECT_TRUE(log[cycles + 2].fetch);
    EXPECT_EQ(entry_at(log, cycles + 2), !masked);
  }
}

std::vector<OpcodeRow> all_but_wai() {
  std::vector<OpcodeRow> rows = opcode_rows();
  std::erase_if(rows, [](const OpcodeRow& row) { return row.mnemonic == "WAI"; });  // see mc6800_interrupts_test.cc
  return rows;
}

INSTANTIATE_TEST_SUITE_P(Table, Mc6800Sampling, ::testing::ValuesIn(all_but_wai()),
                         [](const auto& test) { return test.param.name(); });

}  // namespace
}  // namespace prewire::testing
