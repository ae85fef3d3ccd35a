// Value change dumps against IEEE Std 1364-2001, clause 18 (read in part; the rest common practice).
#include "prewire/waveform.h"

#include "machine_fixture.h"

namespace prewire::testing {
namespace {

std::string dump(Machine& machine, const std::vector<std::string>& chosen, Cycle cycles) {
  std::string text;
  Waveform wave(machine, chosen, [&](std::string_view more) { text += more; });
  machine.watch(wave);
  machine.run_for(cycles);
  machine.unwatch(wave);
  wave.finish();
  return text;
}

/// What follows the header.
std::string values(const std::string& dump) { return dump.substr(dump.find("$enddefinitions $end\n") + 21); }

TEST(Waveform, ShowsTheFourStatesOfANet) {
  Bench bench(R"("S": {"type": "stimulus"}, "T": {"type": "stimulus", "high": 2})",
              R"(["S.P0", "T.P0"], ["S.P1", "T.P1"])");
  const Cycle start = bench.machine.now();
  const auto at = [&](Stamp stamp) { return (stamp_of(start) + stamp) * 25; };
  bench.machine.schedule("S", "P0 high", stamp_of(start) + 1);
  bench.machine.schedule("S", "P0 low", stamp_of(start) + 4);
  bench.machine.schedule("S", "P1 low", stamp_of(start) + 4);  // against T
  bench.machine.schedule("S", "P0 1.4 V", stamp_of(start) + 6);
  bench.machine.schedule("S", "P0 open", stamp_of(start) + 10);
  EXPECT_EQ(dump(bench.machine, {}, 4), fmt::format(R"($comment Prewire waveform $end
$comment bench $end
$version Prewire $end
$timescale 10 ns $end
$scope module board $end
$scope module S $end
$var wire 1 ! P0 $end
$var wire 1 " P1 $end
$upscope $end
$upscope $end
$enddefinitions $end
#{}
$dumpvars
z!
1"
$end
#{}
1!
#{}
0!
x"
#{}
x!
#{}
z!
#{}
)",
                                                    at(0), at(1), at(4), at(6), at(10), at(16)));
}

TEST(Waveform, GathersNumberedNets) {
  Bench bench(R"("S": {"type": "stimulus"}, "T": {"type": "stimulus"})",
              R"(["S.P0", "T.P0"], ["S.P1", "T.P1"], ["S.P2", "T.P2"], ["S.P3", "T.P3"], ["S.P6", "T.P6"])");
  bench.machine.set("S", "P0 high");
  bench.machine.set("S", "P3 low");
  const std::string four = dump(bench.machine, {"T.P0", "T.P1", "T.P2", "T.P3"}, 2);
  EXPECT_NE(four.find("$scope module T $end\n$var wire 4 ! P [3:0] $end\n"), std::string::npos) << four;
  EXPECT_NE(values(four).find("b0zz1 !\n"), std::string::npos) << four;
  // P4 and P5 are missing: no bus.
  const std::string gap = dump(bench.machine, {}, 2);
  EXPECT_NE(gap.find("$var wire 1 % P6 $end\n"), std::string::npos) << gap;
  // All pins of a stem, wired or not.
  const std::string all = dump(bench.machine, {"S.P"}, 2);
  EXPECT_NE(all.find("$var wire 8 ! P [7:0] $end\n"), std::string::npos) << all;
  EXPECT_NE(values(all).find("bzzzz0zz1 !\n"), std::string::npos) << all;
}

TEST(Waveform, ShowsVoltagesWhereTheyMatter) {
  Bench bench(R"("FLOAT": {"type": "voltage_source", "volts": "1.25 V"}, "S": {"type": "stimulus"})",
              R"(["FLOAT.OUT", "S.P0"])");
  bench.machine.schedule("FLOAT", "2.5 V", stamp_of(bench.machine.now() + 1));
  const std::string text = dump(bench.machine, {"S.P0"}, 3);
  EXPECT_NE(text.find("$var wire 1 ! P0 $end\n$var real 64 \" P0_volts $end\n"), std::string::npos) << text;
  EXPECT_NE(values(text).find("x!\nr1.25 \"\n$end\n"), std::string::npos) << text;
  EXPECT_NE(values(text).find("\n1!\nr2.5 \"\n"), std::string::npos) << text;
}

TEST(Waveform, KnowsALabelledNetWithASinglePin) {
  Bench bench(R"("S": {"type": "stimulus"})", R"(["PROBE", "S.P3"])");
  bench.machine.schedule("S", "P3 high", stamp_of(bench.machine.now() + 1));
  const std::string all = dump(bench.machine, {}, 3);
  EXPECT_NE(all.find("$var wire 1 ! PROBE $end\n"), std::string::npos) << all;
  EXPECT_NE(values(all).find("\n1!\n"), std::string::npos) << all;
  bench.machine.schedule("S", "P3 low", stamp_of(bench.machine.now() + 1));
  // By its pin, too.
  const std::string pin = dump(bench.machine, {"S.P3"}, 3);
  EXPECT_NE(pin.find("$var wire 1 ! P3 $end\n"), std::string::npos) << pin;
  EXPECT_NE(values(pin).find("1!\n$end\n"), std::string::npos) << pin;
  EXPECT_NE(values(pin).find("\n0!\n"), std::string::npos) << pin;
}

/// A converter that starts itself: INTR at WR (National data sheet: free-running connection).
Bench free_running() {
  return Bench(R"("ADC": {"type": "adc0804", "clock": "1 MHz", "start_clocks": 1},
    "R1": {"type": "resistor", "ohms": "10 kOhm"}, "PRIME": {"type": "button", "bounce": "0 ms"},
    "VP": {"type": "voltage_source", "volts": "2 V"}, "VM": {"type": "voltage_source", "volts": "0.5 V"})",
               R"(["VP.OUT", "ADC.VIN+"], ["VM.OUT", "ADC.VIN-"], ["ADC.CS", "ADC.RD", "GND"],
    ["ADC.INTR", "R1.1"], ["R1.2", "ADC.WR", "PRIME.1"], ["PRIME.2", "GND"])");
}

TEST(Waveform, TellsPinsApartThatDifferInASign) {
  Bench bench = free_running();
  const std::string text = dump(bench.machine, {"ADC.VIN-", "ADC.VIN+"}, 2);
  EXPECT_NE(text.find("$var wire 1 ! VIN_minus $end\n$var real 64 \" VIN_minus_volts $end\n"
                      "$var wire 1 # VIN_plus $end\n$var real 64 $ VIN_plus_volts $end\n"),
            std::string::npos)
      << text;
  EXPECT_NE(values(text).find("\nr0.5 \"\n"), std::string::npos) << text;
  EXPECT_NE(values(text).find("\nr2 $\n"), std::string::npos) << text;
}

TEST(Waveform, ShowsEventsOfChipsAndPulsesWithinOneMoment) {
  Bench bench = free_running();
  bench.machine.set("PRIME", "pressed");
  bench.machine.run_for(4);
  const Cycle start = bench.machine.now();
  bench.machine.schedule("PRIME", "released", stamp_of(start));
  const std::string text = dump(bench.machine, {"ADC.WR", "ADC.conversion-started", "ADC.conversion-done"}, 100);
  EXPECT_NE(text.find("$var wire 1 ! WR $end\n$var event 1 \" conversion_done $end\n"
                      "$var event 1 # conversion_started $end\n"),
            std::string::npos)
      << text;
  // At 1 MHz a quarter cycle is 25 units of 10 ns; the pulse of no length is given one.
  const Stamp begin = stamp_of(start) * 25, end = stamp_of(start + 66) * 25;
  EXPECT_EQ(values(text), fmt::format("#{0}\n$dumpvars\n0!\n$end\n#{0}\n1!\n1#\n#{1}\n1\"\n0!\n#{2}\n1!\n1#\n#{3}\n",
                                      begin, end, end + 1, stamp_of(start + 100) * 25));
  // All of them where nothing is chosen.
  const std::string all = dump(bench.machine, {}, 2);
  EXPECT_NE(all.find("$var event 1 "), std::string::npos) << all;
  EXPECT_NE(all.find(" conversion_aborted $end\n"), std::string::npos) << all;
}

TEST(Waveform, ShowsTheProcessorsBus) {
  Bench bench("");
  bench.poke(Bench::kCode, "97 10 20 FC");  // STAA $10; BRA back
  bench.set("PC", Bench::kCode);
  bench.set("A", 0xA5);
  const Cycle start = bench.machine.now();
  const std::string text = dump(bench.machine, {"CPU.A", "CPU.D", "CPU.R/W", "CPU.VMA"}, 4);
  const auto at = [&](Stamp stamp) { return (stamp_of(start) + stamp) * 25; };
  EXPECT_NE(text.find("$scope module CPU $end\n$var wire 16 ! A [15:0] $end\n$var wire 8 \" D [7:0] $end\n"
                      "$var wire 1 # R_W $end\n$var wire 1 $ VMA $end\n"),
            std::string::npos)
      << text;
  // MC6800 data sheet, table "Operations Summary": STAA direct in 4 cycles, VMA low in the third.
  EXPECT_EQ(values(text), fmt::format(R"(#{}
$dumpvars
bxxxxxxxxxxxxxxxx !
bxxxxxxxx "
x#
x$
$end
#{}
b0000000100000000 !
1#
1$
#{}
b10010111 "
#{}
b0000000100000001 !
#{}
b00010000 "
#{}
b0000000000010000 !
0$
#{}
bzzzzzzzz "
#{}
0#
1$
#{}
b10100101 "
)",
                                      at(0), at(1), at(4), at(5), at(8), at(9), at(12), at(13), at(16)));
}

TEST(Waveform, TakesItsUnitFromTheClock) {
  const auto unit = [](const std::string& clock) {
    const Registry& registry = bench_registry();
    LoadOptions options;
    options.run_faulty = true;
    Machine machine =
        Machine::from_text(fmt::format(R"({{"machine": "clock", "cpu": {{"type": "mc6800", "clock": "{}"}},
  "chips": {{"RAM": {{"type": "6116", "at": "$0000-$07FF"}}}}, "wires": []}})",
                                       clock),
                           "clock.json", registry, options);
    const std::string text = dump(machine, {}, 1);
    const std::size_t at = text.find("$timescale ") + 11;
    return text.substr(at, text.find(" $end", at) - at) + ", " + text.substr(text.rfind('#') + 1);
  };
  EXPECT_EQ(unit("1 MHz"), "10 ns, 100\n");
  EXPECT_EQ(unit("2 MHz"), "1 ns, 500\n");
  EXPECT_EQ(unit("100 kHz"), "100 ns, 100\n");
  EXPECT_EQ(unit("921.6 kHz"), "1 ps, 1085069\n");
}

TEST(Waveform, RefusesWhatIsNotThere) {
  Bench bench(R"("S": {"type": "stimulus"})");
  EXPECT_THROW(Waveform(bench.machine, {"S.P0", "S.Q0"}, [](std::string_view) {}), InputError);
}

}  // namespace
}  // namespace prewire::testing
