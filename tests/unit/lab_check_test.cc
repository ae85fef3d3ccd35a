// Lab checks: every stimulus and every expectation, met and not met. Cycles of instructions: Motorola, M6800
// Programming Reference Manual (1976), appendix A: INC extended 6, JSR extended 9, NOP 2, RTS 5, BRA 4, LDS immediate
// 3, CLR extended 6.
#include "prewire/lab_check.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <set>

#include "prewire/chips.h"
#include "unit/machine_testing.h"

namespace prewire::testing {
namespace {

constexpr std::string_view kMachine = R"({
  "machine": "bench",
  "cpu": { "type": "mc6800", "clock": "1 MHz" },
  "chips": {
    "RAM": { "type": "6116", "at": "$0000-$07FF" },
    "ROM": { "type": "2716", "at": "$F800-$FFFF" },
    "KEY": { "type": "button", "bounce": "0 ms" },
    "CALL": { "type": "button", "bounce": "0 ms" },
    "SW": { "type": "switch" },
    "FLOAT": { "type": "potentiometer", "position": 0 },
    "OSC": { "type": "oscillator", "frequency": "10 kHz" },
    "LAMP": { "type": "led" },
    "DRV": { "type": "dm9368" },
    "DIGIT": { "type": "seven_segment", "common": "cathode" },
    "R1": { "type": "resistor", "ohms": "10 kOhm" },
    "R2": { "type": "resistor", "ohms": "330 Ohm" },
    "R3": { "type": "resistor", "ohms": "10 kOhm" }
  },
  "wires": [
    ["R2.1", "+5V"], ["R2.2", "LAMP.A"], ["LAMP.K", "KEY.1"], ["KEY.2", "GND"],
    ["CPU.NMI", "CALL.1", "R3.1"], ["R3.2", "+5V"], ["CALL.2", "GND"],
    ["CPU.IRQ", "CPU.HALT", "CPU.DBE", "+5V"], ["CPU.TSC", "GND"],
    ["BIT", "SW.1", "R1.1", "DRV.A0"], ["R1.2", "+5V"], ["SW.2", "GND"],
    ["DRV.A1", "DRV.A2", "DRV.A3", "DRV.LE", "GND"], ["DRV.RBI", "+5V"],
    ["DRV.a", "DIGIT.a"], ["DRV.b", "DIGIT.b"], ["DRV.c", "DIGIT.c"], ["DRV.d", "DIGIT.d"],
    ["DRV.e", "DIGIT.e"], ["DRV.f", "DIGIT.f"], ["DRV.g", "DIGIT.g"], ["DIGIT.COM", "DIGIT.dp", "GND"],
    ["FLOAT.1", "GND"], ["FLOAT.3", "+5V"]
  ],
  "program": ["PROGRAM"],
  "display": { "BIT": ["DIGIT"] }
})";

constexpr std::string_view kCounter = R"(
        cpu     mc6800
        org     $0000
count:  rmb     1
calls:  rmb     1
        org     $F800
start:  lds     #$00FF
        clr     count
        clr     calls
loop:   inc     count
        jsr     work
        bra     loop
work:   nop
        rts
nmi:    inc     calls
        rti
        org     $FFF8
        fdb     loop,loop,nmi,start
)";

// Reads RAM that nobody has written, then meets an opcode that does not exist.
constexpr std::string_view kStray = R"(
        cpu     mc6800
        org     $F800
start:  ldaa    $0010
        fcb     $02
        org     $FFF8
        fdb     start,start,start,start
)";

// Pushes a byte before S was loaded: the lab partner says so (MC6800 data sheet: RESET leaves S as it is).
constexpr std::string_view kStackless = R"(
        cpu     mc6800
        org     $F800
start:  psha
work:   bra     work
        org     $FFF8
        fdb     start,start,start,start
)";

constexpr CheckLimits kNoLimits{std::int64_t{1} << 60, std::int64_t{1} << 60, std::uint64_t{1} << 60};

class Lab {
 public:
  explicit Lab(std::string_view program) : folder_("lab-check") {
    std::string machine(kMachine);
    machine.replace(machine.find("PROGRAM"), 7, "lab.asm");
    folder_.write("lab.json", machine);
    folder_.write("lab.asm", program);
    description_.emplace(Description::from_file(folder_.path() / "lab.json", registry()));
  }

  CheckResult run(std::string_view body, const CheckLimits& limits = kNoLimits) const {
    const std::vector<LabCheck> checks = read(body);
    CheckRun run(checks.at(0), *description_, limits);
    while (run.go_on()) {
    }
    return run.take_result();
  }

  static std::vector<LabCheck> read(std::string_view body) {
    return read_checks(fmt::format(R"({{"machine": "lab.json", "checks": [{{"check": "it", {}}}]}})", body), "c.json");
  }

  const Description& description() const { return *description_; }

 private:
  static const Registry& registry() {
    static const Registry kRegistry = standard_chips();
    return kRegistry;
  }
  Folder folder_;
  std::optional<Description> description_;
};

const Lab& counter() {
  static const Lab kLab(kCounter);
  return kLab;
}

const Lab& stray() {
  static const Lab kLab(kStray);
  return kLab;
}

/// "passed", or what was found at the first failure.
std::string outcome(const CheckResult& result) {
  if (result.passed) return "passed";
  for (const ExpectationResult& expectation : result.expectations) {
    if (!expectation.met) return expectation.found;
  }
  return result.why;
}

/// What the first expectation has measured.
std::string found(const CheckResult& result) { return result.expectations.at(0).found; }

struct Case {
  std::string_view name, body, outcome;
};

class LabCheckCase : public ::testing::TestWithParam<Case> {};

TEST_P(LabCheckCase, Fares) { EXPECT_EQ(outcome(counter().run(GetParam().body)), GetParam().outcome); }

constexpr Case kCases[] = {
    // Displays and LEDs: what stays for 20 ms counts from when it was first seen.
    {"DisplayAt", R"("expect": [{"at": "50 ms", "display": "BIT", "shows": "1"}])", "passed"},
    {"DisplayAtNot", R"("expect": [{"at": "50 ms", "display": "BIT", "shows": "7"}])", "BIT shows \"1\""},
    {"DisplayAtEnd", R"("for": "80 ms", "stimuli": [{"at": "30 ms", "set": "SW", "to": "closed"}],
      "expect": [{"display": "BIT", "shows": " 0 "}])",
     "passed"},
    {"DisplayWithin", R"("stimuli": [{"at": "50 ms", "set": "SW", "to": "closed"}],
      "expect": [{"from": "50 ms", "within": "15 ms", "display": "BIT", "shows": "0"}])",
     "passed"},
    {"DisplayWithinNot", R"("stimuli": [{"at": "50 ms", "set": "SW", "to": "closed"}],
      "expect": [{"from": "20 ms", "within": "25 ms", "display": "BIT", "shows": "0"}])",
     "BIT shows \"1\""},
    {"DisplayHeld", R"("expect": [{"at": "40 ms", "held": "100 ms", "display": "BIT", "shows": "1"}])", "passed"},
    {"DisplayHeldNot", R"("stimuli": [{"at": "90 ms", "set": "SW", "to": "closed"}],
      "expect": [{"at": "40 ms", "held": "100 ms", "display": "BIT", "shows": "1"}])",
     "BIT shows \"0\""},
    {"DisplayNever", R"("for": "90 ms", "expect": [{"never": {"display": "BIT", "shows": "0"}}])", "passed"},
    {"DisplayNeverNot", R"("for": "90 ms", "stimuli": [{"at": "30 ms", "set": "SW", "to": "closed"}],
      "expect": [{"never": {"display": "BIT", "shows": "0"}}])",
     "BIT shows \"0\""},
    {"LedPress", R"("stimuli": [{"at": "40 ms", "press": "KEY", "held": "60 ms"}],
      "expect": [{"at": "80 ms", "led": "LAMP", "is": "on"}, {"at": "140 ms", "led": "LAMP", "is": "off"}])",
     "passed"},
    {"LedNot", R"("stimuli": [{"at": "40 ms", "press": "KEY", "held": "60 ms"}],
      "expect": [{"at": "140 ms", "led": "LAMP", "is": "on"}])",
     "LAMP is off"},
    {"LedStaysPressed", R"("for": "200 ms", "stimuli": [{"press": "KEY"}],
      "expect": [{"led": "LAMP", "is": "on"}, {"never": {"led": "LAMP", "is": "off"}, "from": "40 ms"}])",
     "passed"},
    // Nets.
    {"NetAt", R"("stimuli": [{"at": "1 ms", "set": "SW", "to": "closed"}],
      "expect": [{"at": "0.9 ms", "net": "BIT", "is": "high"}, {"at": "1.1 ms", "net": "SW.1", "is": "low"}])",
     "passed"},
    {"NetAtNot", R"("expect": [{"at": "1 ms", "net": "BIT", "is": "low"}])", "BIT is high"},
    {"NetWithin", R"("stimuli": [{"at": "500 cycles", "set": "SW", "to": "closed"}],
      "expect": [{"from": "500 cycles", "within": "1 cycle", "held": "1 ms", "net": "BIT", "is": "low"}])",
     "passed"},
    {"NetHeldNot", R"("stimuli": [{"at": "1 ms", "press": "CALL", "held": "100 us"}],
      "expect": [{"at": "0.5 ms", "held": "1 ms", "net": "CPU.NMI", "is": "high"}])",
     "CPU.NMI is low"},
    {"NetNeverNot", R"("for": "2 ms", "stimuli": [{"at": "1 ms", "press": "CALL", "held": "1 us"}],
      "expect": [{"never": {"net": "CPU.NMI", "is": "low"}}])",
     "CPU.NMI is low"},
    {"NetNeverOutside", R"("for": "2 ms", "stimuli": [{"at": "1 ms", "press": "CALL", "held": "1 us"}],
      "expect": [{"never": {"net": "CPU.NMI", "is": "low"}, "from": "1.1 ms"},
                 {"never": {"net": "CPU.NMI", "is": "low"}, "to": "0.9 ms"}])",
     "passed"},
    {"NetNeverFromTheStart", R"("for": "1 ms", "expect": [{"never": {"net": "BIT", "is": "high"}}])", "BIT is high"},
    {"Frequency",
     R"("for": "20 ms", "expect": [{"net": "OSC.OUT", "frequency": {"min": "9999 Hz", "max": "10001 Hz"}}])", "passed"},
    {"FrequencyNot", R"("for": "20 ms", "expect": [{"net": "OSC.OUT", "frequency": {"max": "9 kHz"}}])", "10 kHz"},
    {"FrequencyOfNothing", R"("for": "20 ms", "expect": [{"net": "BIT", "frequency": {"min": "1 Hz"}}])",
     "0 rising edges"},
    {"Duty", R"("for": "20 ms", "expect": [{"net": "OSC.OUT", "duty": {"min": "49.9 %", "max": 0.501}}])", "passed"},
    {"DutyNot", R"("for": "20 ms", "expect": [{"net": "OSC.OUT", "duty": {"max": "40 %"}}])", "50.0000 %"},
    {"PulseWidth", R"("for": "20 ms", "expect": [{"net": "OSC.OUT", "pulse": "high", "is": 50},
      {"net": "OSC.OUT", "pulse": "low", "min": "49 us", "max": "51 us"}])",
     "passed"},
    {"PulseWidthNot", R"("for": "20 ms", "expect": [{"net": "OSC.OUT", "pulse": "low", "max": 40}])",
     "50 cycles (50 us)"},
    // Bounds do not round: 10 kHz of a 1 MHz clock is 50 cycles high and 50 low, to the quarter cycle.
    {"PulseAtItsBounds", R"("for": "20 ms", "expect": [{"net": "OSC.OUT", "pulse": "high", "is": "50 us"},
      {"net": "OSC.OUT", "pulse": "high", "min": "50 us"}, {"net": "OSC.OUT", "pulse": "high", "max": "50 us"}])",
     "passed"},
    {"PulseBelowLeast", R"("for": "20 ms", "expect": [{"net": "OSC.OUT", "pulse": "high", "min": "50.000001 us"}])",
     "50 cycles (50 us)"},
    {"PulseAboveMost", R"("for": "20 ms", "expect": [{"net": "OSC.OUT", "pulse": "high", "max": "49.999999 us"}])",
     "50 cycles (50 us)"},
    {"PulseIsNot", R"("for": "20 ms", "expect": [{"net": "OSC.OUT", "pulse": "high", "is": "50.1 us"}])",
     "50 cycles (50 us)"},
    {"PulseIsNotEither", R"("for": "20 ms", "expect": [{"net": "OSC.OUT", "pulse": "high", "is": "49.9 us"}])",
     "50 cycles (50 us)"},
    {"LatencyAboveMost", R"("for": "1 ms", "stimuli": [{"at": "500 us", "press": "CALL"}],
      "expect": [{"latency": ["CPU.NMI", "nmi"], "max": "20.9 us"}])",
     "21 cycles (21 us)"},
    {"LatencyBelowLeast", R"("for": "1 ms", "stimuli": [{"at": "500 us", "press": "CALL"}],
      "expect": [{"latency": ["CPU.NMI", "nmi"], "min": "21.1 us"}])",
     "21 cycles (21 us)"},
    {"CyclesAboveMost", R"("for": "1 ms", "expect": [{"cycles": ["loop", "work"], "max": "14.9 us"}])",
     "15 cycles (15 us)"},
    {"CyclesBelowLeast", R"("for": "1 ms", "expect": [{"cycles": ["loop", "work"], "min": "15.1 us"}])",
     "15 cycles (15 us)"},
    {"FrequencyAtItsBounds",
     R"("for": "20 ms", "expect": [{"net": "OSC.OUT", "frequency": {"min": "10 kHz", "max": "10 kHz"}},
      {"net": "OSC.OUT", "duty": {"min": "50 %", "max": "50 %"}}])",
     "passed"},
    {"FrequencyBelowLeast", R"("for": "20 ms", "expect": [{"net": "OSC.OUT", "frequency": {"min": "10000.001 Hz"}}])",
     "10 kHz"},
    {"FrequencyAboveMost", R"("for": "20 ms", "expect": [{"net": "OSC.OUT", "frequency": {"max": "9999.999 Hz"}}])",
     "10 kHz"},
    {"DutyBelowLeast", R"("for": "20 ms", "expect": [{"net": "OSC.OUT", "duty": {"min": "50.0001 %"}}])", "50.0000 %"},
    {"DutyAboveMost", R"("for": "20 ms", "expect": [{"net": "OSC.OUT", "duty": {"max": "49.9999 %"}}])", "50.0000 %"},
    // The switch closes at 500 us: what is so at a moment is what the last quarter cycle before it made.
    {"NetBeforeChange", R"("stimuli": [{"at": "500 us", "set": "SW", "to": "closed"}],
      "expect": [{"at": "499.9 us", "net": "BIT", "is": "high"}, {"at": "500.1 us", "net": "BIT", "is": "low"}])",
     "passed"},
    {"NetWithinJustInTime", R"("stimuli": [{"at": "500 us", "set": "SW", "to": "closed"}],
      "expect": [{"within": "500 us", "net": "BIT", "is": "low"}])",
     "passed"},
    {"NetWithinTooLate", R"("stimuli": [{"at": "500 us", "set": "SW", "to": "closed"}],
      "expect": [{"within": "499.9 us", "net": "BIT", "is": "low"}])",
     "BIT is high"},
    {"NetHeldToTheEnd", R"("for": "1 ms", "stimuli": [{"at": "500 us", "set": "SW", "to": "closed"}],
      "expect": [{"at": "100.1 us", "held": "399.8 us", "net": "BIT", "is": "high"}])",
     "passed"},
    {"NetHeldTooLong", R"("for": "1 ms", "stimuli": [{"at": "500 us", "set": "SW", "to": "closed"}],
      "expect": [{"at": "100.1 us", "held": "399.9 us", "net": "BIT", "is": "high"}])",
     "BIT is low"},
    {"NetNeverUntil", R"("for": "1 ms", "stimuli": [{"at": "500 us", "set": "SW", "to": "closed"}],
      "expect": [{"never": {"net": "BIT", "is": "low"}, "to": "499.9 us"},
                 {"never": {"net": "BIT", "is": "high"}, "from": "500 us"}])",
     "passed"},
    {"NetNeverALittle", R"("for": "1 ms", "stimuli": [{"at": "500 us", "set": "SW", "to": "closed"}],
      "expect": [{"never": {"net": "BIT", "is": "high"}, "from": "499.9 us"}])",
     "BIT is high"},
    // Wires that move: BIT is pulled up by R1; the switch is a way to ground that a wire does not need.
    {"WirePulled", R"("for": "2 ms", "stimuli": [{"at": "1 ms", "remove": ["R1.1"]}],
      "expect": [{"at": "999 us", "net": "BIT", "is": "high"}, {"at": "1001 us", "net": "BIT", "is": "floating"},
                 {"net": "R1.1", "is": "high"}, {"net": "BIT", "is": "floating"}])",
     "passed"},
    {"WirePulledForAWhile", R"("for": "2 ms", "stimuli": [{"at": "500 us", "remove": ["R1.1"], "held": "250 us"}],
      "expect": [{"at": "499.9 us", "net": "BIT", "is": "high"},
                 {"at": "501 us", "held": "248.9 us", "net": "BIT", "is": "floating"},
                 {"at": "751 us", "held": "1 ms", "net": "BIT", "is": "high"}])",
     "passed"},
    {"WirePulledNot", R"("for": "2 ms", "stimuli": [{"at": "1 ms", "remove": ["R1.1"]}],
      "expect": [{"net": "BIT", "is": "high"}])",
     "BIT is floating"},
    {"WirePluggedIn", R"("for": "2 ms", "stimuli": [{"at": "1 ms", "short": [["BIT", "GND"]], "held": "100 us"}],
      "expect": [{"at": "999 us", "net": "BIT", "is": "high"}, {"net": "BIT", "pulse": "low", "is": "100 us"},
                 {"net": "BIT", "is": "high"}])",
     "passed"},
    {"WireShortedToAnInput", R"("for": "2 ms", "stimuli": [{"at": "1 ms", "short": [["CPU.NMI", "GND"]]}],
      "expect": [{"latency": ["CPU.NMI", "nmi"], "max": 22}, {"reached": "nmi", "is": 1}])",
     "passed"},
    {"WiresOfRanges", R"("for": "2 ms", "stimuli": [{"at": "1 ms", "remove": ["DRV.a..c"]},
      {"at": "1500 us", "short": [["DIGIT.a..c", "+5V"], ["BIT", "R3.1"]]}],
      "expect": [{"at": "1.1 ms", "held": "300 us", "net": "DIGIT.b", "is": "floating"},
                 {"net": "DIGIT.c", "is": "high"}])",
     "passed"},
    {"WirePulledTwice", R"("for": "2 ms", "stimuli": [{"at": "100 us", "remove": ["R1.1"], "held": "100 us"},
      {"at": "300 us", "remove": ["R1.1"], "held": "100 us"}, {"at": "500 us", "remove": ["R1.1", "SW.1"]}],
      "expect": [{"at": "150 us", "net": "BIT", "is": "floating"}, {"at": "250 us", "net": "BIT", "is": "high"},
                 {"at": "350 us", "net": "BIT", "is": "floating"}, {"at": "450 us", "net": "BIT", "is": "high"},
                 {"net": "BIT", "is": "floating"}])",
     "passed"},
    {"WirePulledOverAPowerCycle", R"("for": "3 ms", "stimuli": [{"at": "1 ms", "remove": ["R1.1"]},
      {"at": "2 ms", "power_cycle": true}],
      "expect": [{"at": "1.9 ms", "net": "BIT", "is": "floating"}, {"net": "BIT", "is": "floating"}])",
     "passed"},
    {"PulseOfNothing", R"("for": "1 ms", "expect": [{"net": "BIT", "pulse": "low", "max": 40}])", "no whole pulse"},
    // The program.
    {"Cycles",
     R"("for": "1 ms", "expect": [{"cycles": ["loop", "loop"], "is": 26}, {"cycles": ["start", "loop"], "is": 15},
      {"cycles": ["work", "loop"], "is": "11 us"}])",
     "passed"},
    {"CyclesNot", R"("for": "1 ms", "expect": [{"cycles": ["loop", "work"], "max": 14}])", "15 cycles (15 us)"},
    {"CyclesWithInterrupt", R"("for": "1 ms", "stimuli": [{"at": "500 us", "press": "CALL"}],
      "expect": [{"cycles": ["loop", "loop"], "is": 26}])",
     "54 cycles (54 us)"},  // 12 to stack and fetch the vector, INC 6, RTI 10
    {"CyclesNeverBegun", R"("for": "1 ms", "expect": [{"cycles": ["nmi", "loop"], "max": 99}])", "it never began"},
    {"Reached", R"("for": "1 ms", "stimuli": [{"at": "300 us", "press": "CALL", "held": "100 us"},
      {"at": "600 us", "press": "CALL"}], "expect": [{"reached": "nmi", "is": 2}])",
     "passed"},
    {"ReachedNot", R"("for": "1 ms", "expect": [{"reached": "nmi"}])", "never"},
    {"ReachedTooOften", R"("for": "1 ms", "expect": [{"reached": "loop", "max": 3}])", "the 4. time"},
    {"NeverReached", R"("for": "1 ms", "expect": [{"never": {"reached": "nmi"}}])", "passed"},
    {"NeverReachedNot", R"("for": "1 ms", "stimuli": [{"at": "300 us", "press": "CALL"}],
      "expect": [{"never": {"reached": "nmi"}}])",
     "the program is at nmi"},
    {"Latency", R"("for": "1 ms", "stimuli": [{"at": "500 us", "press": "CALL"}],
      "expect": [{"latency": ["CPU.NMI", "nmi"], "min": 12, "max": 22}])",  // the rest of an instruction, then 12
     "passed"},
    {"LatencyByVector", R"("for": "1 ms", "stimuli": [{"at": "500 us", "press": "CALL"}],
      "expect": [{"latency": ["CPU.NMI", "NMI vector"], "min": 12, "max": 22}, {"reached": "NMI vector", "is": 1}])",
     "passed"},
    {"LatencyByVectorNot", R"("for": "1 ms", "stimuli": [{"at": "500 us", "press": "CALL"}],
      "expect": [{"latency": ["CPU.NMI", "NMI vector"], "max": 3}])",
     "21 cycles (21 us)"},
    {"CyclesFromReset", R"("for": "1 ms", "expect": [{"cycles": ["RESET vector", "loop"], "is": 15}])", "passed"},
    {"NeverReachedByVector", R"("for": "1 ms", "stimuli": [{"at": "300 us", "press": "CALL"}],
      "expect": [{"never": {"reached": "NMI vector"}}])",
     "the program is at NMI vector"},
    {"LatencyNot", R"("for": "1 ms", "stimuli": [{"at": "500 us", "press": "CALL"}],
      "expect": [{"latency": ["CPU.NMI", "nmi"], "max": 3}])",
     "21 cycles (21 us)"},
    {"LatencyNeverEnds", R"("for": "1 ms", "stimuli": [{"at": "500 us", "press": "CALL", "held": "1 us"}],
      "expect": [{"latency": ["CPU.NMI", "nmi"], "edge": "rise", "to": "505 us", "max": 3}])",
     "it never ended"},
    // Memory and registers.
    {"MemoryAt",
     R"("expect": [{"at": "1 ms", "memory": "calls", "is": 0}, {"at": "1 ms", "memory": "count", "min": 30}])",
     "passed"},
    {"MemoryAtNot", R"("stimuli": [{"at": "500 us", "press": "CALL"}],
      "expect": [{"at": "1 ms", "memory": "$0001", "is": "$02"}])",
     "$0001 holds $01 (1)"},
    {"MemoryBytes", R"("for": "1 ms", "expect": [{"memory": "$FFFC", "is": ["$F8", "$13", "$F8", 0]}])", "passed"},
    {"MemoryBytesNot", R"("for": "1 ms", "expect": [{"memory": "$FFFE", "is": ["$F8", "$13"]}])",
     "$FFFE holds $F8 $00"},
    {"MemoryWithin", R"("stimuli": [{"at": "500 us", "press": "CALL"}],
      "expect": [{"from": "500 us", "within": "30 us", "held": "1 ms", "memory": "calls", "is": 1}])",
     "passed"},
    {"MemoryWithinNot", R"("stimuli": [{"at": "500 us", "press": "CALL"}],
      "expect": [{"from": "500 us", "within": "20 us", "memory": "calls", "is": 1}])",
     "calls holds $00 (0)"},
    {"MemoryNeverNot", R"("for": "1 ms", "expect": [{"never": {"memory": "count", "is": 7}}])", "count holds $07 (7)"},
    {"MemoryAtPlace", R"("for": "200 us", "expect": [{"at": "nmi", "memory": "count", "min": 1}])",
     "the program never got there"},
    {"MemoryAtPlaceNot", R"("for": "1 ms", "expect": [{"at": "work", "memory": "count", "max": 3}])",
     "count holds $04 (4)"},
    {"RegisterAtPlace", R"("for": "1 ms", "expect": [{"at": "work", "register": "S", "is": "$00FD"}])", "passed"},
    {"RegisterNot", R"("for": "1 ms", "expect": [{"at": "work", "register": "S", "is": 255}])",
     "register S holds $00FD"},
    {"StackAtPlace", R"("for": "1 ms", "expect": [{"at": "work", "stack": "S", "empty": "$00FF", "is": 2},
      {"at": "loop", "stack": "S", "empty": "$00FF", "is": 0}])",
     "passed"},
    {"StackNeverDeeper",
     R"("for": "1 ms", "expect": [{"never": {"stack": "S", "empty": "$00FF", "min": 3}, "from": "50 us"}])", "passed"},
    {"StackDeeper", R"("for": "1 ms", "stimuli": [{"at": "500 us", "press": "CALL"}],
      "expect": [{"never": {"stack": "S", "empty": "$00FF", "min": 3}, "from": "50 us"}])",
     "9 bytes (S is $00F6)"},
    {"NetAtPlace", R"("for": "1 ms", "stimuli": [{"at": "500 us", "press": "CALL", "held": "100 us"}],
      "expect": [{"at": "nmi", "net": "CPU.NMI", "is": "low"}])",
     "passed"},
    // Findings and the end.
    {"FindingNot", R"("for": "1 ms", "expect": [{"finding": "floating-input", "occurs": false}])", "passed"},
    {"FindingMissing", R"("for": "1 ms", "expect": [{"finding": "floating-input", "occurs": true}])", "it did not"},
    {"EndsNot", R"("for": "1 ms", "expect": [{"ends": "undefined opcode"}])", "it did not"},
    {"Nothing", R"("for": "1 ms", "expect": [])", "it expects nothing"},
    // Stimuli.
    {"Ramp", R"("stimuli": [{"at": "1 ms", "ramp": "FLOAT", "from": "0 V", "to": "5 V", "over": "10 ms", "steps": 100}],
      "expect": [{"at": "2.5 ms", "net": "FLOAT.wiper", "is": "low"}, {"at": "4.9 ms", "net": "FLOAT.wiper", "is": "unknown"},
                 {"from": "5 ms", "within": "0.1 ms", "held": "6 ms", "net": "FLOAT.wiper", "is": "high"}])",
     "passed"},
    {"RampDown", R"("stimuli": [{"ramp": "FLOAT", "from": 1, "to": "50 %", "over": "10 ms", "steps": 5}],
      "expect": [{"at": "9 ms", "net": "FLOAT.wiper", "is": "low"}])",
     "FLOAT.wiper is high"},
    {"Noise", R"("for": "20 ms", "stimuli": [{"noise": "FLOAT", "around": "1.4 V", "by": "1.4 V", "over": "20 ms",
      "steps": 1000, "seed": 3}],
      "expect": [{"net": "FLOAT.wiper", "frequency": {"min": "5 kHz", "max": "25 kHz"}}])",
     "passed"},
    {"Reset", R"("for": "3 ms", "stimuli": [{"at": "1 ms", "reset": "1 ms"}],
      "expect": [{"reached": "start", "is": 2}, {"at": "1.5 ms", "net": "CPU.RESET", "is": "low"}])",
     "passed"},
    {"PowerCycle", R"("for": "3 ms", "stimuli": [{"set": "SW", "to": "closed"}, {"at": "1 ms", "power_cycle": true},
      {"at": "2 ms", "press": "CALL"}],
      "expect": [{"reached": "start", "is": 2}, {"net": "BIT", "is": "low"}, {"memory": "calls", "is": 1},
                 {"at": "1900 us", "memory": "calls", "is": 0}])",
     "passed"},
    {"Bounce", R"("for": "20 ms", "stimuli": [{"at": "1 ms", "press": "CALL", "bounce": "5 ms"}],
      "expect": [{"reached": "nmi", "min": 2, "max": 10}, {"at": "6.1 ms", "held": "10 ms", "net": "CPU.NMI", "is": "low"}])",
     "passed"},
    {"BounceNot",
     R"("for": "20 ms", "stimuli": [{"at": "1 ms", "press": "CALL"}], "expect": [{"reached": "nmi", "min": 2}])",
     "once"},
    {"WireRemoved",
     R"("for": "1 ms", "wiring": {"remove": ["R1.1", "SW.1"]}, "expect": [{"net": "BIT", "is": "floating"}])",
     "passed"},
    {"WireShorted", R"("for": "1 ms", "wiring": {"short": [["BIT", "GND"]]}, "expect": [{"net": "BIT", "is": "low"}])",
     "passed"},
    {"ShortIsAFinding",
     R"("for": "1 ms", "wiring": {"short": [["OSC.OUT", "GND"]]}, "expect": [{"net": "BIT", "is": "high"}])",
     "drivers disagree on net GND: OSC.OUT drives high against the rail GND [net-contention]"},
    {"ShortIsExpected", R"("for": "1 ms", "wiring": {"short": [["OSC.OUT", "GND"]]},
      "expect": [{"finding": "net-contention", "occurs": true}])",
     "passed"},
};

INSTANTIATE_TEST_SUITE_P(All, LabCheckCase, ::testing::ValuesIn(kCases),
                         [](const auto& test) { return std::string(test.param.name); });

TEST(LabCheck, MeetsAnUndefinedOpcode) {
  EXPECT_EQ(outcome(stray().run(R"("for": "1 ms", "expect": [{"finding": "uninitialised-read", "occurs": true}])")),
            "undefined opcode $02 at $F802");
  EXPECT_EQ(outcome(stray().run(R"("for": "1 ms", "expect": [{"ends": "undefined opcode"}])")), "passed");
  EXPECT_EQ(outcome(stray().run(R"("for": "1 ms", "expect": [{"ends": "undefined opcode"},
    {"finding": "uninitialised-read", "occurs": false}])")),
            "read from $0010 of RAM, which nobody has written since power-on [uninitialised-read]");
}

TEST(LabCheck, LetsThePartnerWatchWhenItIsNamed) {
  const Lab lab(kStackless);
  const auto names = [](const CheckResult& result) {
    return std::any_of(result.findings.begin(), result.findings.end(),
                       [](const Finding& finding) { return finding.id == "stack-never-set"; });
  };
  // Nobody named it, so nobody watches.
  const CheckResult alone = lab.run(R"("for": "1 ms", "expect": [{"reached": "work"}])");
  EXPECT_EQ(outcome(alone), "passed");
  EXPECT_FALSE(names(alone));
  // It watches, and a finding of weight warn is only reported.
  const CheckResult watched = lab.run(R"("for": "1 ms", "partner": true, "expect": [{"reached": "work"}])");
  EXPECT_EQ(outcome(watched), "passed");
  EXPECT_TRUE(names(watched));
  // Required, and forbidden.
  EXPECT_EQ(outcome(lab.run(R"("for": "1 ms", "expect": [{"finding": "stack-never-set", "occurs": true}])")), "passed");
  EXPECT_EQ(outcome(counter().run(R"("for": "1 ms", "expect": [{"finding": "stack-never-set", "occurs": true}])")),
            "it did not");
  EXPECT_EQ(outcome(counter().run(R"("for": "1 ms", "expect": [{"finding": "stack-never-set", "occurs": false}])")),
            "passed");
  const std::string said =
      outcome(lab.run(R"("for": "1 ms", "expect": [{"finding": "stack-never-set", "occurs": false}])"));
  EXPECT_NE(said.find("nothing has loaded S since reset"), std::string::npos) << said;
  // Promoted, and switched off.
  const CheckResult promoted =
      lab.run(R"("for": "1 ms", "rules": {"stack-never-set": "stop"}, "expect": [{"reached": "work"}])");
  EXPECT_FALSE(promoted.passed);
  EXPECT_EQ(promoted.expectations.back().expected, "no finding of weight stop");
  EXPECT_FALSE(promoted.way.empty());
  const CheckResult off = lab.run(
      R"("for": "1 ms", "partner": true, "rules": {"stack-never-set": "off"}, "expect": [{"reached": "work"}])");
  EXPECT_EQ(outcome(off), "passed");
  EXPECT_FALSE(names(off));
}

TEST(LabCheck, WeighsTheRulesOfTheMachine) {
  const auto run = [&](std::string_view weight) {
    return outcome(counter().run(fmt::format(
        R"("for": "1 ms", "rules": {{"net-contention": "{}"}}, "wiring": {{"short": [["OSC.OUT", "GND"]]}},
           "expect": [{{"net": "BIT", "is": "high"}}])",
        weight)));
  };
  EXPECT_EQ(run("warn"), "passed");
  EXPECT_EQ(run("off"), "passed");
  EXPECT_NE(run("stop").find("[net-contention]"), std::string::npos);
  // A rule of a chip.
  EXPECT_EQ(outcome(stray().run(R"("for": "8 cycles", "rules": {"floating-input": "stop"}, "expect": [
    {"finding": "floating-input", "occurs": false}])")),
            "passed");
}

TEST(LabCheck, LetsTheCheckWeighBeforeTheFile) {
  const Lab lab(kStackless);
  const auto run = [&](std::string_view of_check) {
    const auto checks = read_checks(
        fmt::format(R"({{"machine": "lab.json", "rules": {{"stack-never-set": "stop"}}, "checks": [{{"check": "it",
                         "for": "1 ms", {} "expect": [{{"reached": "work"}}]}}]}})",
                    of_check),
        "c.json");
    CheckRun one(checks.at(0), lab.description(), kNoLimits);
    while (one.go_on()) {
    }
    return one.take_result().passed;
  };
  EXPECT_FALSE(run(""));
  EXPECT_TRUE(run(R"("rules": {"stack-never-set": "hint"},)"));
  EXPECT_TRUE(run(R"("partner": false,)"));
}

TEST(LabCheck, LetsThePartnerSpeakAtTheEndAndAfterAPowerCycle) {
  EXPECT_EQ(outcome(counter().run(R"("for": "50 ms", "wiring": {"short": [["CPU.RESET", "GND"]]},
    "expect": [{"finding": "reset-held", "occurs": true}])")),
            "passed");
  const CheckResult twice = Lab(kStackless).run(R"("for": "2 ms", "stimuli": [{"at": "1 ms", "power_cycle": true}],
    "rules": {"stack-never-set": "warn"}, "expect": [{"reached": "start", "min": 2}])");
  EXPECT_EQ(outcome(twice), "passed");
  const auto said = std::count_if(twice.timeline.begin(), twice.timeline.end(),
                                  [](const Onlooker::Event& event) { return event.subject == "stack-never-set"; });
  EXPECT_EQ(said, 2);
}

TEST(LabCheck, TakesAnUndefinedOpcodeForOneThing) {
  EXPECT_EQ(outcome(stray().run(R"("for": "1 ms", "partner": true, "expect": [{"ends": "undefined opcode"}])")),
            "passed");
  EXPECT_EQ(outcome(stray().run(R"("for": "1 ms", "expect": [{"finding": "undefined-opcode", "occurs": true}])")),
            "passed");
  const CheckResult failed = stray().run(R"("for": "1 ms", "partner": true, "expect": [{"reached": "start"}])");
  ASSERT_EQ(failed.expectations.size(), 2U);
  EXPECT_EQ(failed.expectations.back().expected, "no undefined opcode");
}

TEST(LabCheck, SaysHowItCameThere) {
  const CheckResult result = counter().run(R"("for": "1 ms", "expect": [{"cycles": ["loop", "work"], "max": 14}])");
  ASSERT_FALSE(result.way.empty());
  const CheckStep& last = result.way.back();
  EXPECT_EQ(last.instruction.pc, 0xF811);
  EXPECT_EQ(last.instruction.text, "NOP");
  EXPECT_TRUE(last.source.ends_with("lab.asm:13")) << last.source;
  EXPECT_EQ(last.line, "work:   nop");
  EXPECT_EQ(result.expectations[0].place.file, "c.json");
  EXPECT_EQ(result.why, "1 of 1 expectation is not met");
}

TEST(LabCheck, EndsWithTheLastMomentThatItNames) {
  EXPECT_EQ(counter().run(R"("expect": [{"at": "3 ms", "net": "BIT", "is": "high"}])").cycles, 3'000);
  EXPECT_EQ(counter().run(R"("expect": [{"net": "BIT", "is": "high"}])").cycles, 1'000'000);
  EXPECT_EQ(counter().run(R"("for": "7 cycles", "expect": [{"net": "BIT", "is": "high"}])").cycles, 7);
}

TEST(LabCheck, KeepsToItsLimits) {
  const CheckResult cycles = counter().run(R"("limits": {"cycles": 12000}, "expect": [{"reached": "loop"}])");
  EXPECT_FALSE(cycles.passed);
  EXPECT_TRUE(cycles.limited);
  EXPECT_EQ(cycles.cycles, 12'000);
  EXPECT_EQ(cycles.why, "the limit of 12000 cycles is reached");
  // What the caller allows is the most, whatever the file says.
  const CheckResult caller = counter().run(R"("limits": {"cycles": 12000}, "expect": [{"reached": "loop"}])",
                                           {5'000, kNoLimits.wall, 1 << 20});
  EXPECT_EQ(caller.cycles, 5'000);
  const CheckResult output = counter().run(R"("limits": {"output": 100}, "for": "3 s", "stimuli": [
    {"at": "100 ms", "set": "SW", "to": "closed"}, {"at": "200 ms", "set": "SW", "to": "open"},
    {"at": "300 ms", "set": "SW", "to": "closed"}, {"at": "400 ms", "set": "SW", "to": "open"}],
    "expect": [{"reached": "loop"}])");
  EXPECT_EQ(output.why, "the limit of 100 bytes of output is reached");
  EXPECT_LT(output.cycles, 500'000);
}

TEST(LabCheck, GivesUpWhenItIsTold) {
  const std::vector<LabCheck> checks = Lab::read(R"("expect": [{"reached": "nmi"}])");
  CheckRun run(checks.at(0), counter().description(), kNoLimits);
  EXPECT_TRUE(run.go_on());
  run.give_up("the limit of 10 s of real time is reached");
  EXPECT_FALSE(run.go_on());
  const CheckResult result = run.take_result();
  EXPECT_TRUE(result.limited);
  EXPECT_EQ(result.why, "the limit of 10 s of real time is reached");
  EXPECT_EQ(result.expectations.at(0).found, "never");
}

TEST(LabCheck, SeedsTheMemory) {
  std::set<std::string> contents;
  for (int seed = 1; seed <= 5; ++seed) {
    const std::string text = found(counter().run(
        fmt::format(R"("for": "9 cycles", "seed": {}, "expect": [{{"memory": "$0300", "is": [0, 0, 0, 0]}}])", seed)));
    // Switched off and on with that seed, the same bytes.
    EXPECT_EQ(found(counter().run(fmt::format(
                  R"("for": "99 cycles", "stimuli": [{{"at": "50 cycles", "power_cycle": true, "seed": {}}}],
                     "expect": [{{"memory": "$0300", "is": [0, 0, 0, 0]}}])",
                  seed))),
              text);
    contents.insert(text);
  }
  EXPECT_EQ(contents.size(), 5U);
}

TEST(LabCheck, RunsTheSameTwice) {
  constexpr std::string_view kBody = R"("for": "300 ms", "stimuli": [
    {"at": "20 ms", "press": "CALL", "held": "50 ms", "bounce": "9 ms"},
    {"at": "100 ms", "power_cycle": true},
    {"at": "150 ms", "noise": "FLOAT", "around": "2 V", "by": "2 V", "over": "50 ms", "steps": 100}],
    "expect": [{"reached": "nmi"}, {"net": "FLOAT.wiper", "pulse": "high", "max": "1 s"}])";
  const CheckResult a = counter().run(kBody), b = counter().run(kBody);
  ASSERT_EQ(a.expectations.size(), b.expectations.size());
  for (std::size_t i = 0; i < a.expectations.size(); ++i) {
    EXPECT_EQ(a.expectations[i].found, b.expectations[i].found);
    EXPECT_EQ(a.expectations[i].when, b.expectations[i].when);
  }
  EXPECT_EQ(a.cycles, b.cycles);
  EXPECT_EQ(a.timeline.size(), b.timeline.size());
}

TEST(LabCheck, RecordsWhatItHasSeen) {
  const std::string file = R"({"machine": "lab.json", "checks": [{"check": "it", "for": "200 ms",
    "stimuli": [{"at": "100 ms", "set": "SW", "to": "closed"}, {"at": "150 ms", "press": "CALL"}],
    "expect": [{"cycles": ["loop", "loop"], "max": 1}, {"reached": "nmi"}, {"net": "OSC.OUT", "frequency": {"min": 1}}]}]})";
  EXPECT_THROW(read_checks(file, "c.json"), InputError);  // a frequency has a unit
  std::string good = file;
  good.replace(good.find("{\"min\": 1}"), 10, "{\"min\": \"1 Hz\"}");
  const std::vector<LabCheck> checks = read_checks(good, "c.json");
  CheckRun run(checks.at(0), counter().description(), kNoLimits);
  while (run.go_on()) {
  }
  const std::string recorded = record_checks(good, "c.json", {run.take_result()});
  EXPECT_NE(recorded.find(R"("shows": "1")"), std::string::npos) << recorded;
  EXPECT_NE(recorded.find(R"("shows": "0")"), std::string::npos) << recorded;
  // What was recorded passes.
  CheckRun again(read_checks(recorded, "r.json").at(0), counter().description(), kNoLimits);
  while (again.go_on()) {
  }
  EXPECT_EQ(outcome(again.take_result()), "passed") << recorded;
}

/// Ids of the faults in a file, or of what the machine does not have.
std::string faults(std::string_view body) {
  std::string ids;
  try {
    counter().run(body);
  } catch (const InputError& error) {
    for (const Fault& fault : error.faults()) ids += fmt::format("{}{}", ids.empty() ? "" : " ", fault.id);
  }
  return ids;
}

TEST(LabCheck, TellsWhatIsWrongWithAFile) {
  EXPECT_EQ(faults(R"("expect": [{"at": "1 ms", "display": "BIT"}])"), "missing-key");
  EXPECT_EQ(faults(R"("expect": [{"at": "1 ms"}])"), "missing-key");
  EXPECT_EQ(faults(R"("expect": [{"at": "work", "display": "BIT", "shows": "1"}])"), "check-when");
  EXPECT_EQ(faults(R"("expect": [{"at": "1 ms", "within": "2 ms", "display": "BIT", "shows": "1"}])"), "check-when");
  EXPECT_EQ(faults(R"("expect": [{"finding": "x", "occurs": true, "at": "1 ms"}])"), "check-when");
  EXPECT_EQ(faults(R"("for": "1 ms", "expect": [{"at": "2 ms", "display": "BIT", "shows": "1"}])"), "check-when");
  EXPECT_EQ(faults(R"("for": "1 ms", "stimuli": [{"at": "2 ms", "press": "KEY"}], "expect": [])"), "check-when");
  EXPECT_EQ(faults(R"("expect": [{"never": {"cycles": ["loop", "loop"], "is": 1}}])"), "check-when");
  EXPECT_EQ(faults(R"("stimuli": [{"power_cycle": true}], "expect": [{"reached": "loop"}])"), "check-when");
  EXPECT_EQ(faults(R"("expect": [{"memory": "count"}])"), "bad-bounds");
  EXPECT_EQ(faults(R"("expect": [{"memory": "count", "min": 3, "max": 2}])"), "bad-bounds");
  EXPECT_EQ(faults(R"("expect": [{"memory": "count", "is": 3, "max": 3}])"), "bad-bounds");
  EXPECT_EQ(faults(R"("expect": [{"memory": "count", "is": 256}])"), "bad-value");
  EXPECT_EQ(faults(R"("expect": [{"memory": "$FFFF", "is": [1, 2]}])"), "bad-value");
  EXPECT_EQ(faults(R"("expect": [{"memory": "counts", "is": 1}])"), "unknown-place");
  EXPECT_EQ(faults(R"("expect": [{"register": "D", "is": 1}])"), "unknown-register");
  EXPECT_EQ(faults(R"("expect": [{"net": "BITS", "is": "low"}])"), "unknown-net");
  EXPECT_EQ(faults(R"("expect": [{"net": "BIT", "is": "down"}])"), "bad-choice");
  EXPECT_EQ(faults(R"("expect": [{"display": "BITE", "shows": "1"}])"), "unknown-display");
  EXPECT_EQ(faults(R"("expect": [{"led": "LAMB", "is": "on"}])"), "unknown-led");
  EXPECT_EQ(faults(R"("expect": [{"cycles": ["loop"], "is": 1}])"), "wrong-type");
  EXPECT_EQ(faults(R"("for": "soon", "expect": [])"), "bad-moment");
  EXPECT_EQ(faults(R"("expect": [{"finding": "irq-strom", "occurs": false}])"), "check-rule");
  EXPECT_EQ(faults(R"("expect": [{"finding": "no-pull-up", "occurs": false}])"), "check-rule");
  EXPECT_EQ(faults(R"("rules": {"irq-strom": "off", "no-pull-up": "stop"}, "expect": [])"), "check-rule check-rule");
  EXPECT_EQ(faults(R"("rules": {"irq-storm": "off"}, "expect": [{"finding": "irq-storm", "occurs": false}])"),
            "check-rule");
  EXPECT_EQ(faults(R"("partner": false, "expect": [{"finding": "irq-storm", "occurs": false}])"), "check-rule");
  EXPECT_EQ(faults(R"("rules": {"irq-storm": "loud"}, "expect": [])"), "bad-choice");
  EXPECT_EQ(faults(R"("rules": ["irq-storm"], "expect": [])"), "wrong-type");
  EXPECT_EQ(faults(R"("partner": "on", "expect": [])"), "wrong-type");
  EXPECT_EQ(faults(R"("stimuli": [{"set": "FLAOT", "to": "1 V"}], "expect": [])"), "unknown-part");
  EXPECT_EQ(faults(R"("stimuli": [{"press": "FLOAT"}], "expect": [])"), "bad-input-value");
  EXPECT_EQ(faults(R"("stimuli": [{"press": "FLOAT", "bounce": "1 ms"}], "expect": [])"), "check-bounce");
  EXPECT_EQ(faults(R"("stimuli": [{"at": "1 ms"}], "expect": [])"), "missing-key");
  EXPECT_EQ(
      faults(
          R"("stimuli": [{"ramp": "FLOAT", "from": "0 V", "to": "20 %", "over": "1 ms", "steps": 2}], "expect": [])"),
      "bad-value");
  EXPECT_EQ(
      faults(R"("stimuli": [{"ramp": "FLOAT", "from": "0 V", "to": "1 V", "over": "1 ms", "steps": 0}], "expect": [])"),
      "out-of-range");
  EXPECT_EQ(faults(R"("wiring": {"remove": ["OSC.OUT"]}, "expect": [])"), "no-wire");
  EXPECT_EQ(faults(R"("wiring": {"remove": ["BIT"]}, "expect": [])"), "bad-wire-end");
  EXPECT_EQ(faults(R"("wiring": {"short": [["BIT", "GND"], ["BIT", "+5V"]]}, "expect": [])"), "two-rails");
  EXPECT_EQ(faults(R"("limits": {"cycles": 0}, "expect": [])"), "out-of-range");
  EXPECT_EQ(faults(R"("expects": [])"), "missing-key unknown-key");
}

TEST(LabCheck, CountsPoints) {
  const auto checks = read_checks(R"({"machine": ["a.json", "b.json"], "checks": [
    {"check": "one", "expect": []}, {"check": "three", "points": 3, "expect": []},
    {"check": "none", "points": 0, "expect": []}]})",
                                  "c.json");
  std::vector<std::string> read;
  for (const LabCheck& check : checks) read.push_back(fmt::format("{} {}", check.title(), check.points()));
  EXPECT_EQ(read, (std::vector<std::string>{"one 1", "one 1", "three 3", "three 3", "none 0", "none 0"}));
  EXPECT_EQ(checks[1].name(), "one [b.json]");
}

TEST(LabCheck, TakesAnotherSeedAndThePartner) {
  const auto checks = read_checks(
      R"({"machine": "a.json", "checks": [{"check": "one", "seed": 3, "for": "1 ms", "expect": [{"reached": "$F800"}]}]})",
      "c.json");
  EXPECT_FALSE(checks[0].with_the_partner());
  EXPECT_TRUE(checks[0].with_partner().with_the_partner());
  EXPECT_FALSE(checks[0].with_the_partner());  // the check itself stays as it is
  const Registry chips = standard_chips();
  const Description description = Description::from_text(
      R"({"machine": "a", "cpu": {"type": "mc6800", "clock": "1 MHz"}, "seed": 5,
          "chips": {"RAM": {"type": "6116", "at": "$0000-$07FF"}, "ROM": {"type": "2716", "at": "$F800-$FFFF"}},
          "wires": [["CPU.IRQ", "CPU.NMI", "CPU.HALT", "+5V"], ["CPU.TSC", "GND"]]})",
      "a.json", chips);
  EXPECT_EQ(check_machine(checks[0], description).seed(), 3U);
  EXPECT_EQ(check_machine(checks[0].with_seed(20), description).seed(), 20U);
}

TEST(LabCheck, NamesChecksApart) {
  EXPECT_THROW(
      read_checks(R"({"machine": "m.json", "checks": [{"check": "a", "expect": []}, {"check": "a", "expect": []}]})",
                  "c.json"),
      InputError);
  const auto checks = read_checks(
      R"({"machine": ["a.json", "b.json"], "tags": ["x"], "checks": [{"check": "c", "tags": ["y", "x"], "expect": []}]})",
      "c.json");
  ASSERT_EQ(checks.size(), 2U);
  EXPECT_EQ(checks[0].name(), "c [a.json]");
  EXPECT_EQ(checks[1].name(), "c [b.json]");
  EXPECT_EQ(checks[1].tags(), (std::vector<std::string>{"x", "y"}));
}

TEST(LabCheck, ReadsMachinesOfItsFolderOnly) {
  const auto machine = [](std::string_view name) {
    const auto checks = read_checks(
        fmt::format(R"({{"machine": "{}", "checks": [{{"check": "c", "expect": []}}]}})", name), "labs/c.check.json");
    return machine_file(checks[0], "labs/c.check.json").string();
  };
  EXPECT_EQ(machine("gauge.json"), "labs/gauge.json");
  EXPECT_EQ(machine("more/gauge.json"), "labs/more/gauge.json");
  EXPECT_THROW(machine("../gauge.json"), InputError);
  EXPECT_THROW(machine("/etc/passwd"), InputError);
}

}  // namespace
}  // namespace prewire::testing
