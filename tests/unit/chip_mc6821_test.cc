// MC6821 against the Motorola MC6821 data sheet (DS9435). Tests name the section; its text is quoted from memory except
// where the bits of the control registers are concerned, which agree with the Linux kernel's header mc6821.h, and the
// pins, which agree with the NTE6821 data sheet.
#include <map>
#include <set>

#include "machine_fixture.h"

namespace prewire::testing {
namespace {

constexpr const char* kPia = R"("PIA": {"type": "mc6821", "at": "$4000-$4003"})";
constexpr std::uint16_t kDataA = 0x4000, kCRA = 0x4001, kDataB = 0x4002, kCRB = 0x4003;

/// A PIA with IN.P0 to P3 on CA1, CA2, CB1 and CB2, all high at first, and IRQ lines with pull-ups.
class Lines : public Bench {
 public:
  explicit Lines(int high = 5)
      : Bench(fmt::format(R"({}, "IN": {{"type": "stimulus", "high": {}}},
                             "RA": {{"type": "resistor", "ohms": "4.7 kOhm"}}, "RB": {{"type": "resistor", "ohms": "4.7 kOhm"}})",
                          kPia, high),
              R"(["PIA.CA1", "IN.P0"], ["PIA.CA2", "IN.P1"], ["PIA.CB1", "IN.P2"], ["PIA.CB2", "IN.P3"],
                 ["PIA.IRQA", "RA.1"], ["RA.2", "+5V"], ["PIA.IRQB", "RB.1"], ["RB.2", "+5V"])"),
        history(kDataA, kCRB) {
    machine.watch(history);
  }

  void line(int pin, std::string_view does) { machine.set("IN", fmt::format("P{} {}", pin, does)); }
  void line_at(int pin, std::string_view does, Stamp when) {
    machine.schedule("IN", fmt::format("P{} {}", pin, does), when);
  }
  Stamp now() const { return stamp_of(machine.now()); }
  void restart() { history.restart(machine.now()); }

  History history;
};

// Initialization ------------------------------------------------------------------------------------------------------

TEST(Mc6821, ResetClearsAllSixRegisters) {
  // Section "Reset": a low level on RESET clears all registers.
  Bench bench(kPia);
  for (std::uint16_t address = kDataA; address <= kCRB; ++address) EXPECT_EQ(bench.read(address), 0);
  EXPECT_EQ(bench.level("PIA.IRQA"), "floating");
  EXPECT_EQ(bench.level("PIA.IRQB"), "floating");
  EXPECT_EQ(bench.machine.net("PIA.PA0")->strength, Strength::pulled);
  EXPECT_EQ(bench.machine.net("PIA.CA2")->strength, Strength::pulled);
  EXPECT_EQ(bench.level("PIA.PB7"), "floating");
  EXPECT_EQ(bench.level("PIA.CB2"), "floating");

  for (const std::uint16_t data : {kDataA, kDataB}) {
    bench.write(data, 0xF0);
    bench.write(data + 1, 0x3F);
    bench.write(data, 0xA5);
  }
  History history;
  bench.machine.watch(history);
  history.restart(bench.machine.now());
  bench.machine.reset();
  bench.wait(40);
  EXPECT_EQ(history.take(),
            "0.0 CPU.RESET low\n"
            "0.0 PIA.PA4 high pulled\n0.0 PIA.PA5 high pulled\n0.0 PIA.PA6 high pulled\n0.0 PIA.PA7 high pulled\n"
            "0.0 PIA.CA2 high pulled\n"
            "0.0 PIA.PB4 floating\n0.0 PIA.PB5 floating\n0.0 PIA.PB6 floating\n0.0 PIA.PB7 floating\n"
            "0.0 PIA.CB2 floating\n"
            "8.0 CPU.RESET high pulled\n");
  for (std::uint16_t address = kDataA; address <= kCRB; ++address) EXPECT_EQ(bench.read(address), 0);
  // The output registers too.
  bench.write(kDataA, 0xFF);
  EXPECT_EQ(bench.level("PIA.PA0"), "low");
  bench.write(kDataB, 0xFF);
  EXPECT_EQ(bench.level("PIA.PB0"), "low");
}

TEST(Mc6821, ResetLetsGoOfInterruptsAndStrobes) {
  Lines bench;
  bench.write(kCRA, 0x25);
  bench.write(kCRB, 0x25);
  bench.read(kDataA);  // CA2 low
  bench.line(2, "low");
  bench.write(kDataB, 0);
  bench.restart();
  bench.machine.reset();
  bench.wait(10);
  EXPECT_EQ(bench.history.take(),
            "0.0 CPU.RESET low\n0.0 PIA: flag-cleared 3\n"
            "0.0 PIA.CA2 high pulled\n0.0 PIA.IRQB high pulled\n0.0 PIA.CB2 floating\n"
            "8.0 CPU.RESET high pulled\n");
}

TEST(Mc6821, ControlRegisterFlagsAreReadOnly) {
  // Section "Control Registers": bits 6 and 7 are read only.
  for (const std::uint16_t control : {kCRA, kCRB}) {
    Bench bench(kPia);
    bench.write(control, 0xFF);
    EXPECT_EQ(bench.read(control), 0x3F);
    bench.write(control, 0xC0);
    EXPECT_EQ(bench.read(control), 0x00);
  }
}

TEST(Mc6821, StoringSixteenBitsSetsDirectionThenControl) {
  // Common practice: the register order lets one STX set a side up.
  Bench bench(kPia);
  History history(kDataA, kCRB);
  bench.machine.watch(history);
  history.restart(bench.machine.now());
  bench.run("CE FF 04 FF 40 00 CE 55 04 FF 40 00", 4);
  EXPECT_EQ(history.take(),
            "8.0 PIA.PA0 low\n8.0 PIA.PA1 low\n8.0 PIA.PA2 low\n8.0 PIA.PA3 low\n"
            "8.0 PIA.PA4 low\n8.0 PIA.PA5 low\n8.0 PIA.PA6 low\n8.0 PIA.PA7 low\n"
            "8.0 write $4000 $FF\n"
            "9.0 write $4001 $04\n"
            "17.0 PIA.PA0 high\n17.0 PIA.PA2 high\n17.0 PIA.PA4 high\n17.0 PIA.PA6 high\n"
            "17.0 write $4000 $55\n"
            "18.0 write $4001 $04\n");
  EXPECT_EQ(bench.machine.peek(kDataA), 0x55);
  bench.write(kCRA, 0);
  EXPECT_EQ(bench.read(kDataA), 0xFF) << "DDRA";
}

// Ports ---------------------------------------------------------------------------------------------------------------

TEST(Mc6821, PortAReadsPinsAndOutputs) {
  // Section "Section A Peripheral Data": inputs and outputs are read at the pins.
  Bench bench(fmt::format(R"({}, "IN": {{"type": "stimulus", "high": {}, "low": {}}})", kPia, 0xC0, 0x30),
              R"(["PIA.PA0..PA7", "IN.P0..P7"])");
  bench.write(kCRA, 0x00);
  bench.write(kDataA, 0x0F);
  bench.write(kCRA, 0x04);
  bench.write(kDataA, 0xA5);
  EXPECT_EQ(bench.read(kDataA), 0xC5);
  EXPECT_EQ(bench.findings(), "");
}

TEST(Mc6821, ShortedOutputShowsOnPortAOnly) {
  // Section "Section B Peripheral Data": outputs are read from the register, whatever the load.
  Bench bench(kPia, R"(["PIA.PA0", "PIA.PB0", "GND"])");
  for (const std::uint16_t data : {kDataA, kDataB}) {
    bench.write(data, 0xFF);
    bench.write(data + 1, 0x04);
    bench.write(data, 0xFF);
  }
  EXPECT_EQ(bench.read(kDataA), 0xFE);
  EXPECT_EQ(bench.read(kDataB), 0xFF);
}

// What seed 1 puts on eight nets that nobody drives.
constexpr int kByChance = 0x36;

TEST(Mc6821, OpenInputsReadHighOnPortAAndFloatOnPortB) {
  // Section "Section A Peripheral Data": internal pull-ups; Section B has none.
  const std::map<std::string, int> policies{{"ones", 0xFF}, {"last", kByChance}};
  for (const auto& [policy, expected] : policies) {
    Bench bench(kPia, "", fmt::format(R"("bus": {{"keeper": "{}"}})", policy));
    bench.write(kCRA, 0x04);
    bench.write(kCRB, 0x04);
    EXPECT_EQ(bench.read(kDataA), 0xFF);
    EXPECT_EQ(bench.findings(), "");
    EXPECT_EQ(bench.machine.peek(kDataB), expected) << policy;
    EXPECT_EQ(bench.findings(), "") << "looking must not count";
    EXPECT_EQ(bench.read(kDataB), expected) << policy;
    ASSERT_EQ(bench.machine.findings().size(), 8U);
    const Finding& first = bench.machine.findings()[0];
    EXPECT_EQ(first.id, "floating-input");
    EXPECT_EQ(first.weight, Weight::warn);
    EXPECT_EQ(first.message, fmt::format("PIA.PB0 was read while nobody drives it; it read as {}", expected & 1));
    bench.read(kDataB);
    EXPECT_EQ(bench.machine.findings()[0].count, 2U);
  }
}

TEST(Mc6821, FloatingOutputBitsOfPortBAreNoMistake) {
  Bench bench(kPia, R"(["PIA.PB0..PB3", "PIA.PB4..PB7"])");
  bench.write(kDataB, 0xF0);
  bench.write(kCRB, 0x04);
  bench.write(kDataB, 0xA5);
  EXPECT_EQ(bench.read(kDataB), 0xAA);  // PB7-PB4 of the register, and wired round to PB3-PB0
  EXPECT_EQ(bench.findings(), "");
}

TEST(Mc6821, LowInputOfPortAHasToSink) {
  // Electrical characteristics: 1.3 mA typical, 2.4 mA at most, at 0.4 V.
  const auto with = [](const char* ohms) {
    return Bench(fmt::format(R"({}, "R": {{"type": "resistor", "ohms": "{}"}})", kPia, ohms),
                 R"(["PIA.PA3", "R.1"], ["R.2", "GND"])");
  };
  Bench strong = with("308 Ohm");
  const double volts = strong.machine.net("PIA.PA3")->microvolts / 1e6;
  EXPECT_NEAR(volts, 0.4, 0.01);
  EXPECT_NEAR(volts / 308 * 1000, 1.3, 0.05);
  strong.write(kCRA, 0x04);
  EXPECT_EQ(strong.read(kDataA), 0xF7);

  Bench weak = with("1 kOhm");
  weak.write(kCRA, 0x04);
  EXPECT_EQ(weak.read(kDataA), 0xF7) << "the last sure level was none";
  ASSERT_EQ(weak.findings(), "uncertain-input 1\n");
  EXPECT_EQ(weak.machine.findings()[0].message,
            "PIA.PA3 was read at 1.11 V, between low (0.8 V) and high (2.0 V); it read as 0");
}

TEST(Mc6821, OutputRegisterCanBeSetBeforeTheDirection) {
  // Section "Control Registers": all registers can be written at any time.
  Bench bench(kPia);
  History history;
  bench.machine.watch(history);
  bench.write(kCRB, 0x04);
  bench.write(kDataB, 0x80);
  bench.write(kCRB, 0x00);
  EXPECT_EQ(history.take(), "");
  history.restart(bench.machine.now());
  bench.write(kDataB, 0x81);
  EXPECT_EQ(history.take(), "7.0 PIA.PB0 low\n7.0 PIA.PB7 high\n");
}

// Flags ---------------------------------------------------------------------------------------------------------------

TEST(Mc6821, RisingCa1SetsFlagAndInterruptsOnceEnabled) {
  // Section "Interrupt Flags (CRA-6, CRA-7, CRB-6, CRB-7)", tables of CA1 control.
  Lines bench(0);
  bench.line(0, "low");
  bench.write(kCRA, 0x06);
  bench.idle(2);
  bench.restart();
  bench.line(0, "high");
  EXPECT_EQ(bench.read(kCRA), 0x86);  // 0-4
  bench.write(kCRA, 0x07);            // 4-11
  EXPECT_EQ(bench.read(kCRA), 0x87);  // 11-15
  EXPECT_EQ(bench.read(kCRA), 0x87);  // 15-19
  bench.read(kDataA);                 // 19-23
  EXPECT_EQ(bench.read(kCRA), 0x07);
  EXPECT_EQ(bench.history.take(),
            "0.0 PIA.CA1 high\n0.0 PIA: flag 1\n"
            "4.0 read $4001 $86\n"
            "11.0 PIA.IRQA low\n11.0 write $4001 $07\n"
            "15.0 read $4001 $87\n"
            "19.0 read $4001 $87\n"
            "23.0 PIA: flag-cleared 1\n23.0 PIA.IRQA high pulled\n23.0 read $4000 $FF\n"
            "27.0 read $4001 $07\n");
}

TEST(Mc6821, FallingCa2SetsFlagAndInterrupts) {
  Lines bench(7);
  bench.write(kCRA, 0x0C);
  bench.restart();
  bench.line(1, "low");
  EXPECT_EQ(bench.read(kCRA), 0x4C);
  bench.line(1, "high");
  EXPECT_EQ(bench.read(kCRA), 0x4C);
  EXPECT_EQ(bench.history.take(),
            "0.0 PIA.CA2 low\n0.0 PIA: flag 2\n0.0 PIA.IRQA low\n"
            "4.0 read $4001 $4C\n"
            "4.0 PIA.CA2 high\n"
            "8.0 read $4001 $4C\n");
}

TEST(Mc6821, EveryModeOfEveryInputLine) {
  // Tables "Control of interrupt inputs CA1 and CB1" and "Control of CA2 and CB2 as interrupt inputs; CRA-5 (CRB-5) is
  // low": enable and edge bit against flag and IRQ.
  struct Row {
    int pin;           // of IN
    int enable, rise;  // bits of the control register
    int flag;
    std::uint16_t data;
    const char* irq;
    int number;
  };
  const Row rows[] = {{0, 0x01, 0x02, 0x80, kDataA, "PIA.IRQA", 1},
                      {1, 0x08, 0x10, 0x40, kDataA, "PIA.IRQA", 2},
                      {2, 0x01, 0x02, 0x80, kDataB, "PIA.IRQB", 3},
                      {3, 0x08, 0x10, 0x40, kDataB, "PIA.IRQB", 4}};
  for (const Row& row : rows) {
    for (int mode = 0; mode < 4; ++mode) {
      for (const bool up : {false, true}) {
        SCOPED_TRACE(fmt::format("line {}, mode {}, {} edge", row.number, mode, up ? "rising" : "falling"));
        Lines bench(up ? 0 : 15);
        bench.line(row.pin, up ? "low" : "high");
        const bool enabled = mode & 1, rise_counts = mode & 2;
        const int control = 0x04 | (enabled ? row.enable : 0) | (rise_counts ? row.rise : 0);
        bench.write(row.data + 1, control);
        bench.read(row.data);  // the line may have moved in the mode that RESET leaves
        bench.idle(2);
        bench.line(row.pin, up ? "high" : "low");
        const bool set = up == rise_counts;
        EXPECT_EQ(bench.read(row.data + 1), control | (set ? row.flag : 0));
        EXPECT_EQ(bench.level(row.irq), set && enabled ? "low" : "high");
        // Now the edge back: either way there has been one that counts. Writes to the port clear nothing.
        bench.idle(2);
        bench.line(row.pin, up ? "low" : "high");
        bench.write(row.data, 0);
        EXPECT_EQ(bench.read(row.data + 1), control | row.flag);
        EXPECT_EQ(bench.level(row.irq), enabled ? "low" : "high");
        EXPECT_EQ(bench.machine.peek(row.data + 1), control | row.flag);
        bench.machine.peek(row.data);
        EXPECT_EQ(bench.read(row.data + 1), control | row.flag) << "looking has no effects";
        bench.read(row.data);
        EXPECT_EQ(bench.read(row.data + 1), control);
        EXPECT_EQ(bench.level(row.irq), "high");
      }
    }
  }
}

TEST(Mc6821, ReadingTheDirectionRegisterClearsNothing) {
  Lines bench(0);
  bench.line(0, "low");
  bench.write(kCRA, 0x02);
  bench.line(0, "high");
  EXPECT_EQ(bench.read(kDataA), 0x00);
  EXPECT_EQ(bench.read(kCRA), 0x82);
}

TEST(Mc6821, ReadingOneSideLeavesTheOtherAlone) {
  Lines bench;
  bench.write(kCRA, 0x04);
  bench.write(kCRB, 0x04);
  bench.line(0, "low");
  bench.line(2, "low");
  bench.read(kDataB);
  EXPECT_EQ(bench.read(kCRA), 0x84);
  EXPECT_EQ(bench.read(kCRB), 0x04);
}

TEST(Mc6821, ClearReadsBeforeItWrites) {
  // MC6800 data sheet, table "Operations Summary": CLR extended reads the operand in its fourth cycle.
  Lines bench;
  bench.write(kDataA, 0xFF);
  bench.write(kCRA, 0x04);
  bench.write(kDataA, 0x55);
  bench.line(0, "low");
  EXPECT_EQ(bench.machine.peek(kCRA), 0x84);
  bench.restart();
  bench.run("7F 40 00");
  EXPECT_EQ(bench.machine.peek(kCRA), 0x04);
  EXPECT_EQ(bench.history.take(),
            "4.0 PIA: flag-cleared 1\n4.0 read $4000 $55\n"
            "6.0 PIA.PA0 low\n6.0 PIA.PA2 low\n6.0 PIA.PA4 low\n6.0 PIA.PA6 low\n6.0 write $4000 $00\n");
}

TEST(Mc6821, BothFlagsOfASideShareTheLineAndTheRead) {
  Lines bench(3);
  bench.write(kCRA, 0x0D);
  bench.restart();
  bench.line(0, "low");
  bench.line(1, "low");
  bench.write(kCRA, 0x0C);
  EXPECT_EQ(bench.level("PIA.IRQA"), "low") << "IRQA2 still asks";
  bench.write(kCRA, 0x05);
  EXPECT_EQ(bench.level("PIA.IRQA"), "low") << "IRQA1 still asks";
  bench.write(kCRA, 0x04);
  EXPECT_EQ(bench.level("PIA.IRQA"), "high");
  EXPECT_EQ(bench.read(kCRA), 0xC4);
  bench.read(kDataA);
  EXPECT_EQ(bench.read(kCRA), 0x04);
}

TEST(Mc6821, FlagTwoIsZeroWhileC2IsAnOutput) {
  // Section "Interrupt Flags": IRQA2 is 0 and not affected by CA2 when CA2 is an output.
  Lines bench(7);
  bench.write(kCRA, 0x04);
  bench.line(1, "low");
  EXPECT_EQ(bench.read(kCRA), 0x44);
  bench.line(1, "open");
  bench.write(kCRA, 0x34);
  EXPECT_EQ(bench.read(kCRA), 0x34);
  bench.write(kCRA, 0x3C);
  bench.write(kCRA, 0x34);
  EXPECT_EQ(bench.read(kCRA), 0x34);
  bench.write(kCRA, 0x04);
  EXPECT_EQ(bench.read(kCRA), 0x04) << "the old flag is gone; the rise by the pull-up is not the edge chosen";
}

TEST(Mc6821, RequestReachesTheProcessor) {
  // One program of a button counter: main loop, handler that reads port A and counts in $10.
  Bench bench(
      fmt::format(R"({}, "IN": {{"type": "stimulus", "high": 1}}, "R": {{"type": "resistor", "ohms": "3.3 kOhm"}})",
                  kPia),
      R"(["PIA.CA1", "IN.P0"], ["PIA.IRQA", "PIA.IRQB", "CPU.IRQ", "R.1"], ["R.2", "+5V"])");
  bench.poke(0xFFF8, "02 00");
  bench.poke(0x0200, "B6 40 00 7C 00 10 3B 01");
  bench.poke(0x0010, "00");
  bench.write(kCRA, 0x05);
  bench.set("S", 0x01FF);
  bench.run("0E 20 FE", 1);
  for (int press = 0; press < 3; ++press) {
    bench.machine.set("IN", "P0 low");
    bench.machine.run_for(60);
    bench.machine.set("IN", "P0 high");
    bench.machine.run_for(60);
  }
  EXPECT_EQ(bench.machine.peek(0x0010), 3);
  EXPECT_EQ(bench.findings(), "");
}

TEST(Mc6821, RequestOnAnUnwiredLineIsReported) {
  Bench bench(fmt::format(R"({}, "IN": {{"type": "stimulus", "high": 1}})", kPia), R"(["PIA.CA1", "IN.P0"])");
  bench.write(kCRA, 0x04);
  bench.machine.set("IN", "P0 low");
  EXPECT_EQ(bench.findings(), "");
  bench.write(kCRA, 0x05);
  ASSERT_EQ(bench.findings(), "irq-unwired 1\n");
  EXPECT_EQ(bench.machine.findings()[0].message, "PIA.IRQA asks for an interrupt, but nothing is wired to it");
}

TEST(Mc6821, AnOpenLineThatMayInterruptIsReported) {
  // Common practice: an open MOS input is no level. CA2 has a pull-up inside (DS9435, electrical characteristics).
  constexpr std::string_view kRequests = R"(["PIA.IRQA", "PIA.IRQB", "CPU.IRQ", "R1.1"], ["R1.2", "+5V"])";
  const std::string chips = fmt::format(R"({}, "R1": {{"type": "resistor", "ohms": "3.3 kOhm"}})", kPia);
  Bench open(chips, kRequests);
  for (const int control : {0x04, 0x06, 0x0C, 0x34}) open.write(kCRA, control);  // CA1 off; CA2 an input, and an output
  for (const int control : {0x04, 0x06, 0x3C}) open.write(kCRB, control);        // CB2 off, and an output
  EXPECT_EQ(open.findings(), "");
  open.write(kCRA, 0x05);
  EXPECT_EQ(open.findings(), "open-line-enabled 1\n");
  EXPECT_EQ(open.machine.findings()[0].message,
            "PIA.CA1 may interrupt, and nothing is wired to it: on the bench an open input sees edges of its own");
  EXPECT_EQ(open.machine.findings()[0].hint, "wire it, tie it to GND or +5V, or leave bit 0 of CRA 0");
  open.write(kCRB, 0x0D);
  ASSERT_EQ(open.machine.findings().size(), 3U);
  EXPECT_EQ(open.machine.findings()[1].message.substr(0, 7), "PIA.CB1");
  EXPECT_EQ(open.machine.findings()[2].message.substr(0, 7), "PIA.CB2");

  Bench tied(chips, fmt::format(R"({}, ["PIA.CA1", "PIA.CB1", "PIA.CB2", "GND"])", kRequests));
  tied.write(kCRA, 0x05);
  tied.write(kCRB, 0x0D);
  EXPECT_EQ(tied.findings(), "");
}

// Edge sensing --------------------------------------------------------------------------------------------------------

TEST(Mc6821, OneEPulseBetweenInactiveAndActiveEdge) {
  // Section "Interrupt Request Lines": at least one E pulse must occur from the inactive to the active edge. Interrupt
  // input pulse width: 500 ns, the length of an E pulse at 1 MHz.
  struct Row {
    int inactive, active;  // quarter cycles
    bool counts;
  };
  const Row rows[] = {
      {0, 3, false},                                              // E rises at 2, falls at 4
      {0, 4, true},  {0, 5, true},  {1, 4, true},  {2, 4, true},  // exactly the pulse
      {2, 3, false}, {3, 4, false}, {3, 7, false}, {3, 8, true},  // the next pulse
      {1, 2, false}, {4, 6, false}, {4, 8, true},
  };
  for (const int rise : {0, 2}) {
    for (const Row& row : rows) {
      SCOPED_TRACE(fmt::format("{} edge, {} to {}", rise ? "rising" : "falling", row.inactive, row.active));
      Lines bench(rise ? 1 : 0);
      if (!rise) bench.line(0, "low");
      bench.write(kCRA, 0x04 | rise);
      bench.restart();
      bench.line_at(0, rise ? "low" : "high", bench.now() + row.inactive);
      bench.line_at(0, rise ? "high" : "low", bench.now() + row.active);
      bench.idle(4);
      EXPECT_EQ(bench.machine.peek(kCRA) & 0x80, row.counts ? 0x80 : 0);
      const auto line = [](int at, const char* what) { return fmt::format("{}.{} {}\n", at / 4, at % 4, what); };
      EXPECT_EQ(bench.history.take(), line(row.inactive, rise ? "PIA.CA1 low" : "PIA.CA1 high") +
                                          line(row.active, rise ? "PIA.CA1 high" : "PIA.CA1 low") +
                                          line(row.active, row.counts ? "PIA: flag 1" : "PIA: edge-lost 1"));
      EXPECT_EQ(bench.findings(), row.counts ? "" : "edge-lost 1\n");
    }
  }
}

TEST(Mc6821, ClearedFlagIsArmedByAnEPulseWithoutAccess) {
  // Section "Interrupt Request Lines": after being cleared, the flag cannot be set until the PIA is deselected during
  // an E pulse.
  struct Row {
    const char* code;  // reads the port in its fourth cycle
    int active;        // quarter cycles from its start
    bool counts;
  };
  const Row rows[] = {
      {"B6 40 00 01 01", 16, false},                                // LDAA $4000: the edge right after the read
      {"B6 40 00 01 01", 19, false}, {"B6 40 00 01 01", 20, true},  // the next cycle fetched from elsewhere
      {"FE 40 00 01 01", 20, false},                                // LDX $4000 reads $4001 in the next cycle
      {"FE 40 00 01 01", 23, false}, {"FE 40 00 01 01", 24, true},
  };
  for (const Row& row : rows) {
    SCOPED_TRACE(fmt::format("{} at {}", row.code, row.active));
    Lines bench;
    bench.write(kCRA, 0x04);
    bench.line(0, "low");
    bench.idle(2);
    bench.line(0, "high");
    bench.idle(2);
    ASSERT_EQ(bench.machine.peek(kCRA), 0x84);
    bench.line_at(0, "low", bench.now() + row.active);
    bench.run(row.code, 3);
    EXPECT_EQ(bench.machine.peek(kCRA), row.counts ? 0x84 : 0x04);
    EXPECT_EQ(bench.findings(), row.counts ? "" : "edge-lost 1\n");
    // Once armed it works as before.
    bench.line(0, "high");
    bench.idle(2);
    bench.line(0, "low");
    EXPECT_EQ(bench.machine.peek(kCRA), 0x84);
  }
}

TEST(Mc6821, EdgeBeforeTheReadIsClearedWithIt) {
  Lines bench;
  bench.write(kCRA, 0x04);
  bench.line_at(0, "low", bench.now() + 15);  // while E is high in the cycle of the read
  bench.read(kDataA);
  EXPECT_EQ(bench.machine.peek(kCRA), 0x04);
  EXPECT_EQ(bench.findings(), "");
}

TEST(Mc6821, FloatingLineKeepsItsLastLevel) {
  Lines bench;
  bench.write(kCRA, 0x06);
  bench.line(0, "open");
  bench.idle(2);
  bench.line(0, "high");
  bench.idle(2);
  EXPECT_EQ(bench.machine.peek(kCRA), 0x06);
  bench.line(0, "low");
  bench.idle(2);
  bench.line(0, "open");
  bench.idle(2);
  bench.line(0, "high");
  EXPECT_EQ(bench.machine.peek(kCRA), 0x86);
}

TEST(Mc6821, FirstSureLevelIsNoEdge) {
  for (const int rise : {0, 2}) {
    Lines bench(0);
    bench.write(kCRA, 0x04 | rise);
    bench.line(0, rise ? "high" : "low");
    bench.idle(2);
    EXPECT_EQ(bench.machine.peek(kCRA), 0x04 | rise);
  }
}

// Strobes -------------------------------------------------------------------------------------------------------------

TEST(Mc6821, Ca2PulsesAfterAReadOfPortA) {
  // Table "Control of CA2 as an output; CRA-5 is high": low on the E fall after a read of A, high on the first E fall
  // while deselected.
  Lines bench;
  bench.write(kCRA, 0x2C);
  bench.restart();
  bench.read(kDataA);  // 0-4
  bench.idle(2);
  bench.write(kDataA, 0x55);  // 6-13: no strobe
  bench.idle(2);
  EXPECT_EQ(bench.history.take(),
            "4.0 PIA: strobe 2\n4.0 PIA.CA2 low\n4.0 read $4000 $FF\n"
            "5.0 PIA: strobe-end 2\n5.0 PIA.CA2 high\n"
            "13.0 write $4000 $55\n");
}

TEST(Mc6821, Ca2PulseLastsWhileThePiaIsSelected) {
  Lines bench;
  bench.write(kCRA, 0x2C);
  bench.restart();
  bench.run("FE 40 00 01", 2);  // LDX: port A in cycle 3, CRA in cycle 4
  EXPECT_EQ(bench.history.take(),
            "4.0 PIA: strobe 2\n4.0 PIA.CA2 low\n4.0 read $4000 $FF\n"
            "5.0 read $4001 $2C\n"
            "6.0 PIA: strobe-end 2\n6.0 PIA.CA2 high\n");
}

TEST(Mc6821, Cb2PulsesAfterAWriteOfPortB) {
  // Table "Control of CB2 as an output; CRB-5 is high": low on the first E rise after a write of B, high on the E rise
  // after an E pulse while deselected.
  Lines bench;
  bench.write(kDataB, 0xFF);
  bench.write(kCRB, 0x2C);
  bench.restart();
  bench.write(kDataB, 0x81);  // 0-7
  bench.idle(4);
  bench.read(kDataB);  // 11-15: no strobe
  bench.idle(4);
  EXPECT_EQ(bench.history.take(),
            "7.0 PIA.PB0 high\n7.0 PIA.PB7 high\n7.0 write $4002 $81\n"
            "7.2 PIA: strobe 4\n7.2 PIA.CB2 low\n"
            "8.2 PIA: strobe-end 4\n8.2 PIA.CB2 high\n"
            "15.0 read $4002 $81\n");
}

TEST(Mc6821, Cb2PulseLastsWhileThePiaIsSelected) {
  Lines bench;
  bench.write(kCRB, 0x2C);
  bench.restart();
  bench.run("CE 55 2C FF 40 02 01 01", 4);  // STX: port B in cycle 7, CRB in cycle 8
  EXPECT_EQ(bench.history.take(),
            "8.0 write $4002 $55\n"
            "8.2 PIA: strobe 4\n8.2 PIA.CB2 low\n"
            "9.0 write $4003 $2C\n"
            "10.2 PIA: strobe-end 4\n10.2 PIA.CB2 high\n");
}

TEST(Mc6821, ReadModifyWriteStrobesBothSides) {
  // MC6800 data sheet, table "Operations Summary": INC extended reads in cycle 4 and writes in cycle 6.
  Lines bench;
  bench.write(kDataB, 0xFF);
  bench.write(kCRA, 0x2C);
  bench.write(kCRB, 0x2C);
  bench.restart();
  bench.run("7C 40 00 7C 40 02 01 01", 4);
  EXPECT_EQ(bench.history.take(),
            "4.0 PIA: strobe 2\n4.0 PIA.CA2 low\n4.0 read $4000 $FF\n"
            "5.0 PIA: strobe-end 2\n5.0 PIA.CA2 high\n"
            "6.0 write $4000 $00\n"
            "10.0 read $4002 $00\n"
            "12.0 PIA.PB0 high\n12.0 write $4002 $01\n"
            "12.2 PIA: strobe 4\n12.2 PIA.CB2 low\n"
            "13.2 PIA: strobe-end 4\n13.2 PIA.CB2 high\n");
}

TEST(Mc6821, Ca2HandshakeEndsWithTheAnswerOnCa1) {
  // Table "Control of CA2 as an output": high when IRQA1 is set by an active transition of CA1.
  Lines bench;
  bench.write(kCRA, 0x24);
  bench.restart();
  bench.read(kDataA);                        // 0-4
  bench.idle(6);                             // 4-10
  bench.line_at(0, "low", bench.now() + 1);  // the edge is not synchronised with E
  EXPECT_EQ(bench.read(kCRA), 0xA4);         // 10-14
  bench.line(0, "high");
  bench.write(kDataA, 0x00);  // 14-21: no strobe
  bench.read(kDataA);         // 21-25: clears the flag and asks again
  EXPECT_EQ(bench.history.take(),
            "4.0 PIA: strobe 2\n4.0 PIA.CA2 low\n4.0 read $4000 $FF\n"
            "10.1 PIA.CA1 low\n10.1 PIA: flag 1\n10.1 PIA: strobe-end 2\n10.1 PIA.CA2 high\n"
            "14.0 read $4001 $A4\n"
            "14.0 PIA.CA1 high\n"
            "21.0 write $4000 $00\n"
            "25.0 PIA: flag-cleared 1\n25.0 PIA: strobe 2\n25.0 PIA.CA2 low\n25.0 read $4000 $FF\n");
}

TEST(Mc6821, Cb2HandshakeEndsWithTheAnswerOnCb1) {
  Lines bench;
  bench.write(kCRB, 0x24);
  bench.restart();
  bench.write(kDataB, 0x00);  // 0-7
  bench.idle(4);              // 7-11
  bench.line_at(2, "low", bench.now() + 3);
  bench.idle(2);  // 11-13
  bench.line(2, "high");
  EXPECT_EQ(bench.read(kCRB), 0xA4);  // 13-17
  bench.write(kDataB, 0x01);          // 17-24, without the read that would clear the flag
  bench.idle(2);                      // 24-26
  bench.line(2, "low");
  bench.idle(2);  // 26-28
  EXPECT_EQ(bench.history.take(),
            "7.0 write $4002 $00\n"
            "7.2 PIA: strobe 4\n7.2 PIA.CB2 low\n"
            "11.3 PIA.CB1 low\n11.3 PIA: flag 3\n11.3 PIA: strobe-end 4\n11.3 PIA.CB2 high\n"
            "13.0 PIA.CB1 high\n"
            "17.0 read $4003 $A4\n"
            "24.0 write $4002 $01\n"
            "24.2 PIA: strobe 4\n24.2 PIA.CB2 low\n"
            "26.0 PIA.CB1 low\n26.0 PIA: edge-missed 3\n");
  ASSERT_EQ(bench.findings(), "handshake-flag-set 1\n");
  EXPECT_EQ(bench.machine.findings()[0].message,
            "port B of PIA was written while CRB bit 7 is set: CB2 stays low, the next CB1 edge cannot end it");
  // The read clears the flag, and then an edge ends the strobe.
  bench.line(2, "high");
  bench.restart();
  bench.read(kDataB);  // 0-4; port B floats here, which is another matter
  bench.idle(2);
  bench.line(2, "low");
  EXPECT_EQ(bench.history.take(),
            "4.0 PIA: flag-cleared 3\n4.0 read $4002 $36\n"
            "6.0 PIA.CB1 low\n6.0 PIA: flag 3\n6.0 PIA: strobe-end 4\n6.0 PIA.CB2 high\n");
}

TEST(Mc6821, PulseModeDoesNotWaitForC1) {
  Lines bench;
  bench.write(kCRA, 0x2C);
  bench.restart();
  bench.line_at(0, "low", bench.now() + 18);  // half a cycle after the strobe begins
  bench.read(kDataA);
  bench.idle(2);
  EXPECT_EQ(bench.history.take(),
            "4.0 PIA: strobe 2\n4.0 PIA.CA2 low\n4.0 read $4000 $FF\n"
            "4.2 PIA.CA1 low\n4.2 PIA: flag 1\n"
            "5.0 PIA: strobe-end 2\n5.0 PIA.CA2 high\n");
}

TEST(Mc6821, ManualModesFollowBitThree) {
  // Tables "Control of CA2 (CB2) as an output", last two rows.
  for (const auto& [control, pin] : std::map<std::uint16_t, std::string>{{kCRA, "PIA.CA2"}, {kCRB, "PIA.CB2"}}) {
    Lines bench;
    bench.restart();
    bench.write(control, 0x34);
    EXPECT_EQ(bench.read(control), 0x34);
    bench.write(control, 0x3C);
    bench.read(control - 1);
    bench.write(control - 1, 0xFF);
    bench.idle(4);
    EXPECT_EQ(bench.read(control), 0x3C);
    const bool a = control == kCRA;
    EXPECT_EQ(bench.history.take(), fmt::format("7.0 {0} low\n7.0 write ${1:04X} $34\n"
                                                "11.0 read ${1:04X} $34\n"
                                                "18.0 {0} high\n18.0 write ${1:04X} $3C\n"
                                                "22.0 read ${2:04X} ${3}\n"
                                                "29.0 write ${2:04X} $FF\n"
                                                "37.0 read ${1:04X} $3C\n",
                                                pin, control, control - 1, a ? "FF" : "36"));
  }
}

TEST(Mc6821, StrobeThatChangesItsModeMidway) {
  // Not in the data sheet: the strobe stays low, and ends as the new mode says.
  Lines bench;
  bench.write(kCRA, 0x24);
  bench.read(kDataA);
  bench.restart();
  bench.write(kCRA, 0x2C);  // handshake to pulse
  bench.idle(2);
  bench.write(kCRA, 0x24);   // 9-16
  bench.run("FE 40 00", 1);  // 16-21
  EXPECT_EQ(bench.history.take(),
            "7.0 write $4001 $2C\n"
            "8.0 PIA: strobe-end 2\n8.0 PIA.CA2 high\n"
            "16.0 write $4001 $24\n"
            "20.0 PIA: strobe 2\n20.0 PIA.CA2 low\n20.0 read $4000 $FF\n21.0 read $4001 $24\n");
  // Pulse to handshake while CB2 is low.
  bench.write(kCRB, 0x2C);
  bench.restart();
  bench.run("CE 55 24 FF 40 02 01 01 01", 5);
  bench.line(2, "low");
  EXPECT_EQ(bench.history.take(),
            "8.0 write $4002 $55\n"
            "8.2 PIA: strobe 4\n8.2 PIA.CB2 low\n"
            "9.0 write $4003 $24\n"
            "15.0 PIA.CB1 low\n15.0 PIA: flag 3\n15.0 PIA: strobe-end 4\n15.0 PIA.CB2 high\n");
  // Any other mode gives the strobe up.
  bench.restart();
  bench.write(kCRA, 0x3C);
  bench.write(kCRA, 0x2C);
  EXPECT_EQ(bench.history.take(), "7.0 PIA.CA2 high\n7.0 write $4001 $3C\n14.0 write $4001 $2C\n");
}

TEST(Mc6821, OnePiasPulseIsLongEnoughForAnother) {
  // Strobes of one cycle have a full E pulse within.
  Bench bench(R"("P1": {"type": "mc6821", "at": "$4000-$4003"}, "P2": {"type": "mc6821", "at": "$5000-$5003"})",
              R"(["P1.CA2", "P2.CA1"], ["P1.CB2", "P2.CB1"])");
  bench.write(kCRA, 0x2C);
  bench.write(kCRB, 0x2C);
  bench.write(0x5001, 0x06);  // both see the trailing edge
  bench.write(0x5003, 0x06);
  History history;
  bench.machine.watch(history);
  history.restart(bench.machine.now());
  bench.read(kDataA);
  bench.idle(2);
  bench.write(kDataB, 0);
  bench.idle(2);
  EXPECT_EQ(history.take(),
            "4.0 P1: strobe 2\n4.0 P1.CA2 low\n"
            "5.0 P1: strobe-end 2\n5.0 P1.CA2 high\n5.0 P2: flag 1\n"
            "13.2 P1: strobe 4\n13.2 P1.CB2 low\n"
            "14.2 P1: strobe-end 4\n14.2 P1.CB2 high\n14.2 P2: flag 3\n");
}

TEST(Mc6821, ContinuesFromASavedStateAtEveryCycle) {
  // Strobes of both sides answer each other: CA2 to CB1, CB2 to CA1.
  Bench bench(fmt::format(R"({}, "R": {{"type": "resistor", "ohms": "4.7 kOhm"}})", kPia),
              R"(["PIA.CA2", "PIA.CB1"], ["PIA.CB2", "PIA.CA1"], ["PIA.IRQA", "PIA.IRQB", "R.1"], ["R.2", "+5V"])");
  bench.write(kCRA, 0x2D);
  bench.write(kDataB, 0xFF);
  bench.write(kCRB, 0x27);
  // LDAA $4000, INCB, STAB $4002, LDX $4000, LDX $4002, BRA to the start
  bench.run("B6 40 00 5C F7 40 02 FE 40 00 FE 40 02 20 F1", 0);
  History history(kDataA, kCRB);
  bench.machine.watch(history);
  const Cycle start = bench.machine.now();
  history.restart(start);
  std::vector<Snapshot> states;
  std::vector<std::string> pieces;
  for (int i = 0; i < 60; ++i) {
    states.push_back(bench.machine.save());
    bench.machine.run_until(start + i + 1);
    pieces.push_back(history.take());
  }
  const Snapshot end = bench.machine.save();
  std::string all;
  for (const std::string& piece : pieces) all += piece;
  EXPECT_NE(all.find("strobe-end 2"), std::string::npos);
  EXPECT_NE(all.find("strobe-end 4"), std::string::npos);
  EXPECT_NE(all.find("flag 1"), std::string::npos);
  EXPECT_NE(all.find("flag 3"), std::string::npos);
  for (std::size_t i = 0; i < states.size(); ++i) {
    bench.machine.restore(states[i]);
    bench.machine.run_until(start + 60);
    std::string rest;
    for (std::size_t k = i; k < pieces.size(); ++k) rest += pieces[k];
    EXPECT_EQ(history.take(), rest) << "from cycle " << i;
    EXPECT_TRUE(bench.machine.save() == end) << "from cycle " << i;
  }
}

// A control register that is read again and again is not asked each time; nobody can tell.
TEST(Mc6821, AnswersPollingTheSameWhetherAskedEachTimeOrNot) {
  constexpr Cycle kLoop = 34, kLength = 4 * kLoop;
  std::set<int> seen;
  for (Stamp edge = 0; edge < 4 * kLoop; ++edge) {
    Lines bench;
    bench.machine.unwatch(bench.history);
    bench.write(kCRA,
                edge % 2 == 0 ? 0x05 : 0x2D);  // without and with a strobe, which lasts while the chip is selected
    bench.write(kCRB, 0x04);
    // LDX $4001, STX $20, TST $4001, TPA, STAA $22, LDX $4000, BRA to the start
    bench.run("FE 40 01 DF 20 7D 40 01 07 97 22 FE 40 00 20 F0", 7);
    ASSERT_EQ(bench.machine.cpu().pc(), Bench::kCode);
    bench.machine.run_for(kLoop);
    const Cycle start = bench.machine.now();
    bench.line_at(0, "low", stamp_of(start + kLoop) + edge);
    bench.line_at(0, "high", stamp_of(start + 2 * kLoop) + edge);
    const Snapshot before = bench.machine.save();
    const auto look = [&] {
      return fmt::format("{} ${:02X} ${:02X}, CA2 {}", to_string(bench.machine.cpu()), bench.machine.peek(0x0020),
                         bench.machine.peek(0x0022), bench.level("PIA.CA2"));
    };
    // A restored machine asks.
    std::vector<std::string> asked;
    for (Cycle cycle = 1; cycle <= kLength; ++cycle) {
      bench.machine.run_until(start + cycle);
      bench.machine.restore(bench.machine.save());
      asked.push_back(look());
      seen.insert(bench.machine.peek(0x0020));
    }
    const Snapshot end = bench.machine.save();
    // Others do not; they stop once on the way.
    for (Cycle stop = kLoop; stop <= 2 * kLoop + 12; ++stop) {
      bench.machine.restore(before);
      bench.machine.run_until(start + stop);
      ASSERT_EQ(look(), asked[static_cast<std::size_t>(stop - 1)]) << "edge " << edge << ", stop " << stop;
      bench.machine.run_until(start + kLength);
      ASSERT_TRUE(bench.machine.save() == end) << "edge " << edge << ", stop " << stop;
    }
  }
  EXPECT_EQ(seen, (std::set<int>{0x05, 0x85, 0x2D, 0xAD}));
}

// Mistakes ------------------------------------------------------------------------------------------------------------

TEST(Mc6821, PortWithoutOutputsWrittenTwice) {
  Bench bench(kPia);
  bench.write(kCRB, 0x04);
  bench.write(kDataB, 0x01);  // the value may come before the direction
  EXPECT_EQ(bench.findings(), "");
  bench.write(kDataB, 0x02);
  ASSERT_EQ(bench.findings(), "port-still-input 1\n");
  EXPECT_EQ(bench.machine.findings()[0].message,
            "port B of PIA was written again, but all its bits are inputs: no pin changes");

  Bench strobing(kPia);
  strobing.write(kCRB, 0x2C);
  strobing.write(kDataB, 0x01);
  strobing.write(kDataB, 0x02);
  EXPECT_EQ(strobing.findings(), "") << "dummy writes for CB2";

  Bench proper(kPia);
  proper.write(kCRB, 0x04);
  proper.write(kDataB, 0x01);
  proper.write(kCRB, 0x00);
  proper.write(kDataB, 0xFF);
  proper.write(kCRB, 0x04);
  proper.write(kDataB, 0x02);
  EXPECT_EQ(proper.findings(), "");
}

TEST(Mc6821, DirectionRegisterTakenForThePort) {
  Bench writes(kPia);
  writes.write(kDataA, 0xFF);
  writes.write(kDataA, 0xFF);
  EXPECT_EQ(writes.findings(), "");
  writes.write(kDataA, 0x55);
  writes.idle(4);
  EXPECT_EQ(writes.findings(), "");
  const Cycle second = writes.machine.now() - 5;
  writes.write(kDataA, 0xAA);
  ASSERT_EQ(writes.findings(), "ddr-not-port 1\n");
  EXPECT_EQ(writes.machine.findings()[0].message,
            "DDRA of PIA was written again and again; CRA bit 2 is 0, so the port is not reached");
  EXPECT_EQ(writes.machine.findings()[0].first, second) << "what follows from it came later";

  Bench reads(kPia);
  reads.read(kDataB);
  EXPECT_EQ(reads.findings(), "");
  reads.read(kDataB);
  ASSERT_EQ(reads.findings(), "ddr-not-port 1\n");
  EXPECT_EQ(reads.machine.findings()[0].message,
            "DDRB of PIA was read twice in a row; CRB bit 2 is 0, so the port is not reached");

  Bench proper(kPia);
  proper.run("7F 40 00 73 40 00", 2);  // CLR, COM: they read first
  proper.write(kCRA, 0x04);
  proper.write(kCRA, 0x00);
  proper.write(kDataA, 0x0F);
  EXPECT_EQ(proper.findings(), "");
}

// Description ---------------------------------------------------------------------------------------------------------

TEST(Mc6821, PinNumbers) {
  // NTE6821 data sheet, p. 1, and the Motorola pin assignment.
  const std::map<std::string, int> expected{
      {"VSS", 1},  {"PA0", 2},  {"PA7", 9},   {"PB0", 10},  {"PB7", 17}, {"CB1", 18}, {"CB2", 19}, {"VCC", 20},
      {"R/W", 21}, {"CS0", 22}, {"CS2", 23},  {"CS1", 24},  {"E", 25},   {"D7", 26},  {"D0", 33},  {"RESET", 34},
      {"RS1", 35}, {"RS0", 36}, {"IRQB", 37}, {"IRQA", 38}, {"CA2", 39}, {"CA1", 40}};
  const Registry registry = standard_chips();
  const ChipType& type = *registry.find("mc6821");
  EXPECT_EQ(type.pins.size(), 40U);
  std::vector<int> seen(41);
  for (const PinSpec& pin : type.pins) ++seen[pin.number];
  for (int number = 1; number <= 40; ++number) EXPECT_EQ(seen[number], 1) << number;
  for (const auto& [name, number] : expected) {
    ASSERT_GE(type.pin(name), 0) << name;
    EXPECT_EQ(type.pins[type.pin(name)].number, number) << name;
  }
}

TEST(Mc6821, ExampleInTheDocs) { EXPECT_EQ(check_docs_example("mc6821.md"), "no-reset-vector\n"); }

}  // namespace
}  // namespace prewire::testing
