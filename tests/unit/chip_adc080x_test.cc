// ADC0801 to ADC0805 against the National/TI ADC0801-05 data sheet and error-specification note, the Philips
// ADC0803/0804 and the Intersil ADC0802-04 data sheets. At 1 MHz on both sides a clock of the converter is a cycle.
#include <set>

#include "machine_fixture.h"
#include "prewire/history.h"

namespace prewire::testing {
namespace {

/// Two sources at the inputs.
constexpr std::string_view kSources = R"("VP": {"type": "voltage_source", "volts": "2 V"},
  "VM": {"type": "voltage_source"})";
constexpr std::string_view kInputs = R"(["VP.OUT", "ADC.VIN+"], ["VM.OUT", "ADC.VIN-"])";

/// A converter at $4000.
Bench on_bus(const std::string& parameters, const std::string& wires = "") {
  return Bench(fmt::format(R"("ADC": {{"type": "adc0804", "at": "$4000", {}}}, {})", parameters, kSources),
               fmt::format("{}{}{}", kInputs, wires.empty() ? "" : ", ", wires));
}

/// A converter with its strobes under the hand of the test, all high: P0 is CS, P1 RD, P2 WR, P3 CLK_IN.
Bench on_pins(const std::string& parameters, const std::string& chips = "", const std::string& wires = "") {
  return Bench(fmt::format(R"("HAND": {{"type": "stimulus", "high": 7}}, "ADC": {{"type": "adc0804", {}}}, {}{}{})",
                           parameters, kSources, chips.empty() ? "" : ", ", chips),
               fmt::format(R"({}, ["HAND.P0", "ADC.CS"], ["HAND.P1", "ADC.RD"], ["HAND.P2", "ADC.WR"]{}{})", kInputs,
                           wires.empty() ? "" : ", ", wires));
}

/// What a conversion of steady voltages gives.
int code(const std::string& parameters, const std::string& plus, const std::string& minus = "0 V") {
  Bench bench = on_bus(R"("clock": "1 MHz", )" + parameters);
  bench.machine.set("VP", plus);
  bench.machine.set("VM", minus);
  bench.write(0x4000, 0);
  bench.idle(80);
  return bench.read(0x4000);
}

/// One move of the hand, in quarter cycles from now.
struct Move {
  Stamp when;
  std::string_view chip, what;
};

/// Everything that happens while the hand makes its moves, for `cycles` cycles from now.
std::string history_of(Bench& bench, Cycle cycles, std::initializer_list<Move> moves) {
  History history;
  const Cycle begin = bench.machine.now();
  for (const Move& move : moves) bench.machine.schedule(move.chip, move.what, stamp_of(begin) + move.when);
  history.restart(begin);
  bench.machine.watch(history);
  bench.machine.run_until(begin + cycles);
  bench.machine.unwatch(history);
  return history.take();
}

/// Times at which the converter published an event, in quarter cycles from the first one.
class Events final : public Observer {
 public:
  explicit Events(std::string_view event, std::string_view chip = "ADC") : event_(event), chip_(chip) {}
  unsigned wants() const override { return kEvents; }
  void on_event(std::string_view chip, std::string_view event, std::int64_t value, Stamp when) override {
    if (event != event_ || chip != chip_) return;
    times.push_back(when);
    values.push_back(value);
  }
  std::vector<Stamp> times;
  std::vector<std::int64_t> values;

 private:
  std::string event_, chip_;
};

std::string message(const Bench& bench, std::string_view id) {
  for (const Finding& finding : bench.machine.findings()) {
    if (finding.id == id) return finding.message;
  }
  return "no finding " + std::string(id);
}

// ---------------------------------------------------------------------------------------------------------------------
// Transfer function

TEST(Adc080xCode, TreadsAreOneStepWideAndRisersHalfwayBetween) {
  // National error-specification note: transitions at (k - 1/2) LSB. VREF/2 = 2.560 V makes 20 mV steps.
  const std::string reference = R"("vref_half": "2.560 V")";
  EXPECT_EQ(code(reference, "0 V"), 0);
  EXPECT_EQ(code(reference, "9.9 mV"), 0);
  EXPECT_EQ(code(reference, "10.1 mV"), 1);
  EXPECT_EQ(code(reference, "29.999 mV"), 1);
  EXPECT_EQ(code(reference, "30 mV"), 2);
  EXPECT_EQ(code(reference, "1.280 V"), 64);
  EXPECT_EQ(code(reference, "2.560 V"), 128);
  EXPECT_EQ(code(reference, "2.5701 V"), 129);
  EXPECT_EQ(code(reference, "5.0899 V"), 254);
  EXPECT_EQ(code(reference, "5.0901 V"), 255);
  EXPECT_EQ(code(reference, "5.12 V"), 255);
}

TEST(Adc080xCode, EveryTransitionIsWhereTheNotePutsIt) {
  // Computed from the note: with 20 mV steps the code becomes n at 20 n - 10 mV.
  Bench bench = on_bus(R"("clock": "1 MHz", "vref_half": "2.560 V")");
  for (int n = 1; n < 256; ++n) {
    for (const int below : {1, 0}) {
      bench.machine.set("VP", fmt::format("{} uV", 20'000 * n - 10'000 - below));
      bench.write(0x4000, 0);
      bench.idle(80);
      ASSERT_EQ(bench.read(0x4000), n - below);
    }
  }
}

TEST(Adc080xCode, AnOpenReferenceMakesTheSupplyTheSpan) {
  // Computed from the National data sheet: VREF/2 open is held at VCC/2.
  EXPECT_EQ(code(R"("vcc": "5 V")", "1.25 V"), 0x40);
  EXPECT_EQ(code(R"("vcc": "5 V")", "2.5 V"), 0x80);
  EXPECT_EQ(code(R"("vcc": "5 V")", "3.3 V"), 0xA9);
}

TEST(Adc080xCode, TheSpanCanStartAboveGround) {
  // Computed: VIN- = 0.5 V and VREF/2 = 1.5 V measure from 0.5 V to 3.5 V.
  const std::string reference = R"("vref_half": "1.5 V")";
  EXPECT_EQ(code(reference, "0.4 V", "0.5 V"), 0);
  EXPECT_EQ(code(reference, "0.5 V", "0.5 V"), 0);
  EXPECT_EQ(code(reference, "1.25 V", "0.5 V"), 64);
  EXPECT_EQ(code(reference, "2.0 V", "0.5 V"), 128);
  EXPECT_EQ(code(reference, "3.5 V", "0.5 V"), 255);
}

TEST(Adc080xCode, IsZeroWhenTheInputsAreReversed) {
  // Intersil data sheet: VIN- at or above VIN+ gives 00.
  EXPECT_EQ(code(R"("vcc": "5 V")", "1 V", "4 V"), 0);
  EXPECT_EQ(code(R"("vcc": "5 V")", "2.5 V", "2.5 V"), 0);
}

TEST(Adc080xCode, IsRatiometricWithAnOpenReference) {
  // A potentiometer across the supply at 50 % (common practice).
  for (const std::string vcc : {"4.5 V", "5.5 V"}) {
    Bench bench(fmt::format(R"("ADC": {{"type": "adc0805", "at": "$4000", "clock": "1 MHz", "vcc": "{0}"}},
      "POT": {{"type": "potentiometer", "position": "50 %"}})",
                            vcc),
                fmt::format(R"(["POT.1", "ADC.VIN-", "GND"], ["POT.wiper", "ADC.VIN+"], ["POT.3", "+{}"])",
                            vcc.substr(0, 3) + "V"));
    bench.write(0x4000, 0);
    bench.idle(80);
    EXPECT_EQ(bench.read(0x4000), 0x80) << vcc;
  }
}

TEST(Adc080xCode, TheReferencePinCountsMoreThanTheParameter) {
  Bench bench(R"("ADC": {"type": "adc0804", "at": "$4000", "clock": "1 MHz", "vref_half": "1 V"},
    "VP": {"type": "voltage_source", "volts": "1.28 V"}, "REF": {"type": "voltage_source", "volts": "2.56 V"})",
              R"(["VP.OUT", "ADC.VIN+"], ["GND", "ADC.VIN-"], ["REF.OUT", "ADC.VREF/2"])");
  bench.write(0x4000, 0);
  bench.idle(80);
  EXPECT_EQ(bench.read(0x4000), 64);
}

TEST(Adc080xCode, AnErrorMovesTheSteps) {
  // Computed: half a step early puts the transition to n at 20 n - 20 mV, a whole step late at 20 n + 10 mV.
  const auto with = [](std::string_view error) {
    return fmt::format(R"("vref_half": "2.56 V", "error": "{}")", error);
  };
  EXPECT_EQ(code(with("0.5 LSB"), "0 V"), 1);
  EXPECT_EQ(code(with("0.5 LSB"), "1.259999 V"), 63);
  EXPECT_EQ(code(with("0.5 LSB"), "1.26 V"), 64);
  EXPECT_EQ(code(with("-1 LSB"), "1.289999 V"), 63);
  EXPECT_EQ(code(with("-1 LSB"), "1.29 V"), 64);
}

TEST(Adc080xCode, PartsDifferInTheirErrorOnly) {
  // TI and Intersil data sheets: total error 1/4, 1/2, 1/2, 1 and 1 LSB.
  const Registry& registry = bench_registry();
  std::string text;
  for (const std::string name : {"adc0801", "adc0802", "adc0803", "adc0804", "adc0805"}) {
    const ChipType* type = registry.find(name);
    ASSERT_NE(type, nullptr);
    const ParameterSpec& error = type->parameters.back();
    text += fmt::format("{} {} {} {}\n", type->title, error.name, error.minimum, error.maximum);
  }
  EXPECT_EQ(text,
            "ADC0801 8-bit A/D converter error -250 250\n"
            "ADC0802 8-bit A/D converter error -500 500\n"
            "ADC0803 8-bit A/D converter error -500 500\n"
            "ADC0804 8-bit A/D converter error -1000 1000\n"
            "ADC0805 8-bit A/D converter error -1000 1000\n");
}

TEST(Adc080xPackage, PinsAreNumberedAsInTheDataSheet) {
  // TI ADC0802-N pin table.
  const Registry& registry = bench_registry();
  std::string text;
  for (const PinSpec& pin : registry.find("adc0801")->pins) text += fmt::format("{} {}, ", pin.number, pin.name);
  EXPECT_EQ(text,
            "1 CS, 2 RD, 3 WR, 4 CLK_IN, 5 INTR, 6 VIN+, 7 VIN-, 8 AGND, 9 VREF/2, 10 DGND, 11 DB7, 12 DB6, 13 DB5, "
            "14 DB4, 15 DB3, 16 DB2, 17 DB1, 18 DB0, 19 CLK_R, 20 VCC, ");
}

// ---------------------------------------------------------------------------------------------------------------------
// Time

TEST(Adc080xTime, IntrFalls66To73ClocksAfterTheRiseOfWr) {
  // Philips data sheet. Starting in each of eight cycles in a row meets each phase of the clock.
  Bench bench = on_bus(R"("clock": "1 MHz")");
  Events starts("conversion-started"), ends("conversion-done");
  bench.machine.watch(starts);
  bench.machine.watch(ends);
  std::set<Cycle> clocks;
  for (int shift = 0; shift < 8; ++shift) {
    bench.write(0x4000, 0);
    bench.idle(80);  // 87 cycles with the write: one less than a multiple of 8
    EXPECT_EQ(ends.times.back() - starts.times.back(), 4 * starts.values.back());
    clocks.insert((ends.times.back() - starts.times.back()) / 4);
  }
  EXPECT_EQ(clocks, (std::set<Cycle>{66, 67, 68, 69, 70, 71, 72, 73}));
}

TEST(Adc080xTime, TheStartCanBeFixed) {
  for (int delay = 1; delay <= 8; ++delay) {
    Bench bench = on_bus(fmt::format(R"("clock": "1 MHz", "start_clocks": {})", delay));
    Events starts("conversion-started"), ends("conversion-done");
    bench.machine.watch(starts);
    bench.machine.watch(ends);
    bench.write(0x4000, 0);
    bench.idle(80);
    ASSERT_EQ(ends.times.size(), 1U);
    EXPECT_EQ(ends.times[0] - starts.times[0], 4 * (65 + delay));
  }
}

/// Quarter microseconds of a conversion, with the start fixed at its shortest and its longest.
std::pair<Stamp, Stamp> shortest_and_longest(const std::string& clock) {
  std::pair<Stamp, Stamp> result;
  for (const bool longest : {false, true}) {
    Bench bench = on_bus(fmt::format(R"({}, "start_clocks": {})", clock, longest ? 8 : 1));
    Events starts("conversion-started"), ends("conversion-done");
    bench.machine.watch(starts);
    bench.machine.watch(ends);
    bench.write(0x4000, 0);
    bench.idle(900);
    EXPECT_EQ(ends.times.size(), 1U);
    (longest ? result.second : result.first) = ends.times.at(0) - starts.times.at(0);
  }
  return result;
}

TEST(Adc080xTime, FollowsTheClockFrequency) {
  // National data sheet at its 640 kHz: 103.125 us to 114.0625 us.
  EXPECT_EQ(shortest_and_longest(R"("clock": "640 kHz")"), (std::pair<Stamp, Stamp>{413, 456}));
  // Intersil typical circuit, 10 kOhm and 150 pF: 1/(1.1 R C) = 606.06 kHz, so 108.9 us to 120.45 us.
  EXPECT_EQ(shortest_and_longest(R"("clock_r": "10 kOhm", "clock_c": "150 pF")"), (std::pair<Stamp, Stamp>{436, 482}));
  // The measured frequency overrules the parts (common practice: boards come out slower than the formula).
  EXPECT_EQ(shortest_and_longest(R"("clock_r": "10 kOhm", "clock_c": "150 pF", "clock": "400 kHz")"),
            (std::pair<Stamp, Stamp>{660, 730}));
}

TEST(Adc080xTime, TheRcFormulaIsExact) {
  // 1/(1.1 x 33 kOhm x 1 nF) = 27548.209 Hz, computed by hand; the finding names the frequency.
  Bench bench = on_bus(R"("clock_r": "33 kOhm", "clock_c": "1 nF")");
  EXPECT_EQ(message(bench, "converter-clock"),
            "ADC is clocked at 27548.209 Hz, and its data sheet wants 100 kHz to 1460 kHz");
}

TEST(Adc080xTime, AWriteLowForLongKeepsItInReset) {
  // Intersil and Philips data sheets: INTR stays high, nothing is converted until WR rises.
  Bench bench = on_pins(R"("clock": "1 MHz", "start_clocks": 1)");
  EXPECT_EQ(history_of(bench, 580, {{0, "HAND", "P0 low"}, {4, "HAND", "P2 low"}, {2004, "HAND", "P2 high"}}),
            "0.0 HAND.P0 low\n"
            "1.0 HAND.P2 low\n"
            "501.0 HAND.P2 high\n"
            "501.0 ADC: conversion-started 66\n"
            "567.0 ADC: conversion-done 102\n"
            "567.0 ADC.INTR low\n");
}

TEST(Adc080xTime, ASecondWriteAbortsAndRestarts) {
  // Philips data sheet: a WR 40 clocks into a conversion makes it begin again.
  Bench bench = on_pins(R"("clock": "1 MHz", "start_clocks": 8)");
  EXPECT_EQ(history_of(bench, 130,
                       {{0, "HAND", "P0 low"},
                        {0, "HAND", "P2 low"},
                        {4, "HAND", "P2 high"},
                        {160, "HAND", "P2 low"},
                        {164, "HAND", "P2 high"}}),
            "0.0 HAND.P0 low\n"
            "0.0 HAND.P2 low\n"
            "1.0 HAND.P2 high\n"
            "1.0 ADC: conversion-started 73\n"
            "40.0 HAND.P2 low\n"
            "40.0 ADC: conversion-aborted 0\n"
            "41.0 HAND.P2 high\n"
            "41.0 ADC: conversion-started 73\n"
            "114.0 ADC: conversion-done 102\n"
            "114.0 ADC.INTR low\n");
}

TEST(Adc080xTime, ALongSecondWriteLeavesNothingOfTheFirstConversion) {
  // Philips data sheet: reset while CS and WR are low.
  Bench bench = on_pins(R"("clock": "1 MHz", "start_clocks": 8)");
  EXPECT_EQ(history_of(bench, 200,
                       {{0, "HAND", "P0 low"}, {0, "HAND", "P2 low"}, {4, "HAND", "P2 high"}, {160, "HAND", "P2 low"}}),
            "0.0 HAND.P0 low\n"
            "0.0 HAND.P2 low\n"
            "1.0 HAND.P2 high\n"
            "1.0 ADC: conversion-started 73\n"
            "40.0 HAND.P2 low\n"
            "40.0 ADC: conversion-aborted 0\n");
}

TEST(Adc080xTime, TheFirstOfCsAndWrToRiseStarts) {
  // Philips data sheet.
  Bench bench = on_pins(R"("clock": "1 MHz", "start_clocks": 1)");
  EXPECT_EQ(
      history_of(bench, 80,
                 {{0, "HAND", "P2 low"}, {4, "HAND", "P0 low"}, {10, "HAND", "P0 high"}, {20, "HAND", "P2 high"}}),
      "0.0 HAND.P2 low\n"
      "1.0 HAND.P0 low\n"
      "2.2 HAND.P0 high\n"
      "2.2 ADC: conversion-started 66\n"
      "5.0 HAND.P2 high\n"
      "68.2 ADC: conversion-done 102\n"
      "68.2 ADC.INTR low\n");
}

TEST(Adc080xTime, WithoutCsNothingHappens) {
  // National data sheet: CS qualifies RD and WR.
  Bench bench = on_pins(R"("clock": "1 MHz")");
  EXPECT_EQ(history_of(bench, 100,
                       {{0, "HAND", "P2 low"}, {4, "HAND", "P2 high"}, {8, "HAND", "P1 low"}, {12, "HAND", "P1 high"}}),
            "0.0 HAND.P2 low\n"
            "1.0 HAND.P2 high\n"
            "2.0 HAND.P1 low\n"
            "3.0 HAND.P1 high\n");
}

TEST(Adc080xTime, IsTakenFromTheOldStateWhenPowerComesOnInReset) {
  // CS and WR are low from the start: the converter waits for the first of them to rise.
  Bench bench(fmt::format(R"("HAND": {{"type": "stimulus", "high": 2, "low": 5}},
    "ADC": {{"type": "adc0804", "clock": "1 MHz", "start_clocks": 2}}, {})",
                          kSources),
              fmt::format(R"({}, ["HAND.P0", "ADC.CS"], ["HAND.P1", "ADC.RD"], ["HAND.P2", "ADC.WR"])", kInputs));
  EXPECT_EQ(history_of(bench, 100, {{8, "HAND", "P2 high"}}),
            "2.0 HAND.P2 high\n"
            "2.0 ADC: conversion-started 67\n"
            "69.0 ADC: conversion-done 102\n"
            "69.0 ADC.INTR low\n");
}

// ---------------------------------------------------------------------------------------------------------------------
// Reading

// 2 V of 5 V is code 102.4: $66, 01100110.
constexpr std::string_view kDataOut =
    "ADC.DB0 low\n"
    "ADC.DB1 high\n"
    "ADC.DB2 high\n"
    "ADC.DB3 low\n"
    "ADC.DB4 low\n"
    "ADC.DB5 high\n"
    "ADC.DB6 high\n"
    "ADC.DB7 low\n";

/// All data lines at one moment.
std::string data(std::string_view when, bool driven) {
  std::string text;
  std::string_view rest = kDataOut;
  while (!rest.empty()) {
    const std::string_view line = rest.substr(0, rest.find('\n'));
    text += fmt::format("{} {}\n", when, driven ? line : fmt::format("{} floating", line.substr(0, line.find(' '))));
    rest.remove_prefix(line.size() + 1);
  }
  // Nets are told of in the order in which they were driven: DB0 first going on, DB7 first going off.
  if (driven) return text;
  std::string reversed;
  for (std::size_t end = text.size(); end > 0;) {
    const std::size_t begin = text.rfind('\n', end - 2);
    const std::size_t from = begin == std::string::npos ? 0 : begin + 1;
    reversed += text.substr(from, end - from);
    end = from;
  }
  return reversed;
}

TEST(Adc080xRead, DrivesTheDataLinesAndResetsIntr) {
  // Philips data sheet: CS and RD low enable the outputs and reset INTR.
  Bench bench = on_pins(R"("clock": "1 MHz", "start_clocks": 1)");
  EXPECT_EQ(history_of(bench, 90,
                       {{0, "HAND", "P0 low"},
                        {0, "HAND", "P2 low"},
                        {4, "HAND", "P2 high"},
                        {300, "HAND", "P1 low"},
                        {310, "HAND", "P1 high"}}),
            "0.0 HAND.P0 low\n"
            "0.0 HAND.P2 low\n"
            "1.0 HAND.P2 high\n"
            "1.0 ADC: conversion-started 66\n"
            "67.0 ADC: conversion-done 102\n"
            "67.0 ADC.INTR low\n"
            "75.0 HAND.P1 low\n"
            "75.0 ADC: read 102\n" +
                data("75.0", true) +
                "75.0 ADC.INTR high\n"
                "77.2 HAND.P1 high\n" +
                data("77.2", false));
}

TEST(Adc080xRead, HeldLowThroughTheEndLetsIntrFallForEightClocks) {
  // National data sheet: with RD low INTR still signals the end, for 8 clocks.
  Bench bench = on_pins(R"("clock": "1 MHz", "start_clocks": 1)");
  std::string text = history_of(bench, 90,
                                {{0, "HAND", "P0 low"},
                                 {0, "HAND", "P2 low"},
                                 {4, "HAND", "P2 high"},
                                 {200, "HAND", "P1 low"},
                                 {320, "HAND", "P0 high"}});
  const auto done = text.find("67.0");
  ASSERT_NE(done, std::string::npos);
  text.erase(0, done);
  EXPECT_TRUE(text.starts_with("67.0 ADC: conversion-done 102\n67.0 ADC.DB0 low\n")) << text;
  EXPECT_NE(text.find("\n67.0 ADC.INTR low\n75.0 ADC.INTR high\n80.0 HAND.P0 high\n"), std::string::npos) << text;
}

TEST(Adc080xRead, TooSoonAfterTheEndDoesNotResetIntr) {
  // National data sheet: for 8 clocks the end of the conversion holds INTR low. RD has to last longer than that.
  for (const bool until_over : {false, true}) {
    Bench bench = on_pins(R"("clock": "1 MHz", "start_clocks": 1)");
    const std::string text = history_of(bench, 100,
                                        {{0, "HAND", "P0 low"},
                                         {0, "HAND", "P2 low"},
                                         {4, "HAND", "P2 high"},
                                         {290, "HAND", "P1 low"},
                                         {until_over ? 302 : 299, "HAND", "P1 high"}});
    EXPECT_EQ(text.find("75.0 ADC.INTR high\n") != std::string::npos, until_over) << text;
    EXPECT_EQ(text.find("74.3 ADC: interrupt-kept 0\n") != std::string::npos, !until_over) << text;
    EXPECT_EQ(bench.level("ADC.INTR"), until_over ? "high" : "low");
  }
}

TEST(Adc080xRead, DuringAConversionGivesTheResultBefore) {
  // Philips data sheet: the latch keeps the old result until the end.
  Bench bench = on_bus(R"("clock": "1 MHz")");
  bench.write(0x4000, 0);
  bench.idle(80);
  EXPECT_EQ(bench.read(0x4000), 0x66);
  bench.machine.set("VP", "4 V");
  bench.write(0x4000, 0);
  bench.idle(40);
  EXPECT_EQ(bench.read(0x4000), 0x66);
  EXPECT_EQ(bench.findings(), "converter-busy 1\n");
  bench.idle(40);
  EXPECT_EQ(bench.read(0x4000), 0xCD);
}

TEST(Adc080xRead, TheLatchIsUnsureBeforeTheFirstConversion) {
  const auto first = [](std::string_view seed) {
    Bench bench(R"("ADC": {"type": "adc0804", "at": "$4000", "clock": "1 MHz"})", R"(["ADC.VIN+", "ADC.VIN-", "GND"])",
                fmt::format(R"("seed": {})", seed));
    bench.run("B6 40 00 97 00");  // LDAA, and STAA: a byte that nobody used would be a dummy read
    EXPECT_EQ(bench.findings(), "converter-no-result 1\n");
    return bench.reg("A");
  };
  std::set<int> values;
  for (const std::string_view seed : {"1", "2", "3", "4"}) values.insert(first(seed));
  EXPECT_GT(values.size(), 1U);
  EXPECT_EQ(first("3"), first("3"));
}

TEST(Adc080xRead, PeekChangesNothing) {
  Bench bench = on_bus(R"("clock": "1 MHz")");
  bench.write(0x4000, 0);
  bench.idle(90);
  EXPECT_EQ(bench.level("ADC.INTR"), "low");
  EXPECT_EQ(bench.machine.peek(0x4000), 0x66);
  EXPECT_EQ(bench.level("ADC.INTR"), "low");
  EXPECT_EQ(bench.read(0x4000), 0x66);
  EXPECT_EQ(bench.level("ADC.INTR"), "high");
}

TEST(Adc080xBus, AStoreStartsAndALoadReads) {
  // National data sheet, 6800 interface: WR and RD come from E, R/W and the address decoder and rise as E falls.
  Bench bench = on_bus(R"("clock": "1 MHz", "start_clocks": 4)");
  History history(0x4000, 0x4000);
  bench.machine.watch(history);
  history.restart(bench.machine.now());
  bench.write(0x4000, 0x55);  // LDAA #, STAA: the write is the last of 7 cycles
  bench.idle(80);
  bench.read(0x4000);  // the last of 4 cycles
  EXPECT_EQ(history.take(),
            "7.0 ADC: conversion-started 69\n"
            "7.0 write $4000 $55\n"
            "76.0 ADC: conversion-done 102\n"
            "76.0 ADC.INTR low\n"
            "91.0 ADC: read 102\n"
            "91.0 ADC.INTR high\n"
            "91.0 read $4000 $66\n");
}

TEST(Adc080xBus, AReadWithinEightClocksOfTheEndDoesNotResetIntr) {
  Bench bench = on_bus(R"("clock": "1 MHz", "start_clocks": 1)");
  bench.write(0x4000, 0);
  bench.idle(66);
  EXPECT_EQ(bench.level("ADC.INTR"), "low");
  EXPECT_EQ(bench.read(0x4000), 0x66);  // 4 clocks after the end
  EXPECT_EQ(bench.level("ADC.INTR"), "low");
  bench.idle(8);
  EXPECT_EQ(bench.read(0x4000), 0x66);
  EXPECT_EQ(bench.level("ADC.INTR"), "high");
}

// ---------------------------------------------------------------------------------------------------------------------
// No sample-and-hold

TEST(Adc080xInput, EachBitIsDecidedAtItsOwnMoment) {
  // National data sheet: no sample-and-hold. With a start of 1 clock the bits fall 9, 17, 25 ... 65 clocks after it.
  const auto moved = [](Stamp when, std::string_view from, std::string_view to) {
    Bench bench = on_pins(R"("clock": "1 MHz", "start_clocks": 1)");
    bench.machine.set("VP", from);
    history_of(bench, 80, {{0, "HAND", "P0 low"}, {0, "HAND", "P2 low"}, {4, "HAND", "P2 high"}, {4 + when, "VP", to}});
    Events ends("read");
    bench.machine.watch(ends);
    history_of(bench, 4, {{4, "HAND", "P1 low"}});
    return ends.values.at(0);
  };
  EXPECT_EQ(moved(1, "0 V", "5 V"), 0xFF);
  EXPECT_EQ(moved(35, "0 V", "5 V"), 0xFF);
  EXPECT_EQ(moved(36, "0 V", "5 V"), 0x7F);  // at the very moment of the first bit it is too late
  EXPECT_EQ(moved(80, "0 V", "5 V"), 0x3F);  // after two bits
  EXPECT_EQ(moved(80, "5 V", "0 V"), 0xC0);
  EXPECT_EQ(moved(259, "5 V", "0 V"), 0xFE);
  EXPECT_EQ(moved(260, "5 V", "0 V"), 0xFF);  // after the last
  EXPECT_EQ(moved(260, "0 V", "5 V"), 0x00);
}

TEST(Adc080xInput, AFloatingInputIsToldOfAndKeepsItsVoltage) {
  Bench bench(R"("ADC": {"type": "adc0804", "at": "$4000", "clock": "1 MHz"},
    "VP": {"type": "voltage_source", "volts": "2 V"}, "S": {"type": "switch", "closed": true})",
              R"(["VP.OUT", "S.1"], ["S.2", "ADC.VIN+"], ["ADC.VIN-", "GND"])");
  bench.machine.set("S", "open");
  EXPECT_EQ(bench.findings(), "");
  bench.write(0x4000, 0);
  EXPECT_EQ(bench.findings(), "floating-input 1\n");
  EXPECT_EQ(message(bench, "floating-input"), "ADC.VIN+ floats while a conversion starts");
  bench.idle(80);
  EXPECT_EQ(bench.read(0x4000), 0x66);
}

TEST(Adc080xInput, BeyondTheSuppliesIsToldOf) {
  // National data sheet: inputs from AGND - 0.05 V to VCC + 0.05 V.
  const auto told = [](std::string_view volts) {
    Bench bench = on_bus(R"("clock": "1 MHz")");
    bench.machine.set("VP", volts);
    return message(bench, "converter-input-range");
  };
  EXPECT_EQ(told("5.05 V"), "no finding converter-input-range");
  EXPECT_EQ(told("-50 mV"), "no finding converter-input-range");
  EXPECT_EQ(told("5.051 V"), "ADC.VIN+ is at 5.051 V, beyond what its clamp diodes allow: -0.05 V to 5.05 V");
  EXPECT_EQ(told("-1 V"), "ADC.VIN+ is at -1 V, beyond what its clamp diodes allow: -0.05 V to 5.05 V");
}

TEST(Adc080xInput, TheWholeReferenceAtHalfTheReferenceIsToldOf) {
  // Common mistake: 5 V at VREF/2 makes a span of 10 V and halves the codes.
  Bench bench = on_bus(R"("clock": "1 MHz")", R"(["ADC.VREF/2", "+5V"])");
  bench.write(0x4000, 0);
  EXPECT_EQ(message(bench, "converter-span"),
            "ADC has 5 V at VREF/2 and so a span of 10 V, which its inputs cannot use up");
  bench.idle(80);
  EXPECT_EQ(bench.read(0x4000), 0x33);
}

TEST(Adc080xInput, ASpanOf512VoltsIsFine) {
  Bench bench = on_bus(R"("clock": "1 MHz", "vref_half": "2.56 V")");
  bench.write(0x4000, 0);
  EXPECT_EQ(bench.findings(), "");
}

// ---------------------------------------------------------------------------------------------------------------------
// Clocks

TEST(Adc080xClock, NoneMeansNoResult) {
  for (const std::string wires : {"", R"(["ADC.CLK_IN", "GND"])", R"(["ADC.CLK_R", "ADC.CLK_IN"])"}) {
    Bench bench = on_bus(R"("clock_r": "0 Ohm")", wires);
    const bool driven = wires.find("CLK_R") != std::string::npos;  // by an output, which may yet change
    bench.write(0x4000, 0);
    EXPECT_EQ(bench.findings(), driven ? "" : "converter-no-clock 1\n") << wires;
    bench.idle(2000);
    EXPECT_EQ(bench.level("ADC.INTR"), "high");
  }
}

TEST(Adc080xClock, AResistorAloneIsNoClock) {
  Bench bench(
      fmt::format(R"("ADC": {{"type": "adc0804", "at": "$4000"}}, "R1": {{"type": "resistor", "ohms": "10 kOhm"}},
    {})",
                  kSources),
      fmt::format(R"({}, ["ADC.CLK_R", "R1.1"], ["R1.2", "ADC.CLK_IN"])", kInputs));
  bench.write(0x4000, 0);
  EXPECT_EQ(bench.findings(), "converter-no-clock 1\n");
}

TEST(Adc080xClock, OutOfRangeIsToldOf) {
  // National data sheet: 100 kHz to 1460 kHz.
  const auto told = [](const std::string& clock) { return on_bus(fmt::format(R"("clock": "{}")", clock)).findings(); };
  EXPECT_EQ(told("100 kHz"), "");
  EXPECT_EQ(told("1.46 MHz"), "");
  EXPECT_EQ(told("99.9 kHz"), "converter-clock 1\n");
  EXPECT_EQ(told("1.461 MHz"), "converter-clock 1\n");
}

TEST(Adc080xClock, CanBeAnOscillatorThatMakesNoEdges) {
  Bench bench(fmt::format(R"("ADC": {{"type": "adc0804", "at": "$4000", "start_clocks": 1}},
    "OSC": {{"type": "oscillator", "frequency": "500 kHz"}}, {})",
                          kSources),
              fmt::format(R"({}, ["OSC.OUT", "ADC.CLK_IN"])", kInputs));
  History history;
  bench.machine.watch(history);
  history.restart(bench.machine.now());
  bench.write(0x4000, 0);
  bench.idle(160);
  EXPECT_EQ(history.take(),
            "7.0 ADC: conversion-started 66\n"
            "139.0 ADC: conversion-done 102\n"
            "139.0 ADC.INTR low\n");
}

TEST(Adc080xClock, CanBeTheProcessorsPhase2) {
  Bench bench = on_bus(R"("start_clocks": 2)", R"(["CPU.PHI2", "ADC.CLK_IN"])");
  History history;
  bench.machine.watch(history);
  history.restart(bench.machine.now());
  bench.write(0x4000, 0);
  bench.idle(80);
  EXPECT_EQ(history.take(),
            "7.0 ADC: conversion-started 67\n"
            "74.0 ADC: conversion-done 102\n"
            "74.0 ADC.INTR low\n");
}

TEST(Adc080xClock, CanBeAnotherConvertersClkR) {
  // National data sheet, self-clocking several converters: one RC pair serves them all.
  Bench bench(fmt::format(R"("ADC": {{"type": "adc0804", "at": "$4000", "start_clocks": 1}},
    "FIRST": {{"type": "adc0804", "at": "$4001", "clock_r": "10 kOhm", "clock_c": "150 pF", "start_clocks": 1}}, {})",
                          kSources),
              R"(["VP.OUT", "ADC.VIN+", "FIRST.VIN+"], ["VM.OUT", "ADC.VIN-", "FIRST.VIN-"],
                 ["FIRST.CLK_R", "ADC.CLK_IN"])");
  Events starts("conversion-started"), ends("conversion-done");
  bench.machine.watch(starts);
  bench.machine.watch(ends);
  bench.write(0x4000, 0);
  bench.idle(160);
  ASSERT_EQ(ends.times.size(), 1U);
  EXPECT_EQ(ends.times[0] - starts.times[0], 436);
}

TEST(Adc080xClock, CanBeEdgesOneByOne) {
  // Philips data sheet, counted: INTR falls with the 66th rising edge after the start at the earliest, RD held low lets
  // it fall for 8 clocks. After 8 k edges the counter of the phase is where it began.
  Bench bench = on_pins(R"("vcc": "5 V")", "", R"(["HAND.P3", "ADC.CLK_IN"])");
  const auto move = [&](const std::string& what) { bench.machine.set("HAND", what); };
  int edges = 0;
  const auto edge = [&] {
    move("P3 low");
    move("P3 high");
    ++edges;
  };
  move("P3 low");
  move("P0 low");
  for (int before = 0; before < 8; ++before) {
    for (int i = 0; i < before; ++i) edge();
    const int phase = edges % 8;
    move("P2 low");
    move("P2 high");
    const int total = 73 - phase;
    for (int i = 1; i < total; ++i) {
      edge();
      ASSERT_EQ(bench.level("ADC.INTR"), "high") << "edge " << i << " of " << total;
    }
    move("P1 low");
    edge();
    EXPECT_EQ(bench.level("ADC.INTR"), "low");
    for (int i = 0; i < 7; ++i) edge();
    EXPECT_EQ(bench.level("ADC.INTR"), "low");
    edge();
    EXPECT_EQ(bench.level("ADC.INTR"), "high");
    move("P1 high");
  }
  EXPECT_EQ(bench.findings(), "converter-no-result 1\n");
}

TEST(Adc080xClock, CountedBitsFallEveryEightEdges) {
  Bench bench = on_pins(R"("start_clocks": 3)", "", R"(["HAND.P3", "ADC.CLK_IN"])");
  const auto edges = [&](int count) {
    for (; count > 0; --count) {
      bench.machine.set("HAND", "P3 low");
      bench.machine.set("HAND", "P3 high");
    }
  };
  Events ends("conversion-done");
  bench.machine.watch(ends);
  for (const int before : {10, 11, 18, 19}) {
    bench.machine.set("VP", "0 V");
    bench.machine.set("HAND", "P0 low");
    bench.machine.set("HAND", "P2 low");
    bench.machine.set("HAND", "P2 high");
    edges(before);
    bench.machine.set("VP", "5 V");
    edges(68 - before);
  }
  EXPECT_EQ(ends.values, (std::vector<std::int64_t>{0xFF, 0x7F, 0x7F, 0x3F}));
}

// ---------------------------------------------------------------------------------------------------------------------
// Free-running

/// INTR drives WR through a resistor, and a button can pull WR low.
constexpr std::string_view kFreeRunning =
    R"(["VP.OUT", "ADC.VIN+"], ["VM.OUT", "ADC.VIN-"], ["ADC.CS", "ADC.RD", "GND"],
  ["ADC.INTR", "R1.1"], ["R1.2", "ADC.WR", "PRIME.1"], ["PRIME.2", "GND"])";

TEST(Adc080xFreeRunning, NeedsAFirstPulse) {
  // National data sheet: an external WR pulse makes sure that it starts.
  Bench bench(fmt::format(R"("ADC": {{"type": "adc0804", "clock": "1 MHz", "start_clocks": 8}},
    "R1": {{"type": "resistor", "ohms": "10 kOhm"}}, "PRIME": {{"type": "button", "bounce": "0 ms"}}, {})",
                          kSources),
              kFreeRunning);
  Events ends("conversion-done");
  bench.machine.watch(ends);
  bench.machine.run_for(1000);
  EXPECT_TRUE(ends.times.empty());
  bench.machine.set("PRIME", "pressed");
  bench.machine.run_for(1000);
  EXPECT_TRUE(ends.times.empty());
  bench.machine.set("PRIME", "released");
  const Stamp released = stamp_of(bench.machine.now());
  bench.machine.run_for(400);
  ASSERT_EQ(ends.times.size(), 5U);
  // 73 clocks each: 13 700 conversions a second at 1 MHz; the Philips data sheet quotes 13 690.
  for (std::size_t i = 0; i < ends.times.size(); ++i) {
    EXPECT_EQ(ends.times[i] - released, 4 * 73 * static_cast<Stamp>(i + 1));
  }
  EXPECT_EQ(bench.findings(), "");
}

TEST(Adc080xFreeRunning, TheWholeHistory) {
  Bench bench(fmt::format(R"("ADC": {{"type": "adc0804", "clock": "1 MHz", "start_clocks": 1}},
    "R1": {{"type": "resistor", "ohms": "10 kOhm"}}, "PRIME": {{"type": "button", "bounce": "0 ms"}}, {})",
                          kSources),
              kFreeRunning);
  bench.machine.set("PRIME", "pressed");
  std::string text = history_of(bench, 140, {{0, "PRIME", "released"}, {400, "VP", "4 V"}});
  // RD keeps the outputs enabled; what the first result changes on them depends on the seed.
  EXPECT_EQ(text.substr(0, text.find("66.0 ADC.")),
            "0.0 PRIME: contact 0\n"
            "0.0 ADC.WR high pulled\n"
            "0.0 ADC: conversion-started 66\n"
            "66.0 ADC: conversion-done 102\n");
  // The input rises after the fourth bit of the second conversion: 0110 becomes 01101111.
  EXPECT_EQ(text.substr(text.find("100.0")),
            "100.0 ADC.VIN+ high\n"
            "132.0 ADC: conversion-done 111\n"
            "132.0 ADC.DB0 high\n"
            "132.0 ADC.DB3 high\n"
            "132.0 ADC.WR low pulled\n"
            "132.0 ADC.INTR low\n"
            "132.0 ADC.WR high pulled\n"
            "132.0 ADC.INTR high\n"
            "132.0 ADC: conversion-started 66\n");
}

TEST(Adc080xFreeRunning, TheEventOfEachEdgeIsNamed) {
  // INTR falls with the end of a conversion, and a moment of no length later rises again and starts the next one.
  Bench bench(fmt::format(R"("ADC": {{"type": "adc0804", "clock": "1 MHz", "start_clocks": 1}},
    "R1": {{"type": "resistor", "ohms": "10 kOhm"}}, "PRIME": {{"type": "button", "bounce": "0 ms"}}, {})",
                          kSources),
              kFreeRunning);
  prewire::History history(bench.machine);
  bench.machine.set("PRIME", "pressed");
  bench.machine.run_for(20);
  bench.machine.set("PRIME", "released");
  bench.machine.run_for(100);
  const auto rise = history.last({Wanted::Kind::net, 0, 0, "ADC.INTR"});
  ASSERT_TRUE(rise);
  const NetStep* fall = nullptr;
  for (const NetStep& step : rise->steps) {
    if (step.net != "ADC.INTR") continue;
    if (step.after.level == Level::high) {
      EXPECT_EQ(step.event, "");
    }
    if (step.after.level == Level::low) fall = &step;
  }
  ASSERT_NE(fall, nullptr);
  EXPECT_EQ(fall->event, "conversion-done");
}

TEST(Adc080xFreeRunning, RunsAtAnyRatioOfClocks) {
  // Philips data sheet: fCLK/73 to fCLK/66. The processor at 100 kHz sees a converter of 1 MHz.
  LoadOptions options;
  options.run_faulty = true;
  Machine machine = Machine::from_text(
      fmt::format(R"({{"machine": "slow", "cpu": {{"type": "mc6800", "clock": "100 kHz"}}, "chips": {{
        "ADC": {{"type": "adc0804", "clock": "1 MHz"}}, "R1": {{"type": "resistor", "ohms": "10 kOhm"}},
        "PRIME": {{"type": "button", "bounce": "0 ms"}}, {}, {}}}, "wires": [{}]}})",
                  kSources, Bench::kMemory, kFreeRunning),
      "slow.json", bench_registry(), options);
  machine.poke(0x0100, 0x20);  // BRA *
  machine.poke(0x0101, 0xFE);
  machine.poke(0xFFFE, 0x01);
  machine.poke(0xFFFF, 0x00);
  Events ends("conversion-done");
  machine.watch(ends);
  machine.set("PRIME", "pressed");
  machine.set("PRIME", "released");
  machine.run_for(10'000);  // 100 ms
  EXPECT_GE(ends.times.size(), 1369U);
  EXPECT_LE(ends.times.size(), 1515U);
}

// ---------------------------------------------------------------------------------------------------------------------
// Strobes that float, states that are saved

TEST(Adc080xStrobe, ThatFloatsIsToldOfAfterAWhile) {
  Bench bench = on_pins(R"("clock": "1 MHz")");
  bench.machine.set("HAND", "P1 open");
  bench.machine.run_for(9'000);
  EXPECT_EQ(bench.findings(), "");
  bench.machine.set("HAND", "P1 high");
  bench.machine.run_for(2'000);
  EXPECT_EQ(bench.findings(), "");
  bench.machine.set("HAND", "P1 open");
  bench.machine.run_for(11'000);
  EXPECT_EQ(bench.findings(), "floating-input 1\n");
}

TEST(Adc080xStrobe, BetweenTheLevelsStaysAsItWas) {
  // TI, The TTL Data Book: 0.8 V and 2.0 V bound what an input takes for sure.
  Bench bench = on_pins(R"("clock": "1 MHz", "start_clocks": 1)");
  EXPECT_EQ(history_of(bench, 10,
                       {{0, "HAND", "P0 low"},
                        {0, "HAND", "P2 1.4 V"},
                        {4, "HAND", "P2 low"},
                        {8, "HAND", "P2 1.4 V"},
                        {12, "HAND", "P2 high"}}),
            "0.0 HAND.P0 low\n"
            "0.0 HAND.P2 unknown\n"
            "1.0 HAND.P2 low\n"
            "2.0 HAND.P2 unknown\n"
            "3.0 HAND.P2 high\n"
            "3.0 ADC: conversion-started 66\n");
}

TEST(Adc080xState, KeepsTheLevelOfAClockThatIsCounted) {
  Bench bench = on_pins(R"("start_clocks": 1)", "", R"(["HAND.P3", "ADC.CLK_IN"])");
  const auto move = [&](std::string_view what) { bench.machine.set("HAND", what); };
  for (const std::string_view what : {"P3 low", "P0 low", "P2 low", "P2 high"}) move(what);
  const Snapshot saved = bench.machine.save();
  move("P3 high");
  bench.machine.restore(saved);
  for (int edge = 1; edge <= 66; ++edge) {
    EXPECT_EQ(bench.level("ADC.INTR"), "high");
    move("P3 high");
    move("P3 low");
  }
  EXPECT_EQ(bench.level("ADC.INTR"), "low");
}

TEST(Adc080xState, IsSavedWithinAConversion) {
  Bench bench = on_pins(R"("clock": "606 kHz")");
  const Cycle begin = bench.machine.now();
  for (const Move& move : std::initializer_list<Move>{{0, "HAND", "P0 low"},
                                                      {0, "HAND", "P2 low"},
                                                      {9, "HAND", "P2 high"},
                                                      {200, "VP", "3.3 V"},
                                                      {330, "VP", "3.2 V"},
                                                      {520, "HAND", "P1 low"},
                                                      {600, "HAND", "P1 high"},
                                                      {610, "HAND", "P2 low"},
                                                      {620, "HAND", "P2 high"}}) {
    bench.machine.schedule(move.chip, move.what, stamp_of(begin) + move.when);
  }
  const Snapshot at_first = bench.machine.save();
  const auto run = [&](Cycle stop) {
    bench.machine.restore(at_first);
    History history;
    history.restart(begin);
    bench.machine.watch(history);
    bench.machine.run_until(begin + stop);
    std::string text = history.take();
    const Snapshot middle = bench.machine.save();
    bench.machine.run_for(7);
    bench.machine.restore(middle);
    history.restart(begin);
    bench.machine.run_until(begin + 320);
    bench.machine.unwatch(history);
    return text + history.take();
  };
  const std::string whole = run(0);
  EXPECT_NE(whole.find("conversion-done"), std::string::npos);
  for (Cycle stop = 1; stop < 320; ++stop) ASSERT_EQ(run(stop), whole) << "stopped after " << stop << " cycles";
}

// ---------------------------------------------------------------------------------------------------------------------
// A voltmeter (common practice)

TEST(Adc080xVoltmeter, TopFourBitsThroughATableOf16) {
  // A span of 5.12 V has 20 mV steps; the upper four bits count 0.32 V each: 15 x 0.32 = 4.80, 14 x 0.32 = 4.48, ...
  Bench bench(
      R"("ADC": {"type": "adc0804", "at": "$4000", "clock_r": "10 kOhm", "clock_c": "150 pF", "vref_half": "2.56 V"},
    "PIA": {"type": "mc6821", "at": "$5000-$5003"}, "TANK": {"type": "voltage_source"},
    "ONES": {"type": "seven_segment"}, "TENTHS": {"type": "seven_segment"})",
      R"(["TANK.OUT", "ADC.VIN+"], ["GND", "ADC.VIN-", "ONES.COM", "TENTHS.COM"],
    ["PIA.PA0", "ONES.a"], ["PIA.PA1", "ONES.b"], ["PIA.PA2", "ONES.c"], ["PIA.PA3", "ONES.d"], ["PIA.PA4", "ONES.e"],
    ["PIA.PA5", "ONES.f"], ["PIA.PA6", "ONES.g"], ["PIA.PA7", "ONES.dp"],
    ["PIA.PB0", "TENTHS.a"], ["PIA.PB1", "TENTHS.b"], ["PIA.PB2", "TENTHS.c"], ["PIA.PB3", "TENTHS.d"],
    ["PIA.PB4", "TENTHS.e"], ["PIA.PB5", "TENTHS.f"], ["PIA.PB6", "TENTHS.g"])");
  for (const int port : {0x5000, 0x5002}) {
    bench.write(static_cast<std::uint16_t>(port), 0xFF);  // all outputs
    bench.write(static_cast<std::uint16_t>(port + 1), 0x04);
  }
  // Segment patterns of 4.8, 4.5, 4.2 ..., by the upper four bits: the ones with their point, then the tenths.
  bench.poke(0x0200, "BF BF BF 86 86 86 86 DB DB DB CF CF CF E6 E6 E6");
  bench.poke(0x0210, "3F 4F 7D 3F 4F 7D 6F 5B 7D 6F 5B 6D 7F 5B 6D 7F");
  bench.poke(0x0010, "02 00");
  bench.poke(Bench::kCode,
             "B7 40 00 "     // LOOP  STAA ADC      start
             "C6 20 "        //       LDAB #32
             "5A "           // WAIT  DECB
             "26 FD "        //       BNE  WAIT     192 cycles: 121 are enough
             "B6 40 00 "     //       LDAA ADC
             "44 44 44 44 "  //       LSRA x 4
             "97 11 "        //       STAA $11
             "DE 10 "        //       LDX  $10
             "A6 00 "        //       LDAA 0,X
             "B7 50 00 "     //       STAA PIA.PRA
             "A6 10 "        //       LDAA 16,X
             "B7 50 02 "     //       STAA PIA.PRB
             "20 E1");       //       BRA  LOOP
  bench.set("PC", Bench::kCode);
  std::string seen, last;
  for (int millivolts = 5'050; millivolts >= 0; millivolts -= 10) {
    bench.machine.set("TANK", fmt::format("{} mV", millivolts));
    bench.machine.run_for(600);
    const std::string shown = bench.machine.display("display");
    if (shown != last) seen += shown + " ";
    last = shown;
  }
  EXPECT_EQ(seen, "4.8 4.5 4.2 3.8 3.5 3.2 2.9 2.6 2.2 1.9 1.6 1.3 1.0 0.6 0.3 0.0 ");
  EXPECT_EQ(bench.findings(), "");
}

}  // namespace
}  // namespace prewire::testing
