// Cycles by routine against the sums of the data sheet's cycle counts (MC6800 data sheet, instruction tables; interrupt
// entry: 12 cycles, figure "Interrupt Timing").
#include "prewire/profile.h"

#include "cpu_fixture.h"

namespace prewire::testing {
namespace {

class Profiled {
 public:
  Profiled() {
    // $1000 BSR $1010; BSR $1010; BRA $1004    $1010 BSR $1020; NOP; RTS    $1020 RTS
    bench.poke(CpuBench::kStart, {0x8D, 0x0E, 0x8D, 0x0C, 0x20, 0xFE});
    bench.poke(0x1010, {0x8D, 0x0E, 0x01, 0x39});
    bench.poke(0x1020, {0x39});
    bench.poke(0xFFF8, {0x20, 0x00});
    bench.poke(0x2000, {0x01, 0x3B});  // NOP; RTI
    CpuRegisters r = bench.registers();
    r.s = 0x01FF;
    bench.set(r);
  }
  CpuBench bench;
};

TEST(Profile, GivesEachCycleToOneRoutine) {
  Profiled lab;
  Machine& machine = lab.bench.machine;
  Profile profile(machine);
  machine.watch(profile);
  // BSR takes 8 cycles, NOP 2, RTS 5, BRA 4.
  const Cycle inner = 5, outer = 8 + 2 + 5;
  machine.run_for(2 * (8 + outer + inner) + 4 + 4);
  machine.unwatch(profile);
  const auto routines = profile.routines();
  ASSERT_EQ(routines.size(), 3U);
  EXPECT_EQ(routines[0].name, "(main)");
  EXPECT_EQ(routines[0].own, 2 * 8 + 4 + 4);
  EXPECT_EQ(routines[0].total, profile.cycles());
  EXPECT_EQ(routines[1].name, "$1010");
  EXPECT_EQ(routines[1].calls, 2U);
  EXPECT_EQ(routines[1].own, 2 * outer);
  EXPECT_EQ(routines[1].total, 2 * (outer + inner));
  EXPECT_EQ(routines[1].worst, outer + inner);
  EXPECT_EQ(routines[2].name, "$1020");
  EXPECT_EQ(routines[2].own, 2 * inner);
  EXPECT_EQ(profile.folded(), "(main) 24\n(main);$1010 30\n(main);$1010;$1020 10\n");
  EXPECT_EQ(profile.deepest().bytes, 4);
  EXPECT_NE(profile.text().find("Deepest stack: 4 bytes, S from $01FF down to $01FB before cycle"), std::string::npos)
      << profile.text();
  EXPECT_NE(profile.text().find("by the instruction at $1010\n  $1010 from $1000\n  $1020 from $1010\n"),
            std::string::npos)
      << profile.text();
}

TEST(Profile, CountsCallsThatAreNotOver) {
  Profiled lab;
  Machine& machine = lab.bench.machine;
  Profile profile(machine);
  machine.watch(profile);
  machine.run_for(8 + 8 + 3);  // within the innermost RTS
  machine.unwatch(profile);
  const auto routines = profile.routines();
  ASSERT_EQ(routines.size(), 3U);
  EXPECT_EQ(routines[0].own, 8);
  EXPECT_EQ(routines[1].own, 8);
  EXPECT_EQ(routines[1].total, 8 + 3);
  EXPECT_EQ(routines[2].own, 3);
  EXPECT_EQ(routines[2].worst, 0);
  EXPECT_EQ(profile.folded(), "(main) 8\n(main);$1010 8\n(main);$1010;$1020 3\n");
}

TEST(Profile, MeasuresInterrupts) {
  Profiled lab;
  CpuRegisters r = lab.bench.registers();
  r.pc = 0x1004;  // BRA *, four cycles
  r.cc = 0xC0;
  lab.bench.set(r);
  Machine& machine = lab.bench.machine;
  Profile profile(machine);
  machine.watch(profile);
  const Cycle start = machine.now();
  // Low from the end of the second cycle on: taken after the first BRA.
  lab.bench.hand("IRQ low", e_fall(start + 1));
  lab.bench.hand("IRQ high", e_fall(start + 8));
  machine.run_for(4 + 12 + 2 + 10 + 4);
  machine.unwatch(profile);
  const auto interrupts = profile.interrupts();
  ASSERT_EQ(interrupts.size(), 1U);
  EXPECT_EQ(interrupts[0].kind, CallKind::irq);
  EXPECT_EQ(interrupts[0].handler, "$2000");
  EXPECT_EQ(interrupts[0].count, 1U);
  EXPECT_EQ(interrupts[0].latency.most, 4 * (2 + 12));
  EXPECT_EQ(interrupts[0].duration.most, 12 + 2 + 10);
  EXPECT_EQ(interrupts[0].slowest_at, start + 4);
  EXPECT_EQ(profile.folded(), "(main) 8\n(main);IRQ:$2000 24\n");
}

TEST(Profile, MeasuresALineThatStaysLowFromTheReturn) {
  Profiled lab;
  CpuRegisters r = lab.bench.registers();
  r.pc = 0x1004;
  r.cc = 0xC0;
  lab.bench.set(r);
  Machine& machine = lab.bench.machine;
  Profile profile(machine);
  machine.watch(profile);
  lab.bench.hand("IRQ low");
  machine.run_for(100);
  machine.unwatch(profile);
  const auto interrupts = profile.interrupts();
  ASSERT_EQ(interrupts.size(), 1U);
  EXPECT_GT(interrupts[0].latency.count, 2U);
  EXPECT_EQ(interrupts[0].latency.least, 4 * 12);  // at once after the return
}

}  // namespace
}  // namespace prewire::testing
