// NMI, FIRQ, IRQ, SWI, SWI2, SWI3, CWAI, SYNC and RESET. Sources: M6809PM section 3 and figures 3-1 and 3-2 (priority,
// masks, stack, arming of NMI), section 1.11 (BA, BS, sampling), appendix A (CWAI, SYNC) (read); HD6809E data sheet,
// interrupt figures (read in a transcription): seq_... in tests/data/cpu/mc6809-cycles.csv. When inputs are looked at:
// mc6809_sampling_test.cc. Not tested, because no source settles it (docs/accuracy.md): an edge of NMI before it is
// armed, how many cycles lie between a request and the end of a wait.
#include "conformance/mc6809_fixture.h"

namespace prewire::testing {
namespace {

using Mc6809Interrupts = Mc6809Test;

struct Source {
  const char* name;
  std::string pin, sequence;
  std::uint16_t handler, vector;
  int mask;  ///< that keeps it out
  int sets;  ///< masks that it sets
};
void PrintTo(const Source& source, std::ostream* out) { *out << source.name; }

const std::vector<Source> kSources{{"Irq", "IRQ", "seq_irq", 0x2200, 0xFFF8, 0x10, 0x10},
                                   {"Firq", "FIRQ", "seq_firq", 0x2300, 0xFFF6, 0x40, 0x50},
                                   {"Nmi", "NMI", "seq_nmi", 0x2000, 0xFFFC, 0x00, 0x50}};

class Mc6809Entry : public Mc6809Test, public ::testing::WithParamInterface<Source> {
 protected:
  bool fast() const { return GetParam().pin == "FIRQ"; }
  Cycle length() const { return fast() ? 10 : 19; }
  int stacked_bytes() const { return fast() ? 3 : 12; }
  void request(Stamp when) { bench.hand(GetParam().pin + " low", when); }
  void release(Stamp when) { bench.hand(GetParam().pin + " high", when); }
  /// Registers as the handler finds them.
  CpuRegisters in_handler(CpuRegisters r, bool everything) const {
    r.s = static_cast<std::uint16_t>(r.s - (everything ? 12 : 3));
    r.pc = GetParam().handler;
    r.cc = static_cast<std::uint8_t>((everything ? r.cc | kE : r.cc & ~kE) | GetParam().sets);
    return r;
  }
};

#define EVERY_SOURCE(Suite)                                               \
  INSTANTIATE_TEST_SUITE_P(Sources, Suite, ::testing::ValuesIn(kSources), \
                           [](const auto& test) { return test.param.name; })

// ---------------------------------------------------------------------------------------------------------------------
// Entry and return

TEST_P(Mc6809Entry, StacksAndFetchesTheVector) {
  request(early_in(0));  // in the first of two NOP cycles
  const std::vector<BusCycle> log = bench.log_until(start + 2 + length());
  CpuRegisters interrupted = kBefore;
  interrupted.pc = kPc + 1;
  expect_sequence(log, 2, GetParam().sequence, interrupted);
  expect_stacked(interrupted, !fast());
  EXPECT_EQ(bench.registers(), in_handler(interrupted, !fast()));
  EXPECT_EQ(bench.log_until(start + 2 + length() + 1)[0].address, GetParam().handler);
}

TEST_P(Mc6809Entry, LeavesOtherMasksAlone) {
  // The mask of another source is neither needed nor changed, E as it was before is not kept.
  const int others = (kF | kI) & ~GetParam().mask;
  bench.set(with_cc(0x0A | kE | others));
  request(early_in(0));
  machine().run_until(start + 2 + length());
  CpuRegisters interrupted = with_cc(0x0A | kE | others);
  interrupted.pc = kPc + 1;
  expect_stacked(interrupted, !fast());
  EXPECT_EQ(bench.registers(), in_handler(interrupted, !fast()));
}

TEST_P(Mc6809Entry, ReturnsByRti) {
  bench.poke(GetParam().handler, {kMc6809Rti});
  request(early_in(0));
  release(early_in(8));
  const std::vector<BusCycle> log = bench.log_until(start + 2 + length() + (fast() ? 6 : 15));
  CpuRegisters after = kBefore;
  after.pc = kPc + 1;
  if (!fast()) after.cc |= kE;  // as it was stacked
  EXPECT_EQ(bench.registers(), after);
  EXPECT_EQ(fetches(log), (std::vector<int>{kPc, kPc + 1, GetParam().handler}));
}

TEST_P(Mc6809Entry, TellsObservers) {
  struct Instructions final : Observer {
    unsigned wants() const override { return kInstructions; }
    void on_instruction(const Cpu& cpu, std::uint16_t pc, int opcode, Cycle cycle) override {
      text += fmt::format("{} {:04X} {} {:02X}\n", cycle - first, pc, opcode, cpu.get(8));
    }
    Cycle first = 0;
    std::string text;
  } instructions;
  instructions.first = start;
  machine().watch(instructions);
  request(early_in(0));
  machine().run_until(start + 2 + length() + 1);
  machine().unwatch(instructions);
  const Entry entry = fast() ? Entry::firq : GetParam().pin == "IRQ" ? Entry::irq : Entry::nmi;
  EXPECT_EQ(instructions.text, fmt::format("0 1000 18 2F\n2 1001 {} 2F\n{} {:04X} 18 {:02X}\n", static_cast<int>(entry),
                                           2 + length(), GetParam().handler, in_handler(kBefore, !fast()).cc));
}

TEST_P(Mc6809Entry, MaskedItCostsNothing) {
  const int mask = GetParam().mask;
  if (mask == 0) {
    // Nothing masks NMI.
    bench.set(with_cc(kF | kI));
    request(early_in(0));
    EXPECT_TRUE(reads(bench.log_until(start + 60), GetParam().vector));
    return;
  }
  bench.set(with_cc(mask));
  const Snapshot snapshot = machine().save();
  const std::vector<BusCycle> without = bench.log_until(start + 60);
  machine().restore(snapshot);
  request(early_in(0));
  EXPECT_EQ(bench.log_until(start + 60), without);
}

TEST_P(Mc6809Entry, IsTakenOnceTheMaskIsCleared) {
  const int mask = GetParam().mask;
  bench.set(with_cc(mask));
  bench.poke(kPc + 2, {0x1C, static_cast<std::uint8_t>(~mask)});  // ANDCC
  request(early_in(mask == 0 ? 5 : 0));
  const std::vector<BusCycle> log = bench.log_until(start + 60);
  const std::size_t vector = position(log, GetParam().vector);
  const std::size_t before_vector = fast() ? 7 : 16;
  EXPECT_GE(vector, 7 + before_vector);  // not before ANDCC is over
  EXPECT_LE(vector, 9 + before_vector);
}

EVERY_SOURCE(Mc6809Entry);

// ---------------------------------------------------------------------------------------------------------------------
// Levels, edges, priority

TEST_F(Mc6809Interrupts, ALevelThatIsGoneIsLost) {
  for (const std::string pin : {"IRQ", "FIRQ"}) {
    const Snapshot snapshot = machine().save();
    bench.poke(kPc, {0x3D});  // MUL, eleven cycles
    bench.hand(pin + " low", early_in(1));
    bench.hand(pin + " high", early_in(3));
    const std::vector<BusCycle> log = bench.log_until(start + 60);
    EXPECT_TRUE(std::none_of(log.begin(), log.end(), [](const BusCycle& c) { return c.bs; })) << pin;
    machine().restore(snapshot);
  }
}

TEST_F(Mc6809Interrupts, ALevelThatStaysIsServedAgain) {
  for (const std::uint16_t handler : {kIrq, kFirq}) bench.poke(handler, {kMc6809Rti});
  for (const std::string pin : {"IRQ", "FIRQ"}) {
    const Snapshot snapshot = machine().save();
    bench.hand(pin + " low", early_in(0));
    const std::vector<BusCycle> log = bench.log_until(start + 200);
    EXPECT_GE(std::count_if(log.begin(), log.end(), [](const BusCycle& c) { return c.bs; }), 8) << pin;
    machine().restore(snapshot);
  }
}

TEST_F(Mc6809Interrupts, AnEdgeIsRememberedAndServedOnce) {
  bench.poke(kPc, {0x3D});
  bench.poke(kNmi, {kMc6809Rti});
  bench.hand("NMI low", early_in(1));
  bench.hand("NMI high", early_in(3));
  std::vector<BusCycle> log = bench.log_until(start + 200);
  CpuRegisters r = kBefore;
  r.a = 0xA1 * 0xB2 >> 8, r.b = static_cast<std::uint8_t>(0xA1 * 0xB2);
  r.cc = 0x2A | (r.b >> 7);  // Z clear, C bit 7 of B
  r.pc = kPc + 1;
  expect_sequence(log, 11, "seq_nmi", r);
  const auto entries = [&] {
    return std::count_if(log.begin(), log.end(), [](const BusCycle& c) { return c.bs && c.address == 0xFFFC; });
  };
  EXPECT_EQ(entries(), 1);
  // A level that stays low is no new edge.
  bench.hand("NMI low", early_in(200));
  log = bench.log_until(start + 500);
  EXPECT_EQ(entries(), 1);
}

// M6809PM section 3.1: NMI before FIRQ before IRQ; those that wait are served after the return.
TEST_F(Mc6809Interrupts, AreServedByPriority) {
  for (const std::uint16_t handler : {kNmi, kFirq}) bench.poke(handler, {kMc6809Rti});
  for (const std::string pin : {"IRQ", "FIRQ", "NMI"}) bench.hand(pin + " low", early_in(0));
  bench.hand("FIRQ high", early_in(2 + 19 + 15 + 6));
  const std::vector<BusCycle> log = bench.log_until(start + 100);
  CpuRegisters r = kBefore;
  r.pc = kPc + 1;
  expect_sequence(log, 2, "seq_nmi", r);
  std::vector<int> vectors;
  for (const BusCycle& cycle : log) {
    if (cycle.bs && cycle.address % 2 == 0) vectors.push_back(cycle.address);
  }
  EXPECT_EQ(vectors, (std::vector<int>{0xFFFC, 0xFFF6, 0xFFF8}));
}

TEST_F(Mc6809Interrupts, AFasterOneInterruptsASlowerOne) {
  bench.hand("IRQ low", early_in(0));
  bench.hand("FIRQ low", early_in(8));
  bench.hand("NMI low", early_in(8 + 19));
  const std::vector<BusCycle> log = bench.log_until(start + 70);
  CpuRegisters r = kBefore;
  r.pc = kPc + 1;
  expect_sequence(log, 2, "seq_irq", r);
  r.s -= 12, r.pc = kIrq, r.cc |= kE | kI;
  expect_sequence(log, 2 + 19, "seq_firq", r);
  r.s -= 3, r.pc = kFirq, r.cc = static_cast<std::uint8_t>((r.cc & ~kE) | kF);
  expect_sequence(log, 2 + 19 + 10, "seq_nmi", r);
}

TEST_F(Mc6809Interrupts, NmiDuringAnIrqEntryComesAfterIt) {
  bench.hand("IRQ low", early_in(0));
  bench.hand("NMI low", early_in(8));
  const std::vector<BusCycle> log = bench.log_until(start + 60);
  CpuRegisters r = kBefore;
  r.pc = kPc + 1;
  expect_sequence(log, 2, "seq_irq", r);
  r.s -= 12, r.pc = kIrq, r.cc |= kE | kI;
  expect_sequence(log, 2 + 19, "seq_nmi", r);
}

// A level that somebody sets between two runs is there before the next cycle.
TEST_F(Mc6809Interrupts, RequestBetweenRunsWaitsForOneInstruction) {
  bench.hand("IRQ low");
  EXPECT_EQ(fetches(bench.log_until(start + 24)), (std::vector<int>{kPc, kPc + 1, kIrq, kIrq + 1}));
}

// ---------------------------------------------------------------------------------------------------------------------
// NMI is armed by the first instruction that loads S (figure 3-1, appendix A NMI)

struct Arming {
  const char* name;
  std::vector<std::uint8_t> code;
  bool arms;
};
void PrintTo(const Arming& arming, std::ostream* out) { *out << arming.name; }

class Mc6809Arming : public Mc6809Test, public ::testing::WithParamInterface<Arming> {};

TEST_P(Mc6809Arming, IsALoadOfS) {
  machine().schedule("RESET", "pressed", stamp_of(start));
  machine().schedule("RESET", "released", stamp_of(start + 8));
  machine().run_until(start + 8);
  while (machine().cpu().state() == CpuState::reset || machine().cpu().cycles_into_instruction() != 0) {
    machine().step_cycle();
  }
  bench.set(kBefore);
  bench.poke(kPc, GetParam().code);
  machine().step_instruction();
  const Cycle now = machine().now();
  for (Cycle at = now; at < now + 40; at += 8) {
    bench.hand("NMI low", stamp_of(at) + 1);
    bench.hand("NMI high", stamp_of(at + 4) + 1);
  }
  EXPECT_EQ(reads(bench.log_until(now + 80), 0xFFFC), GetParam().arms);
}

INSTANTIATE_TEST_SUITE_P(Instructions, Mc6809Arming,
                         ::testing::Values(Arming{"LdsImmediate", {0x10, 0xCE, 0x01, 0xF0}, true},
                                           Arming{"LdsDirect", {0x10, 0xDE, 0x40}, true},
                                           Arming{"LdsExtended", {0x10, 0xFE, 0x30, 0x00}, true},
                                           Arming{"LdsIndexed", {0x10, 0xEE, 0x84}, true},
                                           Arming{"LeasIndexed", {0x32, 0x7E}, true},
                                           Arming{"TfrToS", {0x1F, 0x14}, true}, Arming{"ExgWithS", {0x1E, 0x14}, true},
                                           Arming{"ExgOfS", {0x1E, 0x42}, true},
                                           Arming{"TfrFromS", {0x1F, 0x41}, false}, Arming{"Nop", {kMc6809Nop}, false},
                                           Arming{"Bsr", {0x8D, 0x00}, false}, Arming{"Pshs", {0x34, 0x7F}, false},
                                           Arming{"Puls", {0x35, 0x0F}, false}, Arming{"Leau", {0x33, 0x41}, false},
                                           Arming{"Swi", {0x3F}, false}),
                         [](const auto& test) { return test.param.name; });

// ---------------------------------------------------------------------------------------------------------------------
// Interrupts by instruction

struct Software {
  const char* name;
  std::vector<std::uint8_t> code;
  std::uint16_t handler;
  int sets;
};
void PrintTo(const Software& software, std::ostream* out) { *out << software.name; }

class Mc6809Software : public Mc6809Test, public ::testing::WithParamInterface<Software> {};

TEST_P(Mc6809Software, StacksEverythingWhateverTheMasks) {
  for (const int masks : {0x00, kI, kF, kF | kI, kE}) {
    CpuRegisters r = with_cc(0x05 | masks);
    bench.set(r);
    bench.poke(kPc, GetParam().code);
    machine().step_instruction();
    r.pc = static_cast<std::uint16_t>(kPc + GetParam().code.size());
    expect_stacked(r, true);
    r.s -= 12;
    r.cc = static_cast<std::uint8_t>(r.cc | kE | GetParam().sets);
    r.pc = GetParam().handler;
    EXPECT_EQ(bench.registers(), r);
  }
}

// Only SWI keeps IRQ and FIRQ out of its handler.
TEST_P(Mc6809Software, MasksWhatItShould) {
  for (const Source& source : kSources) {
    const Snapshot snapshot = machine().save();
    bench.poke(kPc, GetParam().code);
    bench.hand(source.pin + " low", early_in(6));
    const std::vector<BusCycle> log = bench.log_until(start + 60);
    EXPECT_EQ(reads(log, source.vector), (GetParam().sets & source.mask) == 0) << source.name;
    EXPECT_TRUE(reads(log, GetParam().code.size() == 1 ? 0xFFFA : GetParam().code[0] == 0x10 ? 0xFFF4 : 0xFFF2));
    machine().restore(snapshot);
  }
}

INSTANTIATE_TEST_SUITE_P(All, Mc6809Software,
                         ::testing::Values(Software{"Swi", {0x3F}, 0x2100, 0x50},
                                           Software{"Swi2", {0x10, 0x3F}, 0x2400, 0x00},
                                           Software{"Swi3", {0x11, 0x3F}, 0x2500, 0x00}),
                         [](const auto& test) { return test.param.name; });

// ---------------------------------------------------------------------------------------------------------------------
// CWAI

class Mc6809Cwai : public Mc6809Entry {
 protected:
  Mc6809Cwai() { bench.poke(kPc, {0x3C, 0xAF}); }  // CWAI, I and F cleared
  static CpuRegisters stacked() {
    CpuRegisters r = with_cc(kBefore.cc & 0xAF);
    r.pc = kPc + 2;
    return r;
  }
  static std::vector<Mc6809Cycle> rows() { return mc6809_cycles("cwai"); }
};

TEST_P(Mc6809Cwai, StacksWaitsAndFetchesTheVector) {
  request(early_in(40));
  const std::vector<BusCycle> log = bench.log_until(start + 60);
  expect_stacked(stacked(), true);
  const std::size_t vector = position(log, GetParam().vector);
  EXPECT_GE(vector, 41U);
  ASSERT_LE(vector, 43U);
  // The buses are not free while it waits.
  EXPECT_EQ(picture(log).substr(0, vector + 5),
            "Frr-" + std::string(12, 'w') + std::string(vector - 16, '-') + "vv-Fr");
  EXPECT_EQ(log[vector + 1].address, GetParam().vector + 1);
  EXPECT_EQ(log[vector + 3].address, GetParam().handler);
  CpuRegisters after = in_handler(stacked(), true);  // of FIRQ, too
  after.pc = bench.registers().pc;
  EXPECT_EQ(bench.registers(), after);
}

TEST_P(Mc6809Cwai, TakesTwentyCyclesAtLeast) {
  request(early_in(8));
  const std::vector<BusCycle> log = bench.log_until(start + 21);
  EXPECT_EQ(picture(log), "Frr-wwwwwwwwwwww-vv-F");
  EXPECT_EQ(log[20].address, GetParam().handler);
}

TEST_P(Mc6809Cwai, ComesBackBehindItself) {
  bench.poke(GetParam().handler, {kMc6809Rti});
  request(early_in(40));
  release(early_in(45));
  const std::vector<int> at = fetches(bench.log_until(start + 80));
  ASSERT_GE(at.size(), 3U);
  EXPECT_EQ(at[0], kPc);
  EXPECT_EQ(at[1], GetParam().handler);
  EXPECT_EQ(at[2], kPc + 2);
}

TEST_P(Mc6809Cwai, IsNotEndedByWhatIsMasked) {
  const int mask = GetParam().mask;
  bench.set(with_cc(kF | kI));
  bench.poke(kPc, {0x3C, static_cast<std::uint8_t>(~(mask ^ (kF | kI)))});  // clears the others only
  request(early_in(30));
  const std::vector<BusCycle> log = bench.log_until(start + 300);
  EXPECT_EQ(reads(log, GetParam().vector), mask == 0);
  if (mask == 0) return;
  EXPECT_EQ(machine().cpu().state(), CpuState::waiting);
  bench.hand("NMI low");
  EXPECT_TRUE(reads(bench.log_until(start + 320), 0xFFFC));
}

EVERY_SOURCE(Mc6809Cwai);

TEST_F(Mc6809Interrupts, CwaiServesThePriorRequest) {
  bench.poke(kPc, {0x3C, 0xAF});
  for (const std::string pin : {"IRQ", "FIRQ"}) bench.hand(pin + " low", early_in(5));
  EXPECT_EQ(bench.log_until(start + 21)[17].address, 0xFFF6);
  bench.hand("IRQ high");
}

// ---------------------------------------------------------------------------------------------------------------------
// SYNC

class Mc6809Sync : public Mc6809Entry {
 protected:
  Mc6809Sync() { bench.poke(kPc, {0x13}); }
};

TEST_P(Mc6809Sync, WaitsWithFreeBuses) {
  const std::vector<BusCycle> log = bench.log_until(start + 40);
  EXPECT_EQ(picture(log), "Fr" + std::string(38, 's'));
  EXPECT_EQ(machine().cpu().state(), CpuState::waiting);
  for (std::size_t i = 2; i < log.size(); ++i) EXPECT_TRUE(!log[i].vma && log[i].rw && !log[i].driven);
  CpuRegisters r = kBefore;
  r.pc = kPc + 1;
  EXPECT_EQ(bench.registers(), r);
}

TEST_P(Mc6809Sync, AnUnmaskedRequestIsServed) {
  request(early_in(20));
  const std::vector<BusCycle> log = bench.log_until(start + 60);
  const auto end = static_cast<std::size_t>(
      std::find_if(log.begin() + 2, log.end(), [](const BusCycle& c) { return !c.ba; }) - log.begin());
  EXPECT_GE(end, 21U);
  ASSERT_LE(end, 24U);
  CpuRegisters r = kBefore;
  r.pc = kPc + 1;
  expect_sequence(log, end, GetParam().sequence, r);
}

TEST_P(Mc6809Sync, AMaskedRequestGoesOnBehindIt) {
  if (GetParam().mask == 0) return;  // nothing masks NMI
  bench.set(with_cc(GetParam().mask));
  request(early_in(20));
  const std::vector<BusCycle> log = bench.log_until(start + 60);
  EXPECT_FALSE(reads(log, GetParam().vector));
  const std::vector<int> at = fetches(log);
  ASSERT_GE(at.size(), 3U);
  EXPECT_EQ(at[1], kPc + 1);
  EXPECT_EQ(at[2], kPc + 2);
}

// Appendix A, SYNC: the line has to be low for three cycles, else the program goes on.
TEST_P(Mc6809Sync, AShortRequestGoesOnBehindIt) {
  if (GetParam().mask == 0) return;  // the edge of NMI is remembered
  for (const Cycle cycles : {1, 2, 3, 4}) {
    SCOPED_TRACE(cycles);
    const Snapshot snapshot = machine().save();
    request(early_in(20));
    release(early_in(20 + cycles));
    const std::vector<BusCycle> log = bench.log_until(start + 60);
    EXPECT_EQ(reads(log, GetParam().vector), cycles >= 3);
    EXPECT_FALSE(log.back().ba);
    machine().restore(snapshot);
  }
}

TEST_P(Mc6809Sync, TakesFourCyclesAtLeast) {
  if (GetParam().mask == 0) return;
  bench.poke(kPc, {kMc6809Nop, kMc6809Nop, 0x13});
  bench.set(with_cc(GetParam().mask));
  request(early_in(0));
  EXPECT_EQ(picture(bench.log_until(start + 10)), "FrFrFrssFr");
}

EVERY_SOURCE(Mc6809Sync);

// ---------------------------------------------------------------------------------------------------------------------
// RESET

class Mc6809Reset : public Mc6809Test {
 protected:
  /// RESET low during the cycles from `first` to before `last`.
  std::vector<BusCycle> pulse(Cycle first, Cycle last, Cycle end) {
    machine().schedule("RESET", "pressed", stamp_of(start + first));
    machine().schedule("RESET", "released", stamp_of(start + last));
    return bench.log_until(start + end);
  }
  static void expect_held(const BusCycle& cycle) {
    const Mc6809Cycle& row = mc6809_cycles("seq_reset_held")[0];
    EXPECT_EQ(cycle.address, evaluate(row.address, {}));
    EXPECT_TRUE(cycle.rw && cycle.vma);
    EXPECT_FALSE(cycle.ba || cycle.bs || cycle.fetch);
  }
  /// Three more cycles, the vector, a dead cycle, the first instruction; RESET is seen to end within two cycles.
  static void expect_exit(const std::vector<BusCycle>& log, std::size_t released) {
    std::size_t vector = released;
    while (vector < log.size() && !log[vector].bs) ++vector;
    ASSERT_GE(vector, released + 3);
    ASSERT_LE(vector, released + 5);
    for (std::size_t i = released; i < vector; ++i) expect_held(log[i]);
    const std::vector<Mc6809Cycle>& rows = mc6809_cycles("seq_reset_exit");
    ASSERT_LE(vector + 4, log.size());
    for (std::size_t i = 0; i < rows.size(); ++i) {
      SCOPED_TRACE(i);
      const BusCycle& seen = log[vector - 3 + i];
      EXPECT_EQ(seen.address, evaluate(rows[i].address, {}));
      EXPECT_TRUE(seen.rw && seen.vma);
      EXPECT_EQ(seen.bs, rows[i].bs);
      EXPECT_FALSE(seen.ba);
    }
    EXPECT_EQ(log[vector + 3].address, CpuBench::kStart);
    EXPECT_TRUE(log[vector + 3].fetch);
  }
};

TEST_F(Mc6809Reset, FromPowerOnItHoldsEightCycles) {
  machine().power_cycle();
  bench.poke(0xFFFE, {0x10, 0x00});
  const std::vector<BusCycle> log = bench.log_until(24);
  for (std::size_t i = 0; i < 8; ++i) expect_held(log[i]);
  expect_exit(log, 8);
}

TEST_F(Mc6809Reset, MachineResetHoldsEightCycles) {
  machine().reset();
  const std::vector<BusCycle> log = bench.log_until(start + 24);
  for (std::size_t i = 0; i < 8; ++i) expect_held(log[i]);
  expect_exit(log, 8);
}

TEST_F(Mc6809Reset, SetsTheMasksAndClearsDp) {
  pulse(0, 8, 8);
  for (int i = 0; i < 12 && machine().cpu().state() == CpuState::reset; ++i) machine().step_cycle();
  while (machine().cpu().cycles_into_instruction() != 0) machine().step_cycle();
  const CpuRegisters r = bench.registers();
  EXPECT_EQ(r.cc & (kF | kI), kF | kI);
  EXPECT_EQ(r.dp, 0);
  EXPECT_EQ(r.pc, kPc);
}

TEST_F(Mc6809Reset, ForgetsAnEdgeAndDisarmsNmi) {
  bench.hand("NMI low", early_in(0));  // taken only after the instruction, which RESET cuts short
  bench.hand("NMI high", early_in(20));
  bench.hand("NMI low", early_in(40));
  const std::vector<BusCycle> log = pulse(1, 12, 100);
  EXPECT_FALSE(reads(log, 0xFFFC));
}

TEST_F(Mc6809Reset, CutsAnInstructionShort) {
  bench.poke(kPc, {0xB7, 0x50, 0x00});  // STA $5000, five cycles
  for (Cycle cycle = 1; cycle <= 5; ++cycle) {
    SCOPED_TRACE(cycle);
    const Snapshot snapshot = machine().save();
    const int old = machine().peek(0x5000);
    const std::vector<BusCycle> log = pulse(cycle, cycle + 10, cycle + 20);
    for (std::size_t i = 1; i < 10; ++i) expect_held(log[static_cast<std::size_t>(cycle) + i]);
    expect_exit(log, static_cast<std::size_t>(cycle) + 10);
    if (cycle != 4) {  // in the cycle of the write itself nobody says
      EXPECT_EQ(machine().peek(0x5000), cycle < 4 ? old : kBefore.a);
    }
    machine().restore(snapshot);
  }
}

TEST_F(Mc6809Reset, EndsEveryWait) {
  for (const std::vector<std::uint8_t>& code :
       {std::vector<std::uint8_t>{0x3C, 0xFF}, std::vector<std::uint8_t>{0x13}}) {
    SCOPED_TRACE(code[0]);
    const Snapshot snapshot = machine().save();
    bench.poke(kPc, code);
    const std::vector<BusCycle> log = pulse(30, 45, 60);
    EXPECT_EQ(log[29].ba, code[0] == 0x13);
    for (std::size_t i = 31; i < 45; ++i) expect_held(log[i]);
    expect_exit(log, 45);
    machine().restore(snapshot);
  }
}

TEST_F(Mc6809Reset, EndsAnInterruptEntry) {
  bench.hand("NMI low", early_in(0));
  const std::vector<BusCycle> log = pulse(10, 20, 40);
  for (std::size_t i = 11; i < 20; ++i) expect_held(log[i]);
  expect_exit(log, 20);
}

}  // namespace
}  // namespace prewire::testing
