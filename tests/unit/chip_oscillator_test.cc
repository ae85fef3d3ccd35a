// The oscillator: edges where they have to be, and none where a beat will do.
#include "machine_fixture.h"

namespace prewire::testing {
namespace {

/// An oscillator on the processor's NMI, an input that wants its edges.
Bench on_nmi(std::string_view frequency) {
  return Bench(fmt::format(R"("OSC": {{"type": "oscillator", "frequency": "{}"}})", frequency),
               R"(["OSC.OUT", "CPU.NMI"])");
}

/// What happens from cycle 20, when the processor is out of reset, to another one.
std::string until(Bench& bench, Cycle cycles) {
  bench.set("S", 0x07FF);
  bench.machine.run_until(20);
  History history;
  bench.machine.watch(history);
  bench.machine.run_until(cycles);
  bench.machine.unwatch(history);
  return history.take();
}

TEST(Oscillator, IsASquareWaveThatRisesAtPowerOn) {
  // 100 kHz at a processor clock of 1 MHz: a rise every ten cycles.
  Bench bench = on_nmi("100 kHz");
  EXPECT_EQ(until(bench, 47),
            "25.0 CPU.NMI low\n"
            "30.0 CPU.NMI high\n"
            "35.0 CPU.NMI low\n"
            "40.0 CPU.NMI high\n"
            "45.0 CPU.NMI low\n");
}

TEST(Oscillator, RoundsEachEdgeByItself) {
  // 300 kHz: half a period is 6 2/3 quarter cycles; edges 13 to 18 lie at 87, 93, 100, 107, 113 and 120 of them.
  Bench bench = on_nmi("300 kHz");
  EXPECT_EQ(until(bench, 31),
            "21.3 CPU.NMI low\n"
            "23.1 CPU.NMI high\n"
            "25.0 CPU.NMI low\n"
            "26.3 CPU.NMI high\n"
            "28.1 CPU.NMI low\n"
            "30.0 CPU.NMI high\n");
}

TEST(Oscillator, DoesNotDrift) {
  // 3 Hz: after a second at 1 MHz the sixth edge lies at the millionth cycle, whatever was rounded before.
  Bench bench = on_nmi("3 Hz");
  EXPECT_EQ(until(bench, 1'000'001),
            "166666.3 CPU.NMI low\n"
            "333333.1 CPU.NMI high\n"
            "500000.0 CPU.NMI low\n"
            "666666.3 CPU.NMI high\n"
            "833333.1 CPU.NMI low\n"
            "1000000.0 CPU.NMI high\n");
}

TEST(Oscillator, InterruptsAProgram) {
  // Common practice: a tick on NMI. 10 ms at 1 kHz are ten falls.
  Bench bench = on_nmi("1 kHz");
  bench.poke(0x0180, "7C 00 20 3B");  // INC $0020; RTI
  bench.poke(0xFFFC, "01 80");
  bench.machine.poke(0x0020, 0);
  bench.set("S", 0x07FF);
  bench.machine.run_until(10'000);
  EXPECT_EQ(bench.machine.peek(0x0020), 10);
}

TEST(Oscillator, MakesNoEdgesWhereNobodyListens) {
  Bench bench(R"("OSC": {"type": "oscillator", "frequency": "100 kHz"}, "ADC": {"type": "adc0804", "at": "$4000"})",
              R"(["OSC.OUT", "ADC.CLK_IN"])");
  EXPECT_EQ(until(bench, 100), "");
}

TEST(Oscillator, MovesAPinThatIsOnlyLookedAt) {
  // A port of a PIA is told of no edges, and reads the level of the moment: high for 5 cycles, then low for 5.
  Bench bench(
      R"("OSC": {"type": "oscillator", "frequency": "100 kHz"}, "PIA": {"type": "mc6821", "at": "$4000-$4003"})",
      R"(["OSC.OUT", "PIA.PB0"])");
  bench.write(0x4003, 0x04);
  for (int i = 0; i < 30; ++i) {
    const int port = bench.read(0x4002);
    const Cycle transfer = bench.machine.now() - 1;  // as its E falls
    EXPECT_EQ(port & 1, transfer % 10 < 5 ? 1 : 0) << transfer;
    bench.wait(i % 4);
  }
}

TEST(Oscillator, MakesEdgesBesideABeat) {
  // One listener is enough, and the converter still counts the beat.
  Bench bench(R"("OSC": {"type": "oscillator", "frequency": "250 kHz"},
    "ADC": {"type": "adc0804", "at": "$4000", "start_clocks": 1})",
              R"(["OSC.OUT", "ADC.CLK_IN", "CPU.NMI"], ["ADC.VIN+", "ADC.VIN-", "GND"])");
  EXPECT_EQ(until(bench, 25), "22.0 CPU.NMI low\n24.0 CPU.NMI high\n");
}

TEST(Oscillator, ReachesAConverterThroughAResistorEdgeByEdge) {
  // Behind a resistor there is no beat: rising edges are counted, the 66th ends the conversion. They come every 4
  // cycles; one at the moment of the start is the first, since the bus transfers before it.
  Bench bench(R"("OSC": {"type": "oscillator", "frequency": "250 kHz"}, "R1": {"type": "resistor", "ohms": "1 kOhm"},
    "ADC": {"type": "adc0804", "at": "$4000", "start_clocks": 1})",
              R"(["OSC.OUT", "R1.1"], ["R1.2", "ADC.CLK_IN"], ["ADC.VIN+", "ADC.VIN-", "GND"])");
  bench.write(0x4000, 0);
  const Cycle first = (bench.machine.now() + 3) / 4 * 4;
  const Cycle last = first + 65 * 4;
  bench.wait(last - bench.machine.now() - 8);
  while (bench.machine.now() < last) {
    EXPECT_EQ(bench.level("ADC.INTR"), "high");
    bench.machine.step_cycle();
  }
  EXPECT_EQ(bench.level("ADC.INTR"), "low");
}

TEST(Oscillator, ThatIsTooFastForEdgesIsToldOf) {
  EXPECT_EQ(on_nmi("2 MHz").findings(), "");
  Bench bench = on_nmi("2.001 MHz");
  EXPECT_EQ(bench.findings(), "clock-too-fast 1\n");
  EXPECT_EQ(until(bench, 50), "");
}

TEST(Oscillator, IsSavedWithTheMachine) {
  Bench first = on_nmi("70 kHz"), second = on_nmi("70 kHz");
  const std::string whole = until(first, 60);
  until(second, 31);
  const Snapshot saved = second.machine.save();
  second.machine.run_for(8);
  second.machine.restore(saved);
  History history;
  second.machine.watch(history);
  second.machine.run_until(60);
  // Half a period is 7 1/7 cycles: the fifth edge is the first one after the save.
  EXPECT_EQ(history.take(), whole.substr(whole.find("35.3 CPU.NMI low")));
}

}  // namespace
}  // namespace prewire::testing
