// What is shown where no chip answers, or only half of one: the bytes that the processor takes, and data lines.
#include "machine_fixture.h"

namespace prewire::testing {
namespace {

TEST(OpenBus, ShowsTheBytesThatAreFetched) {
  Bench bench("");
  // JMP $904C: the last byte on the bus is $4C, which is INCA for the MC6800, and stays there.
  bench.poke(Bench::kCode, "7E 90 4C");
  bench.set("PC", Bench::kCode);
  bench.set("A", 5);
  bench.machine.step_instruction();
  EXPECT_EQ(bench.reg("PC"), 0x904C);
  EXPECT_EQ(disassemble(bench.machine, 0x904C).text, "INCA");  // before it is fetched
  bench.machine.step_cycle();
  EXPECT_EQ(disassemble(bench.machine, 0x904C).text, "INCA");  // and after
  bench.machine.step_instruction();
  EXPECT_EQ(bench.reg("A"), 6);
  EXPECT_EQ(code_at(bench.machine, 0x904D)[0], 0x4C);
  // Elsewhere memory is looked at, as `peek` does.
  EXPECT_EQ(code_at(bench.machine, 0x9800)[0], bench.machine.peek(0x9800));
}

TEST(OpenBus, ShowsOperandsOfTheInstruction) {
  Bench bench("");
  bench.poke(Bench::kCode, "7E 90 CE");  // CE CE CE: LDX #$CECE
  bench.set("PC", Bench::kCode);
  bench.machine.step_instruction();
  EXPECT_EQ(disassemble(bench.machine, 0x90CE).text, "LDX #$CECE");
  bench.machine.step_instruction();
  EXPECT_EQ(bench.reg("X"), 0xCECE);
}

TEST(OpenBus, TellsHalves) {
  Bench bench(R"("LOW": {"type": "2114", "at": "$2000-$23FF", "data": "D0-D3", "power_up": "zeros"})");
  bench.write(0x2010, 0xA5);
  EXPECT_EQ(bench.machine.lines_at(0x2010), 0x0F);
  EXPECT_EQ(byte_text(bench.machine, 0x2010), "-5");
  EXPECT_EQ(bench.machine.lines_at(0x9000), 0x00);
  EXPECT_EQ(byte_text(bench.machine, 0x9000), "--");
  EXPECT_EQ(bench.machine.lines_at(0x0100), 0xFF);
  EXPECT_EQ(byte_text(bench.machine, 0x0100), "86");
}

}  // namespace
}  // namespace prewire::testing
