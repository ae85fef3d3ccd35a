// IRQ, NMI, SWI, WAI and RESET. Sources: M6800-MPU (tests/data/cpu/README.md) p. 5, 6 and 17 to 19 (stack, order,
// vectors, I set after stacking; read), MC6800 data sheet p. 9 (the fetched opcode is not executed; interrupts wait
// while HALT is low; read), its interrupt and reset figures (from memory). Sequences: seq_... in
// tests/data/cpu/mc6800-cycles.csv.
// Not tested, because no source settles it (docs/accuracy.md): the address in the second cycle of an entry, how many
// dead cycles lie between a wake-up and its vector, how soon an interrupt is taken after CLI, TAP or RTI, the exact
// cycle in which RESET is seen to end.
#include <gtest/gtest.h>

#include <algorithm>

#include "conformance/bus_log.h"
#include "conformance/mc6800_tables.h"
#include "cpu_fixture.h"

namespace prewire::testing {
namespace {

constexpr std::uint16_t kIrqHandler = 0x2000, kNmiHandler = 0x3000, kSwiHandler = 0x4000;
constexpr std::uint8_t kCli = 0x0E, kSei = 0x0F, kRti = 0x3B, kWai = 0x3E;

/// A bench with handlers and registers that are easy to recognise.
class Mc6800Interrupts : public ::testing::Test {
 protected:
  Mc6800Interrupts() {
    bench.poke(0xFFF8, {kIrqHandler >> 8, 0, kSwiHandler >> 8, 0, kNmiHandler >> 8, 0});
    for (const std::uint16_t handler : {kIrqHandler, kNmiHandler, kSwiHandler}) {
      bench.poke(handler, std::vector<std::uint8_t>(32, kNop));
      bench.poke(handler + 32, {0x20, 0xFE});
    }
    bench.poke(kPc, std::vector<std::uint8_t>(64, kNop));
    bench.poke(kPc + 64, {0x7E, kPc >> 8, kPc & 0xFF});  // JMP kPc
    bench.set(kBefore);
    start = bench.machine.now();
  }

  static constexpr std::uint16_t kPc = 0x1000, kS = 0x01FF;
  static constexpr CpuRegisters kBefore{0xA1, 0xB2, 0xC3D4, kS, kPc, 0xC0 | 0x2F};  // I clear, all other flags set

  Machine& machine() { return bench.machine; }

  /// Compares the cycles from `at` on with a sequence of the table; `pc` is what the table calls PC.
  void expect_sequence(const std::vector<BusCycle>& log, std::size_t at, const std::string& name,
                       const CpuRegisters& r) {
    const std::vector<CycleRow>& rows = cycle_rows(name);
    ASSERT_LE(at + rows.size(), log.size());
    const std::map<std::string, int> bytes{
        {"PC low", r.pc}, {"PC high", r.pc >> 8}, {"IX low", r.x}, {"IX high", r.x >> 8}, {"A", r.a},
        {"B", r.b},       {"CCR", r.cc}};
    for (std::size_t i = 0; i < rows.size(); ++i) {
      SCOPED_TRACE(fmt::format("{} cycle {}: {} {} ({})", name, i + 1, rows[i].address, rows[i].data, rows[i].source));
      const BusCycle& seen = log[at + i];
      if (rows[i].address != "PC*") {
        EXPECT_EQ(seen.address, evaluate(rows[i].address, {{"PC", r.pc}, {"SP", r.s}}));
      }
      EXPECT_EQ(seen.vma, rows[i].vma);
      EXPECT_EQ(seen.rw, rows[i].read);
      EXPECT_FALSE(seen.ba);
      EXPECT_EQ(seen.fetch, i == 0);
      if (const auto byte = bytes.find(rows[i].data); byte != bytes.end() && !rows[i].read) {
        EXPECT_EQ(seen.data, byte->second & 0xFF);
      }
    }
  }

  /// The stack picture of M6800-MPU, p. 5/6, below `r.s`.
  void expect_stacked(const CpuRegisters& r) {
    const std::vector<int> picture{r.pc & 0xFF, r.pc >> 8, r.x & 0xFF, r.x >> 8, r.a, r.b, r.cc};
    for (std::size_t i = 0; i < picture.size(); ++i) {
      EXPECT_EQ(machine().peek(static_cast<std::uint16_t>(r.s - i)), picture[i]) << "at S-" << i;
    }
  }

  CpuBench bench;
  Cycle start = 0;
};

// ---------------------------------------------------------------------------------------------------------------------
// Entry

struct Source {
  const char* name;
  std::string pin, sequence;
  std::uint16_t handler;
};
void PrintTo(const Source& source, std::ostream* out) { *out << source.name; }

class Mc6800InterruptEntry : public Mc6800Interrupts, public ::testing::WithParamInterface<Source> {};

TEST_P(Mc6800InterruptEntry, StacksAndFetchesTheVector) {
  bench.hand(GetParam().pin + " low", e_fall(start));  // in the first of two NOP cycles
  const std::vector<BusCycle> log = bench.log_until(start + 2 + 12 + 2);
  CpuRegisters interrupted = kBefore;
  interrupted.pc = kPc + 1;  // the second NOP is fetched and not executed
  expect_sequence(log, 2, GetParam().sequence, interrupted);
  expect_stacked(interrupted);
  EXPECT_EQ(log[14].address, GetParam().handler);
  EXPECT_TRUE(log[14].fetch);
  CpuRegisters after = interrupted;
  after.s -= 7;
  after.pc = GetParam().handler + 1;
  after.cc |= 0x10;  // I is set, and not in the stacked byte
  EXPECT_EQ(bench.registers(), after);
}

TEST_P(Mc6800InterruptEntry, ReturnsByRti) {
  bench.poke(GetParam().handler, {kRti});
  bench.hand(GetParam().pin + " low", e_fall(start));
  bench.hand(GetParam().pin + " high", e_fall(start + 8));
  machine().run_until(start + 2 + 12 + 10);
  CpuRegisters after = kBefore;
  after.pc = kPc + 1;
  EXPECT_EQ(bench.registers(), after);
}

TEST_P(Mc6800InterruptEntry, TellsObserversOfTheEntry) {
  struct Instructions final : Observer {
    unsigned wants() const override { return kInstructions; }
    void on_instruction(const Cpu& cpu, std::uint16_t pc, int opcode, Cycle cycle) override {
      text += fmt::format("{} {:04X} {} {:02X}\n", cycle - first, pc, opcode, cpu.get(5));
    }
    Cycle first = 0;
    std::string text;
  } instructions;
  instructions.first = start;
  machine().watch(instructions);
  bench.hand(GetParam().pin + " low", e_fall(start));
  machine().run_until(start + 15);
  machine().unwatch(instructions);
  EXPECT_EQ(instructions.text,
            fmt::format("0 1000 1 EF\n2 1001 {} EF\n14 {:04X} 1 FF\n",
                        static_cast<int>(GetParam().pin == "IRQ" ? Entry::irq : Entry::nmi), GetParam().handler));
}

INSTANTIATE_TEST_SUITE_P(Both, Mc6800InterruptEntry,
                         ::testing::Values(Source{"Irq", "IRQ", "seq_irq", kIrqHandler},
                                           Source{"Nmi", "NMI", "seq_nmi", kNmiHandler}),
                         [](const auto& test) { return test.param.name; });

// ---------------------------------------------------------------------------------------------------------------------
// Masks, memory, priority

TEST_F(Mc6800Interrupts, IrqMaskedCostsNothing) {
  CpuRegisters r = kBefore;
  r.cc |= 0x10;
  bench.set(r);
  const Snapshot snapshot = machine().save();
  const std::vector<BusCycle> without = bench.log_until(start + 60);
  machine().restore(snapshot);
  bench.hand("IRQ low", e_fall(start));
  const std::vector<BusCycle> with = bench.log_until(start + 60);
  EXPECT_EQ(with, without);
}

TEST_F(Mc6800Interrupts, IrqIsTakenOnceTheMaskIsCleared) {
  CpuRegisters r = kBefore;
  r.cc |= 0x10;
  bench.set(r);
  bench.poke(kPc + 2, {kCli});
  bench.hand("IRQ low", e_fall(start));
  const std::vector<BusCycle> log = bench.log_until(start + 60);
  const std::size_t entry = position(log, 0xFFF8);
  EXPECT_GE(entry, 6U + 10);  // not before CLI is over
  EXPECT_LE(entry, 8U + 10);
}

TEST_F(Mc6800Interrupts, NmiIsNotMasked) {
  CpuRegisters r = kBefore;
  r.cc |= 0x10;
  bench.set(r);
  bench.hand("NMI low", e_fall(start));
  const std::vector<BusCycle> log = bench.log_until(start + 14);
  r.pc = kPc + 1;
  expect_sequence(log, 2, "seq_nmi", r);
}

TEST_F(Mc6800Interrupts, IrqGoneBeforeItIsLookedAtIsLost) {
  bench.poke(kPc, {0x08});  // INX, four cycles
  bench.hand("IRQ low", e_fall(start));
  bench.hand("IRQ high", e_fall(start + 1));
  const std::vector<BusCycle> log = bench.log_until(start + 60);
  EXPECT_FALSE(reads(log, 0xFFF8));
}

TEST_F(Mc6800Interrupts, NmiEdgeIsRemembered) {
  bench.poke(kPc, {0x08});
  bench.hand("NMI low", e_fall(start));
  bench.hand("NMI high", e_fall(start) + 1);
  const std::vector<BusCycle> log = bench.log_until(start + 60);
  CpuRegisters r = kBefore;
  r.x += 1;
  r.cc &= ~0x04;
  r.pc = kPc + 1;
  expect_sequence(log, 4, "seq_nmi", r);
}

TEST_F(Mc6800Interrupts, NmiNeedsANewEdge) {
  bench.poke(kNmiHandler, {kRti});
  bench.hand("NMI low", e_fall(start));
  const std::vector<BusCycle> log = bench.log_until(start + 200);
  EXPECT_EQ(std::count_if(log.begin(), log.end(), [](const BusCycle& c) { return c.address == 0xFFFC; }), 1);
  const Cycle second = machine().now();
  bench.hand("NMI high", e_fall(second));
  bench.hand("NMI low", e_fall(second + 4));
  EXPECT_TRUE(reads(bench.log_until(second + 200), 0xFFFC));
}

TEST_F(Mc6800Interrupts, NmiWinsOverIrq) {
  bench.poke(kNmiHandler, {kRti});
  bench.hand("IRQ low", e_fall(start));
  bench.hand("NMI low", e_fall(start));
  const std::vector<BusCycle> log = bench.log_until(start + 60);
  CpuRegisters r = kBefore;
  r.pc = kPc + 1;
  expect_sequence(log, 2, "seq_nmi", r);
  EXPECT_EQ(log[14].address, kNmiHandler);
  // IRQ was kept waiting and is served after the return.
  const std::size_t irq = position(log, 0xFFF8);
  EXPECT_GT(irq, 14U + 10);
  EXPECT_LT(irq, log.size());
}

TEST_F(Mc6800Interrupts, NmiDuringAnIrqEntryComesAfterIt) {
  bench.hand("IRQ low", e_fall(start));
  bench.hand("NMI low", e_fall(start + 6));
  const std::vector<BusCycle> log = bench.log_until(start + 40);
  CpuRegisters r = kBefore;
  r.pc = kPc + 1;
  expect_sequence(log, 2, "seq_irq", r);
  CpuRegisters handler = r;
  handler.s -= 7;
  handler.cc |= 0x10;
  handler.pc = kIrqHandler;
  expect_sequence(log, 14, "seq_nmi", handler);
}

TEST_F(Mc6800Interrupts, IrqIsALevel) {
  bench.poke(kIrqHandler, {kRti});
  bench.hand("IRQ low", e_fall(start));
  const std::vector<BusCycle> log = bench.log_until(start + 200);
  EXPECT_GT(std::count_if(log.begin(), log.end(), [](const BusCycle& c) { return c.address == 0xFFF8; }), 5);
}

TEST_F(Mc6800Interrupts, SwiHasItsOwnVectorAndIsNotMasked) {
  for (const int mask : {0x00, 0x10}) {
    CpuRegisters r = kBefore;
    r.cc = static_cast<std::uint8_t>(r.cc | mask);
    bench.set(r);
    bench.poke(kPc, {0x3F});
    const Cycle now = machine().now();
    machine().run_until(now + 12);
    CpuRegisters stacked = r;
    stacked.pc = kPc + 1;
    expect_stacked(stacked);
    CpuRegisters after = r;
    after.s -= 7;
    after.cc |= 0x10;
    after.pc = kSwiHandler;
    EXPECT_EQ(bench.registers(), after);
  }
}

TEST_F(Mc6800Interrupts, SeiKeepsThemOut) {
  bench.poke(kPc, {kSei});
  bench.hand("IRQ low", e_fall(start + 1));
  EXPECT_FALSE(reads(bench.log_until(start + 60), 0xFFF8));
}

// A level that somebody sets between two runs is there before the next cycle, whose instruction it does not stop.
TEST_F(Mc6800Interrupts, RequestBetweenRunsWaitsForOneInstruction) {
  bench.hand("IRQ low");
  const std::vector<BusCycle> log = bench.log_until(start + 20);
  EXPECT_EQ(fetches(log), (std::vector<int>{kPc, kPc + 1, kIrqHandler, kIrqHandler + 1, kIrqHandler + 2}));
}

// ---------------------------------------------------------------------------------------------------------------------
// WAI

class Mc6800Wait : public Mc6800InterruptEntry {
 protected:
  Mc6800Wait() { bench.poke(kPc, {kWai}); }
};

TEST_P(Mc6800Wait, StacksFirstAndOnlyOnce) {
  bench.hand(GetParam().pin + " low", e_fall(start + 30));
  const std::vector<BusCycle> log = bench.log_until(start + 60);
  CpuRegisters interrupted = kBefore;
  interrupted.pc = kPc + 1;
  expect_stacked(interrupted);
  // Nine cycles of WAI, then the buses are free until the request.
  for (std::size_t i = 9; i <= 31; ++i) {
    EXPECT_FALSE(log[i].vma) << i;
    EXPECT_TRUE(log[i].ba) << i;
  }
  // Dead cycles, the vector, the handler; nothing is written.
  const std::size_t vector = position(log, GetParam().pin == "IRQ" ? 0xFFF8 : 0xFFFC);
  ASSERT_LT(vector, 40U);
  for (std::size_t i = 32; i < vector; ++i) EXPECT_FALSE(log[i].vma) << i;
  const std::vector<CycleRow>& rows = cycle_rows("seq_wai_" + std::string(GetParam().pin == "IRQ" ? "irq" : "nmi"));
  for (std::size_t i = 0; i < 2; ++i) {
    EXPECT_EQ(log[vector + i].address, evaluate(rows[1 + i].address, {}));
    EXPECT_TRUE(log[vector + i].vma && log[vector + i].rw && !log[vector + i].ba);
  }
  EXPECT_EQ(log[vector + 2].address, GetParam().handler);
  EXPECT_TRUE(log[vector + 2].fetch);
  EXPECT_TRUE(std::all_of(log.begin() + 9, log.end(), [](const BusCycle& c) { return c.rw; }));
  CpuRegisters after = interrupted;
  after.s -= 7;
  after.cc |= 0x10;
  after.pc = bench.registers().pc;
  EXPECT_EQ(bench.registers(), after);
}

TEST_P(Mc6800Wait, EndsAtOnceIfTheRequestCameWhileItStacked) {
  bench.hand(GetParam().pin + " low", e_fall(start + 4));
  const std::vector<BusCycle> log = bench.log_until(start + 30);
  EXPECT_TRUE(std::none_of(log.begin(), log.end(), [](const BusCycle& c) { return c.ba; }));
  EXPECT_LT(position(log, GetParam().pin == "IRQ" ? 0xFFF8 : 0xFFFC), 13U);
}

TEST_P(Mc6800Wait, ComesBackBehindItself) {
  bench.poke(GetParam().handler, {kRti});
  bench.hand(GetParam().pin + " low", e_fall(start + 30));
  bench.hand(GetParam().pin + " high", e_fall(start + 35));
  const std::vector<BusCycle> log = bench.log_until(start + 60);
  const std::vector<int> at = fetches(log);
  ASSERT_GE(at.size(), 3U);
  EXPECT_EQ(at[0], kPc);
  EXPECT_EQ(at[1], GetParam().handler);
  EXPECT_EQ(at[2], kPc + 1);
}

TEST_P(Mc6800Wait, ShowsOnTheBusAvailablePin) {
  EXPECT_EQ(machine().net("CPU.BA")->level, Level::low);
  machine().run_until(start + 20);
  EXPECT_EQ(machine().net("CPU.BA")->level, Level::high);
  EXPECT_EQ(machine().cpu().state(), CpuState::waiting);
  bench.hand(GetParam().pin + " low", e_fall(start + 30));
  machine().run_until(start + 60);
  EXPECT_EQ(machine().net("CPU.BA")->level, Level::low);
  EXPECT_EQ(machine().cpu().state(), CpuState::running);
}

INSTANTIATE_TEST_SUITE_P(Both, Mc6800Wait,
                         ::testing::Values(Source{"Irq", "IRQ", "", kIrqHandler},
                                           Source{"Nmi", "NMI", "", kNmiHandler}),
                         [](const auto& test) { return test.param.name; });

// MC6800 data sheet, note 11 (from memory): with I set only NMI or RESET ends the wait.
TEST_F(Mc6800Interrupts, MaskedWaitEndsByNmiOnly) {
  bench.poke(kPc, {kWai});
  CpuRegisters r = kBefore;
  r.cc |= 0x10;
  bench.set(r);
  bench.hand("IRQ low", e_fall(start + 4));
  const std::vector<BusCycle> log = bench.log_until(start + 500);
  EXPECT_FALSE(reads(log, 0xFFF8));
  EXPECT_TRUE(log.back().ba);
  bench.hand("NMI low");
  EXPECT_TRUE(reads(bench.log_until(start + 520), 0xFFFC));
}

// ---------------------------------------------------------------------------------------------------------------------
// RESET

class Mc6800Reset : public Mc6800Interrupts {
 protected:
  /// RESET low during the cycles from `first` to before `last`.
  std::vector<BusCycle> pulse(Cycle first, Cycle last, Cycle end) {
    machine().schedule("RESET", "pressed", stamp_of(start + first));
    machine().schedule("RESET", "released", stamp_of(start + last));
    return bench.log_until(start + end);
  }
  static void expect_held(const BusCycle& cycle) {
    const CycleRow& row = cycle_rows("seq_reset_held")[0];
    EXPECT_EQ(cycle.address, evaluate(row.address, {}));
    EXPECT_EQ(cycle.vma, row.vma);
    EXPECT_EQ(cycle.rw, row.read);
    EXPECT_FALSE(cycle.ba);
    EXPECT_FALSE(cycle.fetch);
  }
  /// The vector, not later than two cycles after the release, and the first instruction.
  static void expect_exit(const std::vector<BusCycle>& log, std::size_t released) {
    const std::size_t vector = position(log, 0xFFFE);
    ASSERT_GE(vector, released);
    ASSERT_LE(vector, released + 2);
    for (std::size_t i = released; i < vector; ++i) expect_held(log[i]);
    const std::vector<CycleRow>& rows = cycle_rows("seq_reset_exit");
    for (std::size_t i = 0; i < rows.size(); ++i) {
      EXPECT_EQ(log[vector + i].address, evaluate(rows[i].address, {}));
      EXPECT_EQ(log[vector + i].vma, rows[i].vma);
      EXPECT_EQ(log[vector + i].rw, rows[i].read);
    }
    EXPECT_EQ(log[vector + 2].address, CpuBench::kStart);
    EXPECT_TRUE(log[vector + 2].fetch);
  }
};

TEST_F(Mc6800Reset, FromPowerOnItHoldsEightCycles) {
  machine().power_cycle();
  bench.poke(0xFFFE, {0x10, 0x00});
  const std::vector<BusCycle> log = bench.log_until(20);
  for (std::size_t i = 0; i < 8; ++i) expect_held(log[i]);
  expect_exit(log, 8);
}

TEST_F(Mc6800Reset, SetsTheMaskAndNothingElse) {
  pulse(0, 8, 8);
  for (int i = 0; i < 5 && machine().cpu().state() == CpuState::reset; ++i) machine().step_instruction();
  CpuRegisters after = kBefore;
  after.cc |= 0x10;
  EXPECT_EQ(bench.registers(), after);
}

TEST_F(Mc6800Reset, CutsAnInstructionShort) {
  bench.poke(kPc, {0xB7, 0x50, 0x00});  // STAA $5000, five cycles
  for (Cycle cycle = 1; cycle <= 5; ++cycle) {
    const Snapshot snapshot = machine().save();
    const int old = machine().peek(0x5000);
    const std::vector<BusCycle> log = pulse(cycle, cycle + 10, cycle + 15);
    for (std::size_t i = 0; i < 10; ++i) expect_held(log[static_cast<std::size_t>(cycle) + i]);
    expect_exit(log, static_cast<std::size_t>(cycle) + 10);
    EXPECT_EQ(machine().peek(0x5000), cycle < 5 ? old : kBefore.a);
    machine().restore(snapshot);
  }
}

TEST_F(Mc6800Reset, RegistersAreThoseBeforeTheInstructionThatItCut) {
  bench.poke(kPc, {0x08});  // INX, four cycles
  pulse(2, 12, 12);
  CpuRegisters after = kBefore;
  after.cc |= 0x10;
  CpuRegisters now = bench.registers();
  after.pc = now.pc;
  EXPECT_EQ(now, after);
}

TEST_F(Mc6800Reset, EndsAWait) {
  bench.poke(kPc, {kWai});
  const std::vector<BusCycle> log = pulse(20, 30, 50);
  EXPECT_TRUE(log[19].ba);
  for (std::size_t i = 20; i < 30; ++i) expect_held(log[i]);
  expect_exit(log, 30);
}

TEST_F(Mc6800Reset, MachineResetHoldsEightCycles) {
  machine().reset();
  const std::vector<BusCycle> log = bench.log_until(start + 20);
  for (std::size_t i = 0; i < 8; ++i) expect_held(log[i]);
  expect_exit(log, 8);
}

}  // namespace
}  // namespace prewire::testing
