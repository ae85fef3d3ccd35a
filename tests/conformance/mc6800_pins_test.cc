// HALT, BA, TSC and DBE, and what is different in the MC6802 and MC6808. Sources: MC6800 data sheet p. 9 (HALT lets the
// instruction finish, BA; interrupts wait while halted; TSC example; read), its HALT and single-step figure (from
// memory), M6800-MPU (tests/data/cpu/README.md) p. 10 (HALT; read), MC6802 data sheet p. 1 (RAM; read) and pin
// descriptions (from memory).
#include <gtest/gtest.h>

#include <algorithm>

#include "conformance/bus_log.h"
#include "conformance/mc6800_tables.h"
#include "cpu_fixture.h"

namespace prewire::testing {
namespace {

class Mc6800Pins : public ::testing::Test {
 protected:
  explicit Mc6800Pins(const CpuBench::Parts& parts = {}) : bench(parts) {
    bench.poke(0xFFF8, {0x20, 0x00, 0x40, 0x00, 0x30, 0x00});
    for (const std::uint16_t at : {std::uint16_t{0x2000}, std::uint16_t{0x3000}, CpuBench::kStart}) {
      bench.poke(at, std::vector<std::uint8_t>(100, kNop));
    }
    CpuRegisters r = bench.registers();
    r.s = 0x01FF;
    r.cc = 0xC0;
    bench.set(r);
    start = bench.machine.now();
  }
  Machine& machine() { return bench.machine; }

  /// One letter a cycle: F fetch, r read, w write, - dead, h buses free.
  static std::string picture(const std::vector<BusCycle>& log) {
    std::string text;
    for (const BusCycle& c : log) text += c.ba ? 'h' : !c.vma ? '-' : c.fetch ? 'F' : c.rw ? 'r' : 'w';
    return text;
  }

  CpuBench bench;
  Cycle start = 0;
};

// ---------------------------------------------------------------------------------------------------------------------
// HALT and BA

TEST_F(Mc6800Pins, HaltLetsTheInstructionFinish) {
  bench.poke(CpuBench::kStart, {0xB7, 0x50, 0x00});  // STAA $5000
  bench.hand("HALT low", e_fall(start) - 3);         // during the opcode fetch
  EXPECT_EQ(picture(bench.log_until(start + 10)), "Frr-whhhhh");
  EXPECT_EQ(machine().cpu().state(), CpuState::halted);
  EXPECT_EQ(bench.registers().pc, CpuBench::kStart + 3);
}

TEST_F(Mc6800Pins, HaltInTheLastCycleIsTooLateForThisInstruction) {
  bench.poke(CpuBench::kStart, {0xB7, 0x50, 0x00});
  bench.hand("HALT low", e_fall(start + 4));
  EXPECT_EQ(picture(bench.log_until(start + 12)), "Frr-wFrhhhhh");
}

TEST_F(Mc6800Pins, HaltedBusesAreFree) {
  bench.hand("HALT low", e_fall(start) - 3);
  const std::vector<BusCycle> log = bench.log_until(start + 20);
  for (std::size_t i = 2; i < log.size(); ++i) {
    EXPECT_TRUE(log[i].ba);
    EXPECT_FALSE(log[i].vma);
    EXPECT_TRUE(log[i].rw);
    EXPECT_FALSE(log[i].driven);
  }
  EXPECT_EQ(machine().net("CPU.BA")->level, Level::high);
  bench.hand("HALT high", e_fall(start + 20));
  machine().run_until(start + 24);
  EXPECT_EQ(machine().net("CPU.BA")->level, Level::low);
}

TEST_F(Mc6800Pins, GoesOnWhereItWasHalted) {
  bench.hand("HALT low", e_fall(start) - 3);
  bench.hand("HALT high", e_fall(start + 9));
  EXPECT_EQ(fetches(bench.log_until(start + 17)),
            (std::vector<int>{CpuBench::kStart, CpuBench::kStart + 1, CpuBench::kStart + 2, CpuBench::kStart + 3}));
}

TEST_F(Mc6800Pins, HaltHighForOneCycleIsOneInstruction) {
  bench.poke(CpuBench::kStart,
             {0x86, 0x12, 0x08, 0x7A, 0x50, 0x00, 0x01, 0xBD, 0x10, 0x20});  // 2, 4, 6, 2 and 9 cycles
  bench.hand("HALT low", e_fall(start) - 3);
  Cycle at = start + 10;
  for (int i = 0; i < 4; ++i) {
    bench.hand("HALT high", e_fall(at));
    bench.hand("HALT low", e_fall(at + 1));
    at += 25;
  }
  EXPECT_EQ(fetches(bench.log_until(at)), (std::vector<int>{0x1000, 0x1002, 0x1003, 0x1006, 0x1007}));
  EXPECT_EQ(bench.registers().pc, 0x1020);
}

TEST_F(Mc6800Pins, NmiIsRememberedWhileHalted) {
  bench.hand("HALT low", e_fall(start) - 3);
  bench.hand("NMI low", e_fall(start + 10));
  bench.hand("NMI high", e_fall(start + 12));
  EXPECT_EQ(picture(bench.log_until(start + 30)).substr(2), std::string(28, 'h'));
  bench.hand("HALT high", e_fall(start + 30));
  const std::vector<BusCycle> log = bench.log_until(start + 50);
  EXPECT_TRUE(std::any_of(log.begin(), log.end(), [](const BusCycle& c) { return c.address == 0xFFFC && c.vma; }));
  EXPECT_EQ(fetches(log)[1], 0x3000);
}

TEST_F(Mc6800Pins, IrqHasToLastUntilHaltEnds) {
  for (const bool lasts : {false, true}) {
    SCOPED_TRACE(lasts);
    const Snapshot snapshot = machine().save();
    const Cycle now = machine().now();
    bench.hand("HALT low", e_fall(now) - 3);
    bench.hand("IRQ low", e_fall(now + 10));
    if (!lasts) bench.hand("IRQ high", e_fall(now + 15));
    bench.hand("HALT high", e_fall(now + 20));
    const std::vector<BusCycle> log = bench.log_until(now + 50);
    EXPECT_EQ(std::any_of(log.begin(), log.end(), [](const BusCycle& c) { return c.address == 0xFFF8 && c.vma; }),
              lasts);
    machine().restore(snapshot);
  }
}

TEST_F(Mc6800Pins, HaltHoldsBackTheEndOfAWait) {
  bench.poke(CpuBench::kStart, {0x3E});
  bench.hand("HALT low", e_fall(start + 20));
  bench.hand("NMI low", e_fall(start + 30));
  bench.hand("HALT high", e_fall(start + 40));
  const std::vector<BusCycle> log = bench.log_until(start + 60);
  for (std::size_t i = 9; i <= 41; ++i) EXPECT_TRUE(log[i].ba) << i;
  const auto vector = std::find_if(log.begin(), log.end(), [](const BusCycle& c) { return c.address == 0xFFFC; });
  ASSERT_NE(vector, log.end());
  EXPECT_GT(vector - log.begin(), 41);
}

// ---------------------------------------------------------------------------------------------------------------------
// TSC and DBE, MC6800 only

// MC6800 data sheet p. 9: TSC takes cycles 3 and 4, in cycle 5 it is too late for an access, execution goes on in
// cycle 6.
TEST_F(Mc6800Pins, TscTakesItsCyclesAndOneMore) {
  bench.poke(CpuBench::kStart, {0xB7, 0x50, 0x00});
  bench.hand("TSC high", e_fall(start + 1));
  bench.hand("TSC low", e_fall(start + 3));
  const std::vector<BusCycle> log = bench.log_until(start + 10);
  EXPECT_EQ(picture(log), "Fr---r-wFr");
  for (std::size_t i = 2; i < 5; ++i) {
    EXPECT_FALSE(log[i].vma);
    EXPECT_FALSE(log[i].ba);
    EXPECT_TRUE(log[i].rw);
  }
}

// Who steps by instructions does not wait for ever, and may go on.
TEST_F(Mc6800Pins, AStepUnderTscComesToAnEnd) {
  bench.poke(CpuBench::kStart, {0xB7, 0x50, 0x00});
  const Snapshot snapshot = machine().save();
  const std::vector<BusCycle> plain = bench.log_until(start + 5);
  machine().restore(snapshot);
  bench.hand("TSC high", e_fall(start + 1));
  machine().step_instruction();
  EXPECT_EQ(machine().now(), start + 1'000'000);
  EXPECT_EQ(machine().cpu().cycles_into_instruction(), 2);
  bench.hand("TSC low");
  std::vector<BusCycle> log = bench.log([&] { machine().step_instruction(); });
  std::erase_if(log, [](const BusCycle& cycle) { return !cycle.vma; });
  ASSERT_EQ(log.size(), 2U);
  EXPECT_EQ(log[0].address, plain[2].address);
  EXPECT_EQ(log[1].address, 0x5000);
  EXPECT_EQ(machine().cpu().cycles_into_instruction(), 0);
}

TEST_F(Mc6800Pins, TscDelaysAndChangesNothingElse) {
  // A loop over all kinds of cycles.
  bench.poke(CpuBench::kStart, {0x8E, 0x01, 0xFF, 0xCE, 0x50, 0x10, 0x86, 0x77, 0x36, 0xA7,
                                0x05, 0x6A, 0x05, 0x8D, 0x03, 0x32, 0x20, 0xF4, 0x3F, 0x39});
  bench.poke(0x4000, {0x3B});
  const Snapshot snapshot = machine().save();
  std::vector<BusCycle> plain = bench.log_until(start + 120);
  for (Cycle first = 0; first < 60; ++first) {
    machine().restore(snapshot);
    bench.hand("TSC high", e_fall(start + first));
    bench.hand("TSC low", e_fall(start + first + 3));
    std::vector<BusCycle> log = bench.log_until(start + 120 + 4);
    const auto stolen = log.begin() + first + 1;
    for (auto cycle = stolen; cycle != stolen + 4; ++cycle) EXPECT_FALSE(cycle->vma);
    log.erase(stolen, stolen + 4);
    ASSERT_EQ(log.size(), plain.size());
    for (std::size_t i = 0; i < log.size(); ++i) {
      log[i].cycle = plain[i].cycle;
      ASSERT_EQ(log[i], plain[i]) << "TSC after cycle " << first;
    }
  }
}

TEST_F(Mc6800Pins, WithoutDbeAWriteCarriesWhatTheBusHolds) {
  bench.poke(CpuBench::kStart, {0xB7, 0x50, 0x00});
  bench.poke(0x5000, {0x33});
  CpuRegisters r = bench.registers();
  r.a = 0x77;
  bench.set(r);
  bench.hand("DBE low", e_fall(start + 3));
  bench.hand("DBE high", e_fall(start + 4));
  const std::vector<BusCycle> log = bench.log_until(start + 5);
  EXPECT_FALSE(log[4].driven);
  EXPECT_FALSE(log[4].rw);
  EXPECT_TRUE(log[4].vma);
  EXPECT_EQ(log[4].data, 0x00);  // the low byte of the address, read in cycle 3
  EXPECT_NE(machine().peek(0x5000), 0x77);
}

TEST_F(Mc6800Pins, DbeDoesNotMatterInReads) {
  const Snapshot snapshot = machine().save();
  const std::vector<BusCycle> plain = bench.log_until(start + 20);
  machine().restore(snapshot);
  bench.hand("DBE low", e_fall(start));
  EXPECT_EQ(bench.log_until(start + 20), plain);
}

// ---------------------------------------------------------------------------------------------------------------------
// MC6802 and MC6808

CpuBench::Parts without_page_zero(const std::string& type, const std::string& ram = "") {
  CpuBench::Parts parts = CpuBench::crystal_part(type);
  parts.cpu += ram;
  parts.chips = R"("RAM": {"type": "ram", "at": "$0100-$FFFF"})";
  return parts;
}

TEST(Mc6802, Has128BytesOfRam) {
  CpuBench bench(without_page_zero("mc6802"));
  // LDAA #$A5; STAA $7F; LDAB $7F; STAA $80
  bench.poke(CpuBench::kStart, {0x86, 0xA5, 0x97, 0x7F, 0xD6, 0x7F, 0x97, 0x80});
  const std::vector<BusCycle> log = bench.log_until(bench.machine.now() + 2 + 4 + 3 + 4);
  EXPECT_EQ(bench.registers().b, 0xA5);
  EXPECT_TRUE(log[8].driven);
  for (int at = 0; at < 0x80; ++at) EXPECT_EQ(bench.machine.answering(static_cast<std::uint16_t>(at)).size(), 1U) << at;
  EXPECT_EQ(bench.machine.answering(0x0080).size(), 0U);
  ASSERT_EQ(bench.machine.findings().size(), 1U);
  EXPECT_EQ(bench.machine.findings()[0].id, "unmapped-write");  // $0080
}

TEST(Mc6802, RamCanBeDisabled) {
  CpuBench bench(without_page_zero("mc6802", R"(, "ram": false)"));
  EXPECT_EQ(bench.machine.answering(0x0000).size(), 0U);
}

TEST(Mc6808, HasNoRam) {
  CpuBench bench(without_page_zero("mc6808"));
  EXPECT_EQ(bench.machine.answering(0x0000).size(), 0U);
}

class Mc6802And6808 : public ::testing::TestWithParam<std::string> {
 protected:
  CpuBench bench{without_page_zero(GetParam())};
};

TEST_P(Mc6802And6808, DivideTheCrystalByFour) { EXPECT_EQ(bench.machine.timebase().millihertz(), 1'000'000'000); }

TEST_P(Mc6802And6808, RunTheSameCycles) {
  CpuBench mc6800;
  CpuRegisters r{0x12, 0x34, 0x2100, 0x01FF, CpuBench::kStart, 0xC0};
  std::vector<std::vector<BusCycle>> logs;
  for (CpuBench* each : {&bench, &mc6800}) {
    for (int at = 0x100; at < 0x10000; ++at) each->machine.poke(static_cast<std::uint16_t>(at), kNop);
    each->poke(CpuBench::kStart, {0xA7, 0x05, 0x36, 0x6D, 0x07, 0x8D, 0x02, 0x32, 0x3F, 0x39});
    each->set(r);
    each->hand("NMI low", e_fall(each->machine.now() + 40));
    logs.push_back(each->log_until(each->machine.now() + 100));
  }
  EXPECT_EQ(logs[0], logs[1]);
}

// Memory ready (MC6802 data sheet, MR; from memory): while it is low, E stays high, by integral numbers of half
// periods, whatever the cycle is for. That it is looked at a quarter before E should fall is a choice
// (docs/accuracy.md).
TEST_P(Mc6802And6808, MemoryReadyStretchesByHalvesOfACycle) {
  CpuBench::Parts parts = without_page_zero(GetParam());
  parts.held.emplace_back("MR");
  parts.chips += R"(, "EAR": {"type": "ear"})";
  parts.wires = R"(["CPU.E", "EAR.E"])";
  CpuBench slow(parts);
  slow.poke(CpuBench::kStart, {0xB7, 0x50, 0x00, kNop, kNop, kNop});  // STAA $5000: VMA is low in its fourth cycle
  const Cycle start = slow.machine.now();
  const Snapshot snapshot = slow.machine.save();
  const std::vector<BusCycle> plain = slow.log_until(start + 7);
  struct Edges final : Observer {
    unsigned wants() const override { return kNets; }
    void on_net(std::string_view net, const NetState& state, Stamp when) override {
      if (net == "CPU.E") (state.level == Level::high ? rises : falls).push_back(when);
    }
    std::vector<Stamp> rises, falls;
  };
  for (std::size_t cycle = 0; cycle < 6; ++cycle) {
    for (Stamp high = 2; high < 16; ++high) {
      SCOPED_TRACE(fmt::format("cycle {} until {}", cycle, high));
      slow.machine.restore(snapshot);
      const Stamp begin = plain[cycle].begin();
      slow.hand("MR low", begin + 1);
      slow.hand("MR high", begin + high);
      Edges edges;
      slow.machine.watch(edges);
      const std::vector<BusCycle> log = slow.log_until(start + 7 + 4);
      slow.machine.unwatch(edges);
      const Stamp late = high < 3 ? 0 : (high - 3) / 2 * 2 + 2;
      for (std::size_t i = 0; i < plain.size(); ++i) {
        EXPECT_EQ(log[i].fall(), plain[i].fall() + (i >= cycle ? late : 0));
        EXPECT_EQ(edges.rises[i], plain[i].begin() + 2 + (i > cycle ? late : 0));
        EXPECT_EQ(edges.falls[i], log[i].fall());
        EXPECT_EQ(log[i].stretch, i == cycle ? late : 0);
        EXPECT_EQ(log[i].address, plain[i].address);
        EXPECT_EQ(log[i].vma, plain[i].vma);
      }
    }
  }
}

// The address bus has no high-impedance state: it shows the next instruction (MC6802 data sheet, from memory).
TEST_P(Mc6802And6808, KeepTheAddressBusWhileHalted) {
  bench.poke(CpuBench::kStart, {kNop, kNop, kNop});
  const Cycle start = bench.machine.now();
  bench.hand("HALT low", e_fall(start) - 3);
  const std::vector<BusCycle> log = bench.log_until(start + 6);
  for (std::size_t i = 2; i < log.size(); ++i) {
    EXPECT_EQ(log[i].address, CpuBench::kStart + 1);
    EXPECT_TRUE(log[i].ba && !log[i].vma && log[i].rw);
  }
}

INSTANTIATE_TEST_SUITE_P(Parts, Mc6802And6808, ::testing::Values("mc6802", "mc6808"),
                         [](const auto& test) { return test.param; });

}  // namespace
}  // namespace prewire::testing
