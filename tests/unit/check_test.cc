// The static check: exact words for everything that a look at the wiring can find, and silence for a sound circuit.
#include "description/check.h"
#include "paths.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <regex>
#include <set>
#include <sstream>

#include "prewire/chips.h"
#include "unit/machine_testing.h"

namespace prewire::testing {
namespace {

constexpr std::string_view kGauge = R"({ "machine": "rain barrel gauge",
  "cpu": { "type": "mc6800", "clock": "1 MHz" },
  "chips": {
    "RAM": { "type": "mcm6810", "at": "$0100-$017F" },
    "ROM": { "type": "2716", "at": "$F800-$FFFF" },
    "PIA": { "type": "mc6821", "at": "$4000-$4003", "mirror": "$4000-$5FFF" },
    "ADC": { "type": "adc0804", "vref_half": "2.56 V" },
    "FLOAT": { "type": "potentiometer", "position": 0.25 },
    "R1": { "type": "resistor", "ohms": "3.3 kOhm" }
  },
  "wires": [
    ["PIA.PA0..PA7", "ADC.DB0..DB7"],
    ["PIA.CA1", "ADC.INTR"],
    ["PIA.CA2", "ADC.WR"],
    ["ADC.CS", "ADC.RD", "PIA.CB1", "GND"],
    ["IRQ", "PIA.IRQA", "PIA.IRQB", "CPU.IRQ", "R1.1"],
    ["R1.2", "+5V"],
    ["FLOAT.wiper", "ADC.VIN+"],
    ["ADC.VIN-", "GND"], ["CPU.HALT", "CPU.NMI", "+5V"]
  ],
  "program": ["barrel.s19"]
}
)";

using Changes = std::vector<std::pair<std::string_view, std::string_view>>;

/// The gauge with texts replaced.
std::string gauge(const Changes& changes = {}) {
  std::string text(kGauge);
  for (const auto& [from, to] : changes) {
    const std::size_t at = text.find(from);
    if (at == std::string::npos) throw std::logic_error("not in the gauge: " + std::string(from));
    text.replace(at, from.size(), to);
  }
  return text;
}

std::string faults_with(const Changes& changes, const std::filesystem::path& folder = images()) {
  return all_faults(gauge(changes), folder);
}

TEST(Check, IsContentWithASoundCircuit) {
  EXPECT_EQ(faults_with({}), "") << "clean";
  EXPECT_EQ(faults_with({{R"("R1": { "type": "resistor", "ohms": "3.3 kOhm" })",
                          R"("R1": { "type": "resistor", "ohms": "3.3 kOhm" },
    "L": { "type": "latch", "at": "$4000" }, "A": {"type": "2114", "lines": "low", "at": "$8000-$83FF"}, "B": {"type": "2114", "lines": "high", "at": "$8000-$83FF"})"}}),
            "")
      << "overlap none";
  EXPECT_EQ(faults_with({{R"("CPU.IRQ", "R1.1"])", R"("R1.1", "GND"], ["CPU.IRQ", "+5V"])"}}), "") << "drain on gnd";
  EXPECT_EQ(faults_with({{R"("R1": { "type": "resistor", "ohms": "3.3 kOhm" })",
                          R"("R1": { "type": "resistor", "ohms": "3.3 kOhm" },
    "S": { "type": "button" })"},
                         {R"(["ADC.CS", "ADC.RD", "PIA.CB1", "GND"])",
                          R"(["ADC.RD", "GND"], ["ADC.CS", "PIA.CB1", "S.a"], ["S.b", "PIA.PB0"])"}}),
            "")
      << "driven via button";
  EXPECT_EQ(faults_with({{R"(, "CPU.IRQ", "R1.1"])", R"(, "PIA.CA2"])"},
                         {R"(["R1.2", "+5V"])", R"(["R1.1", "R1.2", "CPU.IRQ", "+5V"])"}}),
            "")
      << "pa0 pull";
  EXPECT_EQ(faults_with({{R"(["ADC.VIN-", "GND"])", R"(["ADC.VIN-", "GND"],
    ["PIA.VCC", "+5V"], ["PIA.VSS", "GND"])"}}),
            "")
      << "supply ok";
  EXPECT_EQ(
      faults_with({{R"("type": "mc6800", "clock": "1 MHz")", R"("type": "mc6802", "crystal": "4 MHz", "ram": false)"},
                   {R"(["ADC.VIN-", "GND"])", R"(["ADC.VIN-", "GND"],
    ["CPU.MR", "+5V"], ["CPU.RE", "GND"])"}}),
      "")
      << "mr ok";
  EXPECT_EQ(faults_with({{R"(["ADC.VIN-", "GND"])", R"(["ADC.VIN-", "GND"],
    ["CPU.RESET", "PIA.RESET", "RESET"])"}}),
            "")
      << "reset wired";
}

TEST(MapCheck, ChipsThatAnswerAtTheSameAddress) {
  EXPECT_EQ(faults_with({{R"("R1": { "type": "resistor", "ohms": "3.3 kOhm" })",
                          R"("R1": { "type": "resistor", "ohms": "3.3 kOhm" },
    "RAM2": { "type": "mcm6810", "at": "$0140-$01BF" })"}}),
            R"(lab.json:10:5: stop: RAM and RAM2 both answer at $0140-$017F (at /chips/RAM2) [decode-overlap]
    expected: one chip for each address that can be read
    found:    RAM at $0100-$017F, RAM2 at $0140-$01BF
    hint:     give each chip addresses of its own; a mirror counts too
)");
}

TEST(MapCheck, MirrorsCount) {
  EXPECT_EQ(faults_with({{R"("R1": { "type": "resistor", "ohms": "3.3 kOhm" })",
                          R"("R1": { "type": "resistor", "ohms": "3.3 kOhm" },
    "PIA2": { "type": "mc6821", "at": "$5000-$5003" })"}}),
            R"(lab.json:10:5: stop: PIA and PIA2 both answer at $5000-$5003 (at /chips/PIA2) [decode-overlap]
    expected: one chip for each address that can be read
    found:    PIA at $4000-$5FFF, PIA2 at $5000-$5003
    hint:     give each chip addresses of its own; a mirror counts too
lab.json:10:5: warn: inputs of PIA2 are not wired: CA1, CB1 (at /chips/PIA2) [unwired-input]
    expected: a driver, a pull-up or a rail on each input
    hint:     tie an input that is not used to GND or +5V; an open one picks up whatever is near
)");
}

TEST(MapCheck, HalfAByte) {
  EXPECT_EQ(faults_with({{R"("R1": { "type": "resistor", "ohms": "3.3 kOhm" })",
                          R"("R1": { "type": "resistor", "ohms": "3.3 kOhm" },
    "A": {"type": "2114", "lines": "low", "at": "$8000-$83FF"}, "B": {"type": "2114", "lines": "high", "at": "$8200-$85FF"})"}}),
            R"(lab.json:10:5: warn: nothing drives D4..D7 at $8000-$81FF (at /chips/A) [missing-data-lines]
    expected: chips on all eight data lines
    found:    A on the others
    hint:     add a chip for the other data lines at the same addresses
lab.json:10:65: warn: nothing drives D0..D3 at $8400-$85FF (at /chips/B) [missing-data-lines]
    expected: chips on all eight data lines
    found:    B on the others
    hint:     add a chip for the other data lines at the same addresses
)");
}

TEST(NetsCheck, TwoOutputs) {
  EXPECT_EQ(faults_with({{R"("R1": { "type": "resistor", "ohms": "3.3 kOhm" })",
                          R"("R1": { "type": "resistor", "ohms": "3.3 kOhm" },
    "G": { "type": "74ls04" })"},
                         {R"(["ADC.VIN-", "GND"])", R"(["ADC.VIN-", "GND"],
    ["G.1A", "G.2A", "GND"], ["G.1Y", "G.2Y"], ["G.2Y", "ADC.INTR"])"}}),
            R"(lab.json:21:48: stop: the outputs ADC.INTR, G.1Y and G.2Y drive one net (at /wires/10) [two-outputs]
    expected: one output on a net
    found:    ADC.INTR, G.1Y and G.2Y
    hint:     wire them apart, or put a gate between them; real outputs get hot when they disagree
)");
}

TEST(NetsCheck, OutputOnARail) {
  EXPECT_EQ(faults_with({{R"("ADC.INTR"])", R"("ADC.INTR", "+5V"])"}}),
            R"(lab.json:13:5: stop: ADC.INTR is wired to the rail +5V (at /wires/1) [output-on-rail]
    expected: an input, or a resistor between the output and the rail
    found:    ADC.INTR on +5V
    hint:     leave an output that is not used open; a pull-up needs a resistor
)");
}

TEST(NetsCheck, OpenDrainOnASupply) {
  EXPECT_EQ(faults_with({{R"("R1.1"])", R"("R1.1", "+5V"])"}}),
            R"(lab.json:16:5: stop: PIA.IRQA and PIA.IRQB are wired to the rail +5V (at /wires/4) [output-on-rail]
    expected: an input, or a resistor between the output and the rail
    found:    PIA.IRQA and PIA.IRQB on +5V
    hint:     leave an output that is not used open; a pull-up needs a resistor
)");
}

TEST(NetsCheck, InputsThatAreNotWired) {
  EXPECT_EQ(faults_with({{R"(["PIA.CA1", "ADC.INTR"],)", R"()"},
                         {R"(, "PIA.CB1")", R"()"},
                         {R"(["ADC.VIN-", "GND"])", R"(["PIA.PB0", "PIA.PB1"])"}}),
            R"(lab.json:6:5: warn: inputs of PIA are not wired: CA1, CB1 (at /chips/PIA) [unwired-input]
    expected: a driver, a pull-up or a rail on each input
    hint:     tie an input that is not used to GND or +5V; an open one picks up whatever is near
lab.json:7:5: warn: an input of ADC is not wired: VIN- (at /chips/ADC) [unwired-input]
    expected: a driver, a pull-up or a rail on each input
    hint:     tie an input that is not used to GND or +5V; an open one picks up whatever is near
)");
}

TEST(NetsCheck, BusPinsAreInputsWithoutAPlace) {
  EXPECT_EQ(faults_with({{R"("R1": { "type": "resistor", "ohms": "3.3 kOhm" })",
                          R"("R1": { "type": "resistor", "ohms": "3.3 kOhm" },
    "L": { "type": "latch" })"},
                         {R"(["ADC.VIN-", "GND"])", R"(["ADC.VIN-", "GND"],
    ["L.Q", "PIA.PB0"])"}}),
            R"(lab.json:10:5: warn: inputs of L are not wired: D, CLK, CLEAR (at /chips/L) [unwired-input]
    expected: a driver, a pull-up or a rail on each input
    hint:     tie an input that is not used to GND or +5V; an open one picks up whatever is near
)");
}

TEST(NetsCheck, InputsAlone) {
  EXPECT_EQ(faults_with({{R"(["ADC.CS", "ADC.RD", "PIA.CB1", "GND"])", R"(["ADC.CS", "ADC.RD", "PIA.CB1"])"}}),
            R"(lab.json:15:5: warn: nothing drives or pulls ADC.CS, ADC.RD and PIA.CB1 (at /wires/3) [undriven-input]
    expected: an output, a source, a pull-up or a rail on the net
    found:    inputs only
    hint:     wire an output to it, or look for a wire that is missing
)");
}

TEST(NetsCheck, ALampDrivesNothing) {
  EXPECT_EQ(faults_with({{R"("R1": { "type": "resistor", "ohms": "3.3 kOhm" })",
                          R"("R1": { "type": "resistor", "ohms": "3.3 kOhm" },
    "D1": { "type": "lamp" })"},
                         {R"(["FLOAT.wiper", "ADC.VIN+"])", R"(["D1.A", "ADC.VIN+"], ["FLOAT.wiper", "PIA.PB0"])"}}),
            R"(lab.json:10:5: warn: D1.K is not wired to anything (at /chips/D1) [open-end]
    expected: a wire at each end of the part
    hint:     no current flows through a part with an open end: look for the wire that is missing
lab.json:19:5: warn: nothing drives or pulls ADC.VIN+ (at /wires/6) [undriven-input]
    expected: an output, a source, a pull-up or a rail on the net
    found:    nothing that drives
    hint:     wire an output to it, or look for a wire that is missing
)");
}

TEST(NetsCheck, ALabelDrivesNothing) {
  EXPECT_EQ(faults_with({{R"(["ADC.CS", "ADC.RD", "PIA.CB1", "GND"])",
                          R"(["ADC.CS", "SELECT"], ["ADC.RD", "PIA.CB1", "GND"])"}}),
            R"(lab.json:15:5: warn: nothing drives or pulls ADC.CS (at /wires/3) [undriven-input]
    expected: an output, a source, a pull-up or a rail on the net
    found:    inputs only
    hint:     wire an output to it, or look for a wire that is missing
)");
}

TEST(NetsCheck, AContactToNowhereDrivesNothing) {
  EXPECT_EQ(faults_with({{R"("R1": { "type": "resistor", "ohms": "3.3 kOhm" })",
                          R"("R1": { "type": "resistor", "ohms": "3.3 kOhm" },
    "S": { "type": "button" })"},
                         {R"(["ADC.CS", "ADC.RD", "PIA.CB1", "GND"])",
                          R"(["ADC.RD", "GND"], ["ADC.CS", "PIA.CB1", "S.a"], ["S.b", "PUSHED"])"}}),
            R"(lab.json:10:5: warn: S.b is not wired to anything (at /chips/S) [open-end]
    expected: a wire at each end of the part
    hint:     no current flows through a part with an open end: look for the wire that is missing
lab.json:16:24: warn: nothing drives or pulls ADC.CS and PIA.CB1 (at /wires/4) [undriven-input]
    expected: an output, a source, a pull-up or a rail on the net
    found:    nothing that drives
    hint:     wire an output to it, or look for a wire that is missing
)");
}

TEST(NetsCheck, AResistorToGroundIsNoPullUp) {
  EXPECT_EQ(
      faults_with({{R"(["R1.2", "+5V"])", R"(["R1.2", "GND"])"}}),
      R"(lab.json:16:5: warn: R1 pulls the net of PIA.IRQA and PIA.IRQB to GND, and nothing pulls it high (at /wires/4) [pulled-the-wrong-way]
    expected: a resistor from the net to +5V
    found:    open-drain outputs, which only pull low
    hint:     wire the other end of R1 to +5V
)");
}

TEST(NetsCheck, AResistorElsewhereIsNoPullUp) {
  EXPECT_EQ(faults_with({{R"(, "R1.1"])", R"(])"}, {R"(["R1.2", "+5V"])", R"(["R1.1", "R1.2", "+5V"])"}}),
            R"(lab.json:16:5: warn: nothing pulls the net of PIA.IRQA and PIA.IRQB high (at /wires/4) [no-pull-up]
    expected: a resistor from the net to +5V
    found:    open-drain outputs, which only pull low
    hint:     add a resistor of 3.3 to 10 kOhm between the net and +5V
)");
}

TEST(NetsCheck, RailsEndWhatResistorsJoin) {
  EXPECT_EQ(
      faults_with({{R"("R1": { "type": "resistor", "ohms": "3.3 kOhm" })",
                    R"("R1": { "type": "resistor", "ohms": "3.3 kOhm" },
    "R2": { "type": "resistor", "ohms": "1 kOhm" })"},
                   {R"(["R1.2", "+5V"])", R"(["R1.2", "GND", "R2.1"], ["R2.2", "+5V"])"}}),
      R"(lab.json:17:5: warn: R1 pulls the net of PIA.IRQA and PIA.IRQB to GND, and nothing pulls it high (at /wires/4) [pulled-the-wrong-way]
    expected: a resistor from the net to +5V
    found:    open-drain outputs, which only pull low
    hint:     wire the other end of R1 to +5V
)");
}

TEST(NetsCheck, PortPinsReadOpenDrains) {
  EXPECT_EQ(faults_with({{R"(, "CPU.IRQ", "R1.1"])", R"(, "PIA.PB0"])"},
                         {R"(["R1.2", "+5V"])", R"(["R1.1", "R1.2", "CPU.IRQ", "+5V"])"}}),
            R"(lab.json:16:5: warn: nothing pulls the net of PIA.IRQA and PIA.IRQB high (at /wires/4) [no-pull-up]
    expected: a resistor from the net to +5V
    found:    open-drain outputs, which only pull low
    hint:     add a resistor of 3.3 to 10 kOhm between the net and +5V
)");
}

TEST(NetsCheck, ChipsThatNobodyIsWiredTo) {
  EXPECT_EQ(faults_with({{R"("R1": { "type": "resistor", "ohms": "3.3 kOhm" })",
                          R"("R1": { "type": "resistor", "ohms": "3.3 kOhm" },
    "R2": { "type": "resistor", "ohms": "1 kOhm" }, "L": {"type": "latch"}, "G": {"type": "74ls04"})"}}),
            R"(lab.json:10:5: hint: R2 is not connected to anything (at /chips/R2) [idle-chip]
    expected: wires
    hint:     wire the chip, or remove it
lab.json:10:53: hint: L is not connected to anything (at /chips/L) [idle-chip]
    expected: wires, or a place in the address map
    hint:     wire the chip, or remove it
lab.json:10:77: hint: G is not connected to anything (at /chips/G) [idle-chip]
    expected: wires
    hint:     wire the chip, or remove it
)");
}

TEST(ResetVectorCheck, WithoutMemory) {
  EXPECT_EQ(faults_with({{R"("at": "$F800-$FFFF")", R"("at": "$E000-$E7FF")"}, {R"("barrel.s19")", R"()"}}),
            R"(lab.json:2:3: warn: no memory answers at $FFFE-$FFFF (at /cpu) [no-reset-vector]
    expected: a ROM that answers there
    hint:     the processor fetches its start address there: place a ROM, or let its mirror reach $FFFF
)");
}

TEST(ResetVectorCheck, WithoutProgram) {
  EXPECT_EQ(faults_with({{R"("program": ["barrel.s19"])", R"("about": "no program")"}}),
            R"(lab.json:2:3: warn: no program image fills $FFFE-$FFFF (at /cpu) [no-reset-vector]
    expected: the start address of the program, high byte first
    found:    no program
    hint:     end the program with the vector: ORG $FFFE and FDB with the label of its start
)");
}

TEST(NetsCheck, WrongSupply) {
  EXPECT_EQ(faults_with({{R"(["ADC.VIN-", "GND"])", R"(["ADC.VIN-", "GND"],
    ["PIA.VCC", "GND"], ["PIA.VSS", "-12V"])"}}),
            R"(lab.json:20:5: stop: the supply pin PIA.VCC is joined to GND (at /wires/8) [wrong-supply]
    expected: 5 V
    found:    0 V
    hint:     leave supply pins out of the wires: they are connected without being named
lab.json:20:25: stop: the supply pin PIA.VSS is joined to -12V (at /wires/9) [wrong-supply]
    expected: 0 V
    found:    -12 V
    hint:     leave supply pins out of the wires: they are connected without being named
)");
}

TEST(NetsCheck, SuppliesJoined) {
  EXPECT_EQ(faults_with({{R"(["ADC.VIN-", "GND"])", R"(["ADC.VIN-", "GND"],
    ["PIA.VCC", "PIA.VSS"])"}}),
            R"(lab.json:20:5: stop: the supply pin PIA.VSS is joined to PIA.VCC (at /wires/8) [wrong-supply]
    expected: 0 V
    found:    5 V
    hint:     leave supply pins out of the wires: they are connected without being named
)");
}

TEST(NetsCheck, PinsOfTheProcessorThatAreFixed) {
  EXPECT_EQ(faults_with({{R"("type": "mc6800", "clock": "1 MHz")", R"("type": "mc6802", "crystal": "4 MHz")"},
                         {R"(["ADC.VIN-", "GND"])", R"(["ADC.VIN-", "GND"],
    ["CPU.MR", "PIA.PB7"], ["CPU.RE", "GND"])"}}),
            R"(lab.json:20:28: stop: CPU.RE is not tied to +5V: its RAM cannot come and go (at /wires/9) [fixed-pin]
    expected: CPU.RE on +5V, or not wired
    found:    GND
    hint:     "ram" in "cpu" says whether the RAM answers
)");
}

TEST(NetsCheck, PinsOfTheProcessorOnTheWrongRail) {
  EXPECT_EQ(
      faults_with({{R"("type": "mc6800", "clock": "1 MHz")", R"("type": "mc6802", "crystal": "4 MHz", "ram": false)"},
                   {R"(["ADC.VIN-", "GND"])", R"(["ADC.VIN-", "GND"],
    ["CPU.MR", "GND"], ["CPU.RE", "+5V"])"}}),
      R"(lab.json:20:5: stop: CPU.MR is tied to GND: E stays high for ever (at /wires/8) [fixed-pin]
    expected: CPU.MR on +5V, or on an output of slow memory
    found:    GND
    hint:     tie it to +5V if every memory answers in time
lab.json:20:24: stop: CPU.RE is not tied to GND: its RAM cannot come and go (at /wires/9) [fixed-pin]
    expected: CPU.RE on GND, or not wired
    found:    +5V
    hint:     "ram" in "cpu" says whether the RAM answers
)");
}

TEST(MapCheck, RamInTheProcessorCounts) {
  EXPECT_EQ(faults_with({{R"("type": "mc6800", "clock": "1 MHz")", R"("type": "mc6802", "crystal": "4 MHz")"},
                         {R"("R1": { "type": "resistor", "ohms": "3.3 kOhm" })",
                          R"("R1": { "type": "resistor", "ohms": "3.3 kOhm" },
    "RAM0": { "type": "mcm6810", "at": "$0000-$007F" })"}}),
            R"(lab.json:10:5: stop: CPU's RAM and RAM0 both answer at $0000-$007F (at /chips/RAM0) [decode-overlap]
    expected: one chip for each address that can be read
    found:    CPU's RAM at $0000-$007F, RAM0 at $0000-$007F
    hint:     give each chip addresses of its own; a mirror counts too
)");
}

/// The gauge with `code` at $0100 and the vector in a key-in listing.
std::string with_program(std::string_view listing, const Changes& changes = {}) {
  const Folder folder("reset-vector");
  folder.write("gauge.key", listing);
  Changes all = changes;
  all.emplace_back("barrel.s19", "gauge.key");
  return faults_with(all, folder.path());
}

TEST(ResetVectorCheck, WithItsBytesSwapped) {
  EXPECT_EQ(with_program("0100: 20 FE\nFFFE: 00 01\n"),
            R"(lab.json:21:3: warn: the reset vector names $0001, where no memory answers (at /program) [reset-vector]
    expected: an address with program code
    found:    $00 at $FFFE and $01 at $FFFF
    hint:     $0100 holds program code: are the two bytes swapped? The high byte comes first
)");
}

TEST(ResetVectorCheck, IntoEmptyMemory) {
  EXPECT_EQ(
      with_program("0100: 20 FE\nFFFE: 01 40\n"),
      R"(lab.json:21:3: warn: the reset vector names $0140, where no program is loaded (at /program) [reset-vector]
    expected: an address with program code
    found:    $01 at $FFFE and $40 at $FFFF
    hint:     correct the vector, or load the program there
)");
}

TEST(ResetVectorCheck, ThatNobodyLoads) {
  const std::string_view expected =
      R"(lab.json:21:3: warn: no program image fills $FFFE-$FFFF (at /program) [no-reset-vector]
    expected: the start address of the program, high byte first
    found:    nothing there
    hint:     end the program with the vector: ORG $FFFE and FDB with the label of its start
)";
  EXPECT_EQ(with_program("0100: 20 FE\n"), expected);
  EXPECT_EQ(with_program("0100: 20 FE\nFFFF: 00\n"), expected);
}

TEST(ResetVectorCheck, LooksThroughMirrors) {
  const Changes mirrored = {{R"("at": "$F800-$FFFF")", R"("at": "$F000-$F7FF", "mirror": "$E000-$FFFF")"}};
  EXPECT_EQ(with_program("E7FE: F0 10\nE010: 20 FE\n", mirrored), "");
  EXPECT_EQ(with_program("F7FE: F0 10\nF810: 20 FE\n", mirrored), "");
}

TEST(ResetVectorCheck, PutsHalvesTogether) {
  const Changes halves = {{R"({ "type": "2716", "at": "$F800-$FFFF" })",
                           R"({ "type": "2114", "lines": "low", "at": "$FC00-$FFFF" },
    "TOP": { "type": "2114", "lines": "high", "at": "$FC00-$FFFF" })"}};
  EXPECT_EQ(with_program("FC00: 20 FE\nFFFE: FC 00\n", halves), "");
}

TEST(Check, ComesWorstFirst) {
  EXPECT_EQ(faults_with({{R"("R1": {)", R"("R9": { "type": "resistor", "ohms": "1 kOhm" }, "R1": {)"},
                         {R"(["ADC.VIN-", "GND"])", R"(["PIA.VCC", "GND"])"},
                         {"barrel.s19", "none.s19"}}),
            R"(lab.json:19:5: stop: the supply pin PIA.VCC is joined to GND (at /wires/7) [wrong-supply]
    expected: 5 V
    found:    0 V
    hint:     leave supply pins out of the wires: they are connected without being named
lab.json:21:15: stop: the file cannot be read (at /program/0) [image-unreadable]
    found:    "none.s19": No such file or directory
    hint:     check the path and the permissions
)") << "what is missing is not judged while the data is incomplete";
  EXPECT_EQ(faults_with({{R"("R1": {)", R"("R9": { "type": "resistor", "ohms": "1 kOhm" }, "R1": {)"},
                         {R"(["ADC.VIN-", "GND"])", R"(["PIA.VCC", "GND"])"}})
                .substr(0, 20),
            "lab.json:19:5: stop:");
}

TEST(Check, TellsDataFromWiring) {
  const auto check = [](const Changes& changes) {
    const CheckedMachine checked = read_and_check(gauge(changes), "lab.json", images(), field_station(), {});
    return fmt::format("{}{}{}", checked.data_faults ? "data " : "", checked.wiring_faults ? "wiring " : "",
                       checked.faults.size());
  };
  EXPECT_EQ(check({}), "0");
  EXPECT_EQ(check({{R"(["ADC.VIN-", "GND"])", R"(["PIA.VCC", "GND"])"}}), "wiring 2");
  EXPECT_EQ(check({{R"("ADC.VIN-", "GND")", R"("ADC.VIN-", "ground")"}}), "1");
  EXPECT_EQ(check({{R"("ADC.VIN-", "GND")", R"("ADC.VIN-", "GND.")"}}), "data 1");
  EXPECT_EQ(check({{R"("ADC.VIN-", "GND")", R"("ADC.INTR", "GND"], ["X.", "GND")"}}), "data wiring 2");
}

// ---------------------------------------------------------------------------------------------------------------------
// docs/machine-file.md

std::string slurp(const std::filesystem::path& path) {
  std::ifstream in(path, std::ios::binary);
  if (!in) throw std::runtime_error("cannot open " + path.string());
  return {std::istreambuf_iterator<char>(in), {}};
}

std::set<std::string> matches(const std::string& text, const std::string& pattern) {
  std::set<std::string> found;
  const std::regex regex(pattern);
  for (std::sregex_iterator match(text.begin(), text.end(), regex), end; match != end; ++match)
    found.insert((*match)[1]);
  return found;
}

const std::filesystem::path kSource = source_folder();

TEST(MachineFileDocs, ExplainEveryFault) {
  std::string sources;
  for (const char* name : {"boards", "json_text", "values", "wires", "programs", "parse", "check", "end_rules",
                           "input_rules", "lamp_rules", "load_rules", "logic_rules", "select_rules"}) {
    sources += slurp(kSource / "core/description" / (std::string(name) + ".cc"));
  }
  std::set<std::string> reported = matches(sources, R"re((?:\bid = |\badd\(\s*)"([a-z-]+)")re");
  for (const char* choice : {R"re(\? "([a-z-]+)" : "[a-z-]+", Weight)re", R"re( : "([a-z-]+)", Weight)re"}) {
    reported.merge(matches(sources, choice));
  }
  const std::set<std::string> documented =
      matches(slurp(kSource / "docs/machine-file.md"), R"re(\| `([a-z-]+)` \| (?:stop|warn|hint)(?:, hint)? \|)re");
  EXPECT_GE(reported.size(), 45U) << "the pattern no longer finds the ids in the sources";
  EXPECT_EQ(reported, documented);
}

TEST(MachineFileDocs, EveryFaultHasATestOfItsWords) {
  std::string tests;
  for (const char* name : {"json_text", "parse", "check", "check_circuit", "ranges"})
    tests += slurp(kSource / "tests/unit" / (std::string(name) + "_test.cc"));
  for (const auto& file : std::filesystem::directory_iterator(kSource / "tests/cli/cases")) {
    if (file.path().stem().string().starts_with("check")) tests += slurp(file.path());
  }
  std::set<std::string> tested = matches(tests, R"re(\[([a-z-]+)\]\n)re");
  tested.merge(matches(slurp(kSource / "tests/unit/machine_selects_test.cc"), R"re(faults\("([a-z-]+)"\))re"));
  for (const std::string& id :
       matches(slurp(kSource / "docs/machine-file.md"), R"re(\| `([a-z-]+)` \| (?:stop|warn|hint)(?:, hint)? \|)re")) {
    EXPECT_TRUE(tested.contains(id)) << id;
  }
}

/// Fenced blocks of the page with that word after the fence.
std::vector<std::string> blocks(const std::string& kind) {
  std::vector<std::string> found;
  std::istringstream lines(slurp(kSource / "docs/machine-file.md"));
  bool inside = false, wanted = false;
  for (std::string line; std::getline(lines, line);) {
    if (line.rfind("```", 0) == 0) {
      inside = !inside;
      wanted = inside && line == "```" + kind;
      if (wanted) found.emplace_back();
    } else if (wanted) {
      found.back() += line + "\n";
    }
  }
  return found;
}

TEST(MachineFileDocs, ExampleIsASoundMachine) {
  const std::vector<std::string> examples = blocks("json");
  ASSERT_GE(examples.size(), 1U);
  // Usual parts do it: PA0 to PA7 of a PIA may ask for more than the converter is guaranteed to give (docs/loads.md).
  const std::vector<Fault> faults = check_machine(examples[0], "gauge.json", images(), standard_chips());
  ASSERT_EQ(faults.size(), 1U) << text_of(faults);
  EXPECT_EQ(faults[0].id, "output-overload");
  EXPECT_EQ(faults[0].weight, Weight::hint);
}

TEST(MachineFileDocs, SampleMessageIsReal) {
  std::string text(blocks("json").at(0));
  const std::string ohms = "\"ohms\": \"3.3 kOhm\"";
  text.replace(text.find(ohms), ohms.size(), "\"ohms\": \"4.7k\"");
  EXPECT_EQ(text_of(check_machine(text, "gauge.json", images(), standard_chips())), blocks("text").at(0));
}

}  // namespace
}  // namespace prewire::testing
