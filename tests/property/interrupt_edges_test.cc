// Interrupt requests that begin and end at every quarter of a cycle, over loops of all instructions that change what
// interrupts may do, of those that wait, and of all ways in which an MC6809's instructions spend their cycles. Watched
// or not, at once or in two pieces, the machine ends in the same state.
#include <gtest/gtest.h>

#include <algorithm>

#include "cpu_fixture.h"

namespace prewire::testing {
namespace {

/// A loop at `CpuBench::kStart` that ends with `BRA` to its start.
struct Loop {
  std::string name;
  CpuBench::Parts parts;
  std::vector<std::uint8_t> code;
  bool waits = false;
  bool thorough = true;  ///< end after many widths, cut often

  friend void PrintTo(const Loop& loop, std::ostream* out) { *out << loop.name; }
};

const std::vector<std::uint8_t> kWaits{0x0E, 0x08, 0x3E, 0x08, 0x20, 0xFA};  // CLI; INX; WAI; INX
// NOP; SEI; INX; CLI; INX; SEI; CLRA; TAP; SWI; LDAA #$10; TAP; CLI
const std::vector<std::uint8_t> kMasks{0x01, 0x0F, 0x08, 0x0E, 0x08, 0x0F, 0x4F, 0x06,
                                       0x3F, 0x86, 0x10, 0x06, 0x0E, 0x20, 0xF1};
// ANDCC #$AF; LEAX 1,X; CWAI #$AF; LEAX 1,X
const std::vector<std::uint8_t> kMc6809Waits{0x1C, 0xAF, 0x30, 0x01, 0x3C, 0xAF, 0x30, 0x01, 0x20, 0xF6};
// ANDCC #$AF; LEAX 1,X; SYNC; NOP
const std::vector<std::uint8_t> kMc6809Syncs{0x1C, 0xAF, 0x30, 0x01, 0x13, 0x12, 0x20, 0xF8};
// ORCC #$50; LEAX 1,X; ANDCC #$EF; NOP; ORCC #$50; ANDCC #$BF; NOP; LDA #$50; TFR A,CC; CLRB; EXG B,CC; SWI; SWI2;
// PSHS CC; ORCC #$50; PULS CC
const std::vector<std::uint8_t> kMc6809Masks{0x1A, 0x50, 0x30, 0x01, 0x1C, 0xEF, 0x12, 0x1A, 0x50, 0x1C,
                                             0xBF, 0x12, 0x86, 0x50, 0x1F, 0x8A, 0x5F, 0x1E, 0x9A, 0x3F,
                                             0x10, 0x3F, 0x34, 0x01, 0x1A, 0x50, 0x35, 0x01, 0x20, 0xE2};
// One instruction of each cycle group: LDX #; LDY #; LDU #; LDA <; LDA >; LDA ,X; STA <; STA >; STA ,X; INC <; INC >;
// INC ,X; TST <; TST >; TST ,X; ADDD #; ADDD <; ADDD >; ADDD ,X; CMPY #; CMPY <; CMPY >; CMPY ,X; LDD <; LDD >; LDD ,X;
// LDY <; LDY >; LDY ,X; STD <; STD >; STD ,X; STY <; STY >; STY ,X
const std::vector<std::uint8_t> kMc6809Memory{
    0x8E, 0x01, 0x00, 0x10, 0x8E, 0x01, 0x10, 0xCE, 0x01, 0x20, 0x96, 0x40, 0xB6, 0x00, 0x41, 0xA6, 0x84, 0x97,
    0x42, 0xB7, 0x00, 0x43, 0xA7, 0x1F, 0x0C, 0x44, 0x7C, 0x00, 0x45, 0x6C, 0x03, 0x0D, 0x44, 0x7D, 0x00, 0x45,
    0x6D, 0x88, 0x05, 0xC3, 0x01, 0x02, 0xD3, 0x40, 0xF3, 0x00, 0x40, 0xE3, 0x80, 0x10, 0x8C, 0x01, 0x11, 0x10,
    0x9C, 0x40, 0x10, 0xBC, 0x00, 0x40, 0x10, 0xAC, 0x81, 0xDC, 0x40, 0xFC, 0x00, 0x40, 0xEC, 0x82, 0x10, 0x9E,
    0x40, 0x10, 0xBE, 0x00, 0x40, 0x10, 0xAE, 0x83, 0xDD, 0x48, 0xFD, 0x00, 0x4A, 0xED, 0x9F, 0x00, 0x54, 0x10,
    0x9F, 0x4C, 0x10, 0xBF, 0x00, 0x4E, 0x10, 0xAF, 0x89, 0x00, 0x10, 0x20, 0x99};
// LDX #; LDA #; LEAY ,X; BSR; LBSR; JSR <; JSR >; JSR ,X (all to an RTS); JMP <; JMP >; JMP n,PCR; BNE; LBEQ; LBNE;
// LBRN; LBRA; ABX; MUL; EXG; TFR; PSHS; PULS; PSHU; PULU; SWI3
const std::vector<std::uint8_t> kMc6809Jumps{
    0x8E, 0x00, 0x50, 0x86, 0x01, 0x31, 0x84, 0x8D, 0x46, 0x17, 0x00, 0x43, 0x9D, 0x50, 0xBD, 0x00,
    0x50, 0xAD, 0x84, 0x0E, 0x60, 0x7E, 0x10, 0x18, 0x6E, 0x8C, 0x00, 0x26, 0x00, 0x10, 0x27, 0x00,
    0x00, 0x10, 0x26, 0x00, 0x00, 0x10, 0x21, 0x00, 0x00, 0x16, 0x00, 0x00, 0x3A, 0x3D, 0x1E, 0x12,
    0x1F, 0x89, 0x34, 0x76, 0x35, 0x76, 0x36, 0x36, 0x37, 0x36, 0x11, 0x3F, 0x20, 0xC2};

class InterruptEdges : public ::testing::TestWithParam<std::pair<std::string, Loop>> {
 protected:
  static const std::string& pin() { return GetParam().first; }
  static const Loop& loop() { return GetParam().second; }
  static bool mc6809() { return loop().parts.cpu.find("mc6809") != std::string::npos; }
  /// Little memory makes for quick snapshots.
  static CpuBench::Parts small() {
    CpuBench::Parts parts = loop().parts;
    parts.chips = R"("LOW": {"type": "ram", "at": "$0000-$23FF"}, "TOP": {"type": "ram", "at": "$FF00-$FFFF"})";
    return parts;
  }
  InterruptEdges() : bench(small()) {
    Machine& machine = bench.machine;
    bench.poke(0xFFF2, {0x21, 0x00, 0x21, 0x00, 0x23, 0x00, 0x20, 0x00, 0x21, 0x00, 0x22, 0x00});
    bench.poke(0x2000, {0x7C, 0x00, 0x40, 0x3B});  // INC $0040; RTI
    bench.poke(0x2200, {0x7C, 0x00, 0x41, 0x3B});  // INC $0041; RTI
    bench.poke(0x2300, {0x7C, 0x00, 0x42, 0x3B});  // INC $0042; RTI
    if (mc6809()) {
      bench.poke(0x2100, {0x12, 0x1C, 0xAF, 0x12, 0x3B});  // NOP; ANDCC #$AF; NOP; RTI
      bench.poke(0x0050, {0x39});                          // RTS
      bench.poke(0x0054, {0x01, 0x80});                    // where STD [$0054] stores
      bench.poke(0x0060, {0x7E, 0x10, 0x15});              // back from JMP <
      bench.poke(CpuBench::kStart + 0x4F, {0x39});
      bench.poke(0x1F00, {0x10, 0xCE, 0x01, 0xFF, 0xCE, 0x01, 0x60, 0x1C, 0xAF, 0x7E, CpuBench::kStart >> 8,
                          0});  // LDS #; LDU #; ANDCC #$AF
    } else {
      bench.poke(0x2100, {0x01, 0x0E, 0x01, 0x3B});  // NOP; CLI; NOP; RTI
      bench.poke(0x1F00, {0x8E, 0x01, 0xFF, 0x7E, CpuBench::kStart >> 8, 0});
    }
    bench.poke(CpuBench::kStart, loop().code);
    CpuRegisters r = bench.registers();
    r.pc = 0x1F00;
    bench.set(r);
    // Twice through everything, handlers included, so that it is all plain memory to the processor.
    for (const std::string& each : loop().parts.held) {
      if (each != "IRQ" && each != "NMI" && each != "FIRQ") continue;
      bench.hand(each + " low", stamp_of(machine.now() + 10));
      bench.hand(each + " high", stamp_of(machine.now() + 60));
      machine.run_for(600);
    }
    to_start();
    begin = machine.save();
    start = machine.now();
    // Once round, to know how long that takes.
    machine.step_instruction();
    to_start();
    length = machine.now() - start;
  }
  void to_start() {
    Machine& machine = bench.machine;
    for (int limit = 0; limit < 5000; ++limit) {
      if (bench.registers().pc == CpuBench::kStart && machine.cpu().cycles_into_instruction() == 0) return;
      if (machine.cpu().state() == CpuState::waiting) bench.hand("NMI low");
      machine.step_cycle();
      bench.hand("NMI high");
    }
    FAIL() << "never came round";
  }

  /// From the beginning, with the pin low from `from` on for `width` quarter cycles.
  void pulse(Stamp from, Stamp width) {
    bench.machine.restore(begin);
    bench.hand(pin() + " low", stamp_of(start) + from);
    bench.hand(pin() + " high", stamp_of(start) + from + width);
  }

  CpuBench bench;
  Snapshot begin;
  Cycle start = 0, length = 0;
};

TEST_P(InterruptEdges, EndInTheSameState) {
  Machine& machine = bench.machine;
  const Cycle end = start + length + 40;
  const int vector = pin() == "IRQ" ? 0xFFF8 : pin() == "FIRQ" ? 0xFFF6 : 0xFFFC;
  const std::vector<Stamp> widths =
      loop().thorough ? std::vector<Stamp>{1, 2, 3, 4, 5, 8, 13, 40} : std::vector<Stamp>{5, 40};
  int taken = 0, missed = 0;
  Snapshot observed, other;
  for (Stamp from = 0; from < 4 * length; ++from) {
    for (const Stamp width : widths) {
      pulse(from, width);
      const std::vector<BusCycle> log = bench.log_until(end);
      machine.save(observed);
      const bool entered = std::any_of(log.begin(), log.end(), [&](const BusCycle& c) { return c.address == vector; });
      (entered ? taken : missed) += 1;

      pulse(from, width);
      machine.run_until(end);
      machine.save(other);
      ASSERT_EQ(other, observed) << "unobserved, low from " << from << " for " << width;
      for (Cycle cut = start + 1; cut < end; ++cut) {
        const bool at_the_edge = cut == start + (from + width) / 4;
        const bool often = loop().thorough && from % 6 == 0 && width <= 5;
        if (!at_the_edge && !often) continue;
        pulse(from, width);
        machine.run_until(cut);
        machine.run_until(end);
        machine.save(other);
        ASSERT_EQ(other, observed) << "in two pieces, low from " << from << " for " << width << ", cut at "
                                   << cut - start;
      }
    }
  }
  EXPECT_GT(taken, 100);
  const bool edge = pin() == "NMI";
  if (!edge && loop().thorough) {
    EXPECT_GT(missed, loop().waits ? 10 : 100);
  }
  // The MC6809 sees an edge of NMI only between two levels that it has latched.
  if (edge && !mc6809()) {
    EXPECT_EQ(missed, 0);
  }
}

// A request that begins and ends while the processor comes back from HALT is seen by a boundary after that.
TEST_P(InterruptEdges, EndInTheSameStateAroundAHalt) {
  Machine& machine = bench.machine;
  constexpr Cycle kLow = 3, kHigh = 12, kEnd = 60;
  const auto halt_and_pulse = [&](Stamp from, Stamp width) {
    pulse(from, width);
    bench.hand("HALT low", stamp_of(start + kLow) + 1);
    bench.hand("HALT high", stamp_of(start + kHigh) + 1);
  };
  Snapshot observed, other;
  for (Stamp from = 4 * (kHigh - 2); from < 4 * (kHigh + 8); ++from) {
    for (const Stamp width : {1, 2, 3, 4, 5, 6, 8}) {
      halt_and_pulse(from, width);
      bench.log_until(start + kEnd);
      machine.save(observed);
      for (Cycle cut = kHigh; cut < kHigh + 16; ++cut) {
        halt_and_pulse(from, width);
        machine.run_until(start + cut);
        machine.run_until(start + kEnd);
        machine.save(other);
        ASSERT_EQ(other, observed) << "low from " << from << " for " << width << ", cut at " << cut;
      }
    }
  }
}

std::vector<std::pair<std::string, Loop>> pins_and_loops() {
  std::vector<std::pair<std::string, Loop>> all;
  for (const Loop& loop : {Loop{"Masks", CpuBench::Parts{}, kMasks}, Loop{"Waits", CpuBench::Parts{}, kWaits, true}}) {
    for (const char* pin : {"IRQ", "NMI"}) all.emplace_back(pin, loop);
  }
  for (const Loop& loop : {Loop{"Mc6809Masks", CpuBench::mc6809(), kMc6809Masks},
                           Loop{"Mc6809Cwai", CpuBench::mc6809(), kMc6809Waits, true},
                           Loop{"Mc6809Sync", CpuBench::mc6809(), kMc6809Syncs, true},
                           Loop{"Mc6809Memory", CpuBench::mc6809(), kMc6809Memory, false, false},
                           Loop{"Mc6809Jumps", CpuBench::mc6809(), kMc6809Jumps, false, false}}) {
    for (const char* pin : {"IRQ", "FIRQ", "NMI"}) all.emplace_back(pin, loop);
  }
  return all;
}

INSTANTIATE_TEST_SUITE_P(Pins, InterruptEdges, ::testing::ValuesIn(pins_and_loops()),
                         [](const auto& test) { return test.param.first + test.param.second.name; });

}  // namespace
}  // namespace prewire::testing
