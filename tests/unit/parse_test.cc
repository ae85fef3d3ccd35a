// Machine descriptions: what is read from them, and the exact words for everything that can be wrong with the data.
#include "description/parse.h"

#include <fmt/format.h>
#include <gtest/gtest.h>
#include <sys/stat.h>

#include <random>

#include "description/wires.h"
#include "unit/machine_testing.h"

namespace prewire::testing {
namespace {

std::string machine(std::string_view rest) {
  return fmt::format("{{\"machine\": \"gauge\", \"cpu\": {{\"type\": \"mc6800\", \"clock\": \"1 MHz\"}},\n {}}}", rest);
}

std::string wired(std::string_view wires) {
  return machine(R"("chips": {"PIA": {"type": "mc6821", "at": "$4000-$4003"}, "ADC": {"type": "adc0804"},
  "R1": {"type": "resistor", "ohms": "3.3 kOhm"}},
 "wires": )" + std::string(wires));
}

// ---------------------------------------------------------------------------------------------------------------------
// What is read

TEST(Parse, ReadsAWholeDescription) {
  const MachineSpec spec = parsed(R"({
    "$schema": "machine.schema.json",
    "machine": "rain barrel gauge", "about": "how full?",
    "cpu": {"type": "mc6802", "crystal": "4.194305 MHz", "ram": false},
    "bus": {"keeper": "seeded"}, "seed": 1977,
    "chips": {
      "RAM": {"type": "mcm6810", "at": "$0100-$017F", "power_up": "ones"},
      "HIGH": {"type": "2114", "at": "0x0400-0x07ff", "lines": "high"},
      "ROM": {"type": "2716", "at": "$F800-$FFFF"},
      "PIA": {"type": "mc6821", "at": " $4000 - $4003 ", "mirror": "$4000-$5FFF"},
      "HALF": {"type": "mc6821", "at": "$6002-$6003"},
      "ADC": {"type": "adc0804", "clock_c": "150 pF", "error": "-0.5 LSB", "invert": true},
      "FLOAT": {"type": "potentiometer", "position": "25 %", "wobble": "0.5 Hz"},
      "TAP": {"type": "potentiometer", "position": 0.125},
      "S1": {"type": "button", "bounce": "3 ms", "hits": 7},
      "R1": {"type": "resistor", "ohms": "3.3 kOhm"},
      "D10": {"type": "digit"}, "D1": {"type": "digit"}
    },
    "wires": [
      ["PIA.PA0..PA7", "ADC.DB7..0"],
      ["IRQ", "PIA.IRQA", "CPU.IRQ", "R1.1"],
      ["R1.2", "+5 V"],
      ["PIA.PB4..7", "GND", "D1.d..a"]
    ],
    "program": ["barrel.s19", {"file": "barrel.bin", "format": "binary", "at": "$F800"}],
    "display": {"LEVEL": ["D10", "D1"]}
  })",
                                  images());
  EXPECT_EQ(spec.file, "lab.json");
  EXPECT_EQ(spec.title, "rain barrel gauge");
  EXPECT_EQ(spec.about, "how full?");
  EXPECT_EQ(spec.cpu->chip.name, "mc6802");
  EXPECT_EQ(spec.e_millihertz, 1'048'576'250);
  EXPECT_FALSE(spec.ram_enabled);
  EXPECT_EQ(spec.keeper, KeeperPolicy::seeded);
  EXPECT_EQ(spec.seed, 1977U);

  std::string chips;
  for (const ChipSpec& chip : spec.chips) {
    chips += fmt::format("{} {} {}", chip.name, chip.type->name, chip.pointer);
    if (chip.at) chips += fmt::format(" {:04X}-{:04X}", chip.at->first, chip.at->last);
    if (chip.mirror) chips += fmt::format(" mirror {:04X}-{:04X}", chip.mirror->first, chip.mirror->last);
    if (chip.at) chips += fmt::format(" size {} lines {:02X}", chip.bus.size, chip.bus.data_mask);
    for (const ParameterSpec& parameter : chip.type->parameters) {
      chips += fmt::format(" {}={}{}", parameter.name, chip.parameters[parameter.name],
                           chip.parameters.given(parameter.name) ? "" : "?");
    }
    chips += "\n";
  }
  EXPECT_EQ(chips, R"(RAM mcm6810 /chips/RAM 0100-017F size 128 lines FF power_up=2
HIGH 2114 /chips/HIGH 0400-07FF size 1024 lines F0 power_up=0? lines=1
ROM 2716 /chips/ROM F800-FFFF size 2048 lines FF
PIA mc6821 /chips/PIA 4000-4003 mirror 4000-5FFF size 4 lines FF
HALF mc6821 /chips/HALF 6002-6003 size 4 lines FF
ADC adc0804 /chips/ADC clock_r=10000? clock_c=150000 vref_half=2500000? error=-500 invert=1
FLOAT potentiometer /chips/FLOAT position=250000 wobble=500
TAP potentiometer /chips/TAP position=125000 wobble=0?
S1 button /chips/S1 bounce=3000000000 hits=7
R1 resistor /chips/R1 ohms=3300
D10 digit /chips/D10
D1 digit /chips/D1
)");
  EXPECT_EQ(spec.chips[0].power_up, PowerUp::ones);
  EXPECT_EQ(spec.chips[1].power_up, PowerUp::random);

  std::string wires;
  for (const WireSpec& wire : spec.wires) {
    wires += wire.pointer + ":";
    for (const PinRef pin : wire.pins) wires += " " + spec.pin_name(pin);
    if (wire.rail_microvolts) wires += fmt::format(" rail {} {}", wire.rail, *wire.rail_microvolts);
    if (!wire.label.empty()) wires += " label " + wire.label;
    wires += "\n";
  }
  EXPECT_EQ(wires, R"(/wires/0: PIA.PA0 ADC.DB7
/wires/0: PIA.PA1 ADC.DB6
/wires/0: PIA.PA2 ADC.DB5
/wires/0: PIA.PA3 ADC.DB4
/wires/0: PIA.PA4 ADC.DB3
/wires/0: PIA.PA5 ADC.DB2
/wires/0: PIA.PA6 ADC.DB1
/wires/0: PIA.PA7 ADC.DB0
/wires/1: PIA.IRQA CPU.IRQ R1.1 label IRQ
/wires/2: R1.2 rail +5 V 5000000
/wires/3: PIA.PB4 D1.d rail GND 0
/wires/3: PIA.PB5 D1.c rail GND 0
/wires/3: PIA.PB6 D1.b rail GND 0
/wires/3: PIA.PB7 D1.a rail GND 0
)");

  ASSERT_EQ(spec.programs.size(), 2U);
  EXPECT_EQ(spec.programs[0].file, "barrel.s19");
  EXPECT_EQ(spec.programs[0].image.segments[0].start, 0x0100U);
  EXPECT_EQ(spec.programs[1].image.segments[0].start, 0xF800U);
  ASSERT_EQ(spec.displays.size(), 1U);
  EXPECT_EQ(spec.displays[0].name, "LEVEL");
  EXPECT_EQ(spec.displays[0].chips, (std::vector<int>{10, 11}));
}

TEST(Parse, TakesNoControlCharactersIntoATitle) {
  const MachineSpec spec = parsed(R"({"machine": "gauge\n\u001B[31m", "about": "one\ntwo\u0007",
    "cpu": {"type": "mc6800", "clock": "1 MHz"}})");
  EXPECT_EQ(spec.title, "gauge\\x0A\\x1B[31m");
  EXPECT_EQ(spec.about, "one\ntwo\\x07");
}

TEST(Parse, FillsInWhatIsNotGiven) {
  const MachineSpec spec = parsed(R"({"machine": "bare", "cpu": {"type": "mc6800", "clock": "1 MHz"}})");
  EXPECT_EQ(spec.e_millihertz, 1'000'000'000);
  EXPECT_EQ(spec.keeper, KeeperPolicy::last);
  EXPECT_EQ(spec.seed, 1U);
  EXPECT_TRUE(spec.ram_enabled);
  EXPECT_TRUE(spec.chips.empty());
  EXPECT_TRUE(spec.displays.empty());
  const MachineSpec digits =
      parsed(machine(R"("chips": {"A": {"type": "digit"}, "L": {"type": "lamp"}, "B": {"type": "digit"}})"));
  ASSERT_EQ(digits.displays.size(), 1U);
  EXPECT_EQ(digits.displays[0].name, "display");
  EXPECT_EQ(digits.displays[0].chips, (std::vector<int>{0, 2}));
}

TEST(Parse, PinsOnTheBusCanBeWiredWithoutAPlace) {
  const MachineSpec spec = parsed(machine(R"("chips": {"L": {"type": "latch"}}, "wires": [["L.D", "L.CLK", "GND"]])"));
  EXPECT_EQ(spec.wires[0].pins.size(), 2U);
}

TEST(Parse, PinListsAreWrittenAsInWires) {
  EXPECT_EQ(pin_list({"PA0", "PA1", "PA2", "CA1", "CA2", "IRQ"}), "PA0..PA2, CA1, CA2, IRQ");
  EXPECT_EQ(pin_list({"D7", "D6", "D5", "A", "B", "C"}), "D7, D6, D5, A, B, C");
  EXPECT_EQ(pin_list({"8", "9", "10", "11"}), "8..11");
  EXPECT_EQ(pin_list({}), "");
}

// ---------------------------------------------------------------------------------------------------------------------
// What is wrong

TEST(ParseFaults, TopLevel) {
  EXPECT_EQ(data_faults(R"([])"), R"(lab.json:1:1: stop: a machine description has the wrong type [wrong-type]
    expected: an object with "machine" and "cpu"
    found:    a list
)");
  EXPECT_EQ(data_faults(R"({})"), R"(lab.json:1:1: stop: the description has no "machine" [missing-key]
    expected: "machine": a title
    hint:     add "machine"
lab.json:1:1: stop: the description has no "cpu" [missing-key]
    expected: "cpu": an object such as {"type": "mc6800", "clock": "1 MHz"}
    hint:     add "cpu"
)");
  EXPECT_EQ(data_faults(R"({"machine": 3, "cpu": "mc6800", "about": null, "$schema": []})"),
            R"(lab.json:1:13: stop: "machine" has the wrong type (at /machine) [wrong-type]
    expected: a text
    found:    3
lab.json:1:42: stop: "about" has the wrong type (at /about) [wrong-type]
    expected: a text
    found:    null
lab.json:1:59: stop: "$schema" has the wrong type (at /$schema) [wrong-type]
    expected: a text
    found:    a list
lab.json:1:23: stop: "cpu" has the wrong type (at /cpu) [wrong-type]
    expected: an object such as {"type": "mc6800", "clock": "1 MHz"}
    found:    "mc6800"
)");
  EXPECT_EQ(data_faults(machine(R"("chip": {}, "Wires": [], "note": "x")")),
            R"(lab.json:2:2: stop: "chip" is no key of a machine description (at /chip) [unknown-key]
    expected: "machine", "about", "cpu", "bus", "seed", "boards", "chips", "wires", "program", "display" or "$schema"
    found:    "chip"
    hint:     did you mean "chips"?
lab.json:2:14: stop: "Wires" is no key of a machine description (at /Wires) [unknown-key]
    expected: "machine", "about", "cpu", "bus", "seed", "boards", "chips", "wires", "program", "display" or "$schema"
    found:    "Wires"
    hint:     did you mean "wires"?
lab.json:2:27: stop: "note" is no key of a machine description (at /note) [unknown-key]
    expected: "machine", "about", "cpu", "bus", "seed", "boards", "chips", "wires", "program", "display" or "$schema"
    found:    "note"
    hint:     remove the key; "about" takes free text
)");
  EXPECT_EQ(data_faults(machine(R"("seed": -1)")),
            R"(lab.json:2:10: stop: "seed" is out of range (at /seed) [out-of-range]
    expected: 0 to 9223372036854775807
    found:    -1
)");
  EXPECT_EQ(data_faults(machine(R"("seed": 1.5)")),
            R"(lab.json:2:10: stop: "seed" cannot be read (at /seed) [bad-quantity]
    expected: a whole number such as 8
    found:    1.5
    hint:     the smallest step is 1
)");
  EXPECT_EQ(data_faults(machine(R"("seed": "many")")),
            R"(lab.json:2:10: stop: "seed" cannot be read (at /seed) [bad-quantity]
    expected: a whole number such as 8
    found:    "many"
)");
  EXPECT_EQ(data_faults(machine(R"("seed": true)")),
            R"(lab.json:2:10: stop: "seed" has the wrong type (at /seed) [wrong-type]
    expected: a whole number such as 8
    found:    true
)");
  EXPECT_EQ(data_faults(machine(R"("bus": {"keeper": "one", "speed": 2})")),
            R"(lab.json:2:27: stop: "speed" is no key of "bus" (at /bus/speed) [unknown-key]
    expected: "keeper"
    found:    "speed"
    hint:     remove the key; "about" takes free text
lab.json:2:20: stop: "keeper" has no such choice (at /bus/keeper) [bad-choice]
    expected: "last", "ones" or "seeded"
    found:    "one"
    hint:     did you mean "ones"?
)");
  EXPECT_EQ(data_faults(machine(R"("bus": [])")), R"(lab.json:2:9: stop: "bus" has the wrong type (at /bus) [wrong-type]
    expected: an object such as {"keeper": "ones"}
    found:    a list
)");
  EXPECT_EQ(data_faults(machine(R"("bus": {"keeper": 1})")),
            R"(lab.json:2:20: stop: "keeper" has the wrong type (at /bus/keeper) [wrong-type]
    expected: "last", "ones" or "seeded"
    found:    1
)");
}

TEST(ParseFaults, Processor) {
  EXPECT_EQ(data_faults(R"({"machine": "g", "cpu": {}})"),
            R"(lab.json:1:18: stop: "cpu" has no "type" (at /cpu) [missing-key]
    expected: "type": "mc6800", "mc6802", "mc6808", "mc6809" or "mc6809e"
    hint:     add "type"
)");
  EXPECT_EQ(data_faults(R"({"machine": "g", "cpu": {"type": "mc6880", "clock": "1 MHz", "clok": 1}})"),
            R"(lab.json:1:34: stop: there is no processor "mc6880" (at /cpu/type) [unknown-cpu]
    expected: "mc6800", "mc6802", "mc6808", "mc6809" or "mc6809e"
    found:    "mc6880"
    hint:     did you mean "mc6808"?
lab.json:1:62: stop: "clok" is no key of "cpu" (at /cpu/clok) [unknown-key]
    expected: "type", "clock", "crystal" or "ram"
    found:    "clok"
    hint:     did you mean "clock"?
)");
  EXPECT_EQ(data_faults(R"({"machine": "g", "cpu": {"type": 6800}})"),
            R"(lab.json:1:34: stop: "type" of "cpu" has the wrong type (at /cpu/type) [wrong-type]
    expected: "mc6800", "mc6802", "mc6808", "mc6809" or "mc6809e"
    found:    6800
)");
  EXPECT_EQ(data_faults(R"({"machine": "g", "cpu": {"type": "mc6800", "crystal": "4 MHz"}})"),
            R"(lab.json:1:44: stop: mc6800 takes "clock", not "crystal" (at /cpu/crystal) [wrong-clock]
    expected: "clock": "1 MHz"
    found:    "crystal": "4 MHz"
    hint:     its clock comes from outside and runs at the bus frequency: name that
)");
  EXPECT_EQ(data_faults(R"({"machine": "g", "cpu": {"type": "mc6802", "clock": "1 MHz"}})"),
            R"(lab.json:1:44: stop: mc6802 takes "crystal", not "clock" (at /cpu/clock) [wrong-clock]
    expected: "crystal": "4 MHz"
    found:    "clock": "1 MHz"
    hint:     its oscillator is on the chip: name the crystal, 4 times the bus frequency
)");
  EXPECT_EQ(data_faults(R"({"machine": "g", "cpu": {"type": "mc6808", "clock": "1 MHz", "crystal": "4 MHz"}})"),
            R"(lab.json:1:44: stop: mc6808 takes "crystal", not "clock" (at /cpu/clock) [wrong-clock]
    expected: "crystal": "4 MHz"
    found:    "clock": "1 MHz"
    hint:     its oscillator is on the chip: name the crystal, 4 times the bus frequency
)");
  EXPECT_EQ(data_faults(R"({"machine": "g", "cpu": {"type": "mc6800"}})"),
            R"(lab.json:1:18: stop: "cpu" has no "clock" (at /cpu) [missing-key]
    expected: "clock": "1 MHz"
    hint:     add "clock"
)");
  EXPECT_EQ(data_faults(R"({"machine": "g", "cpu": {"type": "mc6800", "clock": 1000000}})"),
            R"(lab.json:1:53: stop: "clock" has the wrong type (at /cpu/clock) [wrong-type]
    expected: a frequency such as "640 kHz"
    found:    1000000
    hint:     write the number with its unit, in quotes
)");
  EXPECT_EQ(data_faults(R"({"machine": "g", "cpu": {"type": "mc6800", "clock": "1 mHz"}})"),
            R"(lab.json:1:53: stop: "clock" is out of range (at /cpu/clock) [out-of-range]
    expected: 100 kHz to 2 MHz
    found:    "1 mHz"
    hint:     did you mean "1 MHz"? M is mega, m is milli
)");
  EXPECT_EQ(data_faults(R"({"machine": "g", "cpu": {"type": "mc6802", "crystal": "32 MHz"}})"),
            R"(lab.json:1:55: stop: "crystal" is out of range (at /cpu/crystal) [out-of-range]
    expected: 400 kHz to 8 MHz
    found:    "32 MHz"
)");
  EXPECT_EQ(data_faults(R"({"machine": "g", "cpu": {"type": "mc6808", "crystal": "4 MHz", "ram": true}})"),
            R"(lab.json:1:64: stop: "ram" is no key of "cpu" for mc6808 (at /cpu/ram) [unknown-key]
    expected: "type", "clock" or "crystal"
    found:    "ram"
    hint:     remove the key; "about" takes free text
)");
  EXPECT_EQ(data_faults(R"({"machine": "g", "cpu": {"type": "mc6802", "crystal": "4 MHz", "ram": "no"}})"),
            R"(lab.json:1:71: stop: "ram" cannot be read (at /cpu/ram) [bad-quantity]
    expected: true or false
    found:    "no"
)");
  EXPECT_EQ(data_faults(R"({"machine": "g", "cpu": {"type": "mc6802", "crystal": "4 MHz", "ram": 1}})"),
            R"(lab.json:1:71: stop: "ram" has the wrong type (at /cpu/ram) [wrong-type]
    expected: true or false
    found:    1
)");
}

TEST(ParseFaults, Chips) {
  EXPECT_EQ(data_faults(machine(R"("chips": [])")),
            R"(lab.json:2:11: stop: "chips" has the wrong type (at /chips) [wrong-type]
    expected: an object: the name of each chip, and what it is
    found:    a list
)");
  EXPECT_EQ(data_faults(machine(R"("chips": {"R1": "resistor", "R2": {}, "R3": {"type": 1}})")),
            R"(lab.json:2:18: stop: chip "R1" has the wrong type (at /chips/R1) [wrong-type]
    expected: an object such as {"type": "resistor", "ohms": "4.7 kOhm"}
    found:    "resistor"
lab.json:2:30: stop: chip "R2" has no "type" (at /chips/R2) [missing-key]
    expected: "type": a part number or trade word
    hint:     add "type"
lab.json:2:55: stop: "type" of R3 has the wrong type (at /chips/R3/type) [wrong-type]
    expected: a part number or trade word
    found:    1
)");
  EXPECT_EQ(data_faults(
                machine(R"("chips": {"R1": {"type": "resistr"}, "U1": {"type": "mc6800"}, "U2": {"type": "teapot"}})")),
            R"(lab.json:2:27: stop: there is no chip type "resistr" (at /chips/R1/type) [unknown-chip-type]
    expected: a part number or trade word
    found:    "resistr"
    hint:     did you mean "resistor"?
lab.json:2:54: stop: there is no chip type "mc6800" (at /chips/U1/type) [unknown-chip-type]
    expected: a part number or trade word
    found:    "mc6800"
    hint:     mc6800 is a processor, and stands in "cpu"
lab.json:2:80: stop: there is no chip type "teapot" (at /chips/U2/type) [unknown-chip-type]
    expected: a part number or trade word
    found:    "teapot"
    hint:     `prewire list` shows every chip type
)");
  EXPECT_EQ(
      data_faults(machine(
          R"("chips": {"1R": {"type": "lamp"}, "": {"type": "lamp"}, "R.1": {"type": "lamp"}, "CPU": {"type": "lamp"}, "RESET": {"type": "lamp"}})")),
      R"(lab.json:2:12: stop: "1R" cannot be the name of a chip (at /chips/1R) [bad-chip-name]
    expected: a letter, then letters, digits, '_' and '-'
    found:    "1R"
    hint:     choose a name as on a schematic: PIA, U3, R1
lab.json:2:36: stop: "" cannot be the name of a chip (at /chips/) [bad-chip-name]
    expected: a letter, then letters, digits, '_' and '-'
    found:    ""
    hint:     choose a name as on a schematic: PIA, U3, R1
lab.json:2:58: stop: "R.1" cannot be the name of a chip (at /chips/R.1) [bad-chip-name]
    expected: a letter, then letters, digits, '_' and '-'
    found:    "R.1"
    hint:     choose a name as on a schematic: PIA, U3, R1
lab.json:2:83: stop: "CPU" cannot be the name of a chip (at /chips/CPU) [bad-chip-name]
    expected: a letter, then letters, digits, '_' and '-'
    found:    "CPU"
    hint:     CPU means the processor and RESET the reset line: choose another name
lab.json:2:108: stop: "RESET" cannot be the name of a chip (at /chips/RESET) [bad-chip-name]
    expected: a letter, then letters, digits, '_' and '-'
    found:    "RESET"
    hint:     CPU means the processor and RESET the reset line: choose another name
)");
  EXPECT_EQ(
      data_faults(machine(
          R"("chips": {"R1": {"type": "resistor", "ohm": "1 kOhm"}, "L": {"type": "lamp", "at": "$4000", "colour": "red"}})")),
      R"(lab.json:2:12: stop: R1 has no "ohms" (at /chips/R1) [missing-key]
    expected: "ohms": a resistance such as "10 kOhm" (resistance)
    hint:     add "ohms"
lab.json:2:39: stop: "ohm" is no parameter of resistor (at /chips/R1/ohm) [unknown-parameter]
    expected: "type" or "ohms"
    found:    "ohm"
    hint:     did you mean "ohms"?
lab.json:2:79: stop: L cannot have an address: it has no bus pins (at /chips/L/at) [not-on-bus]
    expected: "type"
    found:    "at"
    hint:     remove the key, and wire the chip
lab.json:2:94: stop: "colour" is no parameter of lamp (at /chips/L/colour) [unknown-parameter]
    expected: "type"
    found:    "colour"
    hint:     remove the key
)");
  EXPECT_EQ(data_faults(machine(R"("chips": {"H": {"type": "2114", "at": "$0000-$03FF"}})")),
            R"(lab.json:2:12: stop: H has no "lines" (at /chips/H) [missing-key]
    expected: "lines": "low" or "high" (data lines it is wired to)
    hint:     add "lines"
)");
}

TEST(ParseFaults, Parameters) {
  EXPECT_EQ(data_faults(machine(R"("chips": {"R1": {"type": "resistor", "ohms": 4700}})")),
            R"(lab.json:2:47: stop: "ohms" of R1 has the wrong type (at /chips/R1/ohms) [wrong-type]
    expected: a resistance such as "10 kOhm"
    found:    4700
    hint:     write the number with its unit, in quotes
)");
  EXPECT_EQ(data_faults(machine(R"("chips": {"R1": {"type": "resistor", "ohms": "4.7k"}})")),
            R"(lab.json:2:47: stop: "ohms" of R1 cannot be read (at /chips/R1/ohms) [bad-quantity]
    expected: a resistance such as "10 kOhm"
    found:    "4.7k"
    hint:     write the unit too: "kOhm"
)");
  EXPECT_EQ(data_faults(machine(R"("chips": {"R1": {"type": "resistor", "ohms": "4.7 V"}})")),
            R"(lab.json:2:47: stop: "ohms" of R1 cannot be read (at /chips/R1/ohms) [bad-quantity]
    expected: a resistance such as "10 kOhm"
    found:    "4.7 V"
)");
  EXPECT_EQ(data_faults(machine(R"("chips": {"R1": {"type": "resistor", "ohms": "much"}})")),
            R"(lab.json:2:47: stop: "ohms" of R1 cannot be read (at /chips/R1/ohms) [bad-quantity]
    expected: a resistance such as "10 kOhm"
    found:    "much"
)");
  EXPECT_EQ(data_faults(machine(R"("chips": {"R1": {"type": "resistor", "ohms": "0.5 Ohm"}})")),
            R"(lab.json:2:47: stop: "ohms" of R1 cannot be read (at /chips/R1/ohms) [bad-quantity]
    expected: a resistance such as "10 kOhm"
    found:    "0.5 Ohm"
    hint:     the smallest step is 1 Ohm
)");
  EXPECT_EQ(data_faults(machine(R"("chips": {"R1": {"type": "resistor", "ohms": "99999999999 GOhm"}})")),
            R"(lab.json:2:47: stop: "ohms" of R1 cannot be read (at /chips/R1/ohms) [bad-quantity]
    expected: a resistance such as "10 kOhm"
    found:    "99999999999 GOhm"
    hint:     the number is far too large: check the prefix
)");
  EXPECT_EQ(data_faults(machine(R"("chips": {"R1": {"type": "resistor", "ohms": "22 MOhm"}})")),
            R"(lab.json:2:47: stop: "ohms" of R1 is out of range (at /chips/R1/ohms) [out-of-range]
    expected: 1 Ohm to 10 MOhm
    found:    "22 MOhm"
)");
  EXPECT_EQ(data_faults(machine(
                R"("chips": {"A": {"type": "adc0804", "clock_c": "150 F", "error": "2 LSB", "invert": "maybe"}})")),
            R"(lab.json:2:48: stop: "clock_c" of A is out of range (at /chips/A/clock_c) [out-of-range]
    expected: 10 pF to 10 nF
    found:    "150 F"
lab.json:2:66: stop: "error" of A is out of range (at /chips/A/error) [out-of-range]
    expected: -1 LSB to 1 LSB
    found:    "2 LSB"
lab.json:2:85: stop: "invert" of A cannot be read (at /chips/A/invert) [bad-quantity]
    expected: true or false
    found:    "maybe"
)");
  EXPECT_EQ(data_faults(machine(R"("chips": {"A": {"type": "adc0804", "invert": 0, "vref_half": {}}})")),
            R"(lab.json:2:63: stop: "vref_half" of A has the wrong type (at /chips/A/vref_half) [wrong-type]
    expected: a voltage such as "2.56 V"
    found:    an object
lab.json:2:47: stop: "invert" of A has the wrong type (at /chips/A/invert) [wrong-type]
    expected: true or false
    found:    0
)");
  EXPECT_EQ(data_faults(machine(R"("chips": {"P": {"type": "potentiometer", "position": 25, "wobble": "1 MHz"}})")),
            R"(lab.json:2:55: stop: "position" of P is out of range (at /chips/P/position) [out-of-range]
    expected: 0 % to 100 %
    found:    25
lab.json:2:69: stop: "wobble" of P is out of range (at /chips/P/wobble) [out-of-range]
    expected: 0 Hz to 10 Hz
    found:    "1 MHz"
    hint:     did you mean "1 mHz"? M is mega, m is milli
)");
  EXPECT_EQ(data_faults(machine(R"("chips": {"P": {"type": "potentiometer", "position": "25 %%"}})")),
            R"(lab.json:2:55: stop: "position" of P cannot be read (at /chips/P/position) [bad-quantity]
    expected: a fraction such as 0.25 or "25 %"
    found:    "25 %%"
)");
  EXPECT_EQ(data_faults(machine(R"("chips": {"B": {"type": "button", "hits": "5 s", "bounce": "1 s"}})")),
            R"(lab.json:2:61: stop: "bounce" of B is out of range (at /chips/B/bounce) [out-of-range]
    expected: 0 s to 100 ms
    found:    "1 s"
lab.json:2:44: stop: "hits" of B cannot be read (at /chips/B/hits) [bad-quantity]
    expected: a whole number such as 8
    found:    "5 s"
    hint:     this is a plain number without a unit
)");
  EXPECT_EQ(data_faults(machine(R"("chips": {"RAM": {"type": "mcm6810", "at": "$0000-$007F", "power_up": "zero"}})")),
            R"(lab.json:2:72: stop: "power_up" of RAM has no such choice (at /chips/RAM/power_up) [bad-choice]
    expected: "random", "zeros" or "ones"
    found:    "zero"
    hint:     did you mean "zeros"?
)");
  EXPECT_EQ(data_faults(machine(R"("chips": {"RAM": {"type": "mcm6810", "at": "$0000-$007F", "power_up": false}})")),
            R"(lab.json:2:72: stop: "power_up" of RAM has the wrong type (at /chips/RAM/power_up) [wrong-type]
    expected: "random", "zeros" or "ones"
    found:    false
)");
}

TEST(ParseFaults, Addresses) {
  EXPECT_EQ(data_faults(machine(R"("chips": {"RAM": {"type": "mcm6810"}, "L": {"type": "latch"}})")),
            R"(lab.json:2:12: stop: RAM has no place in the address map (at /chips/RAM) [missing-at]
    expected: "at": a range of 128 addresses
    hint:     take it from the address decoder of the board, or wire all bus pins of the chip
)");
  EXPECT_EQ(data_faults(machine(R"("chips": {"PIA": {"type": "mc6821", "at": "4000-4003"}})")),
            R"(lab.json:2:44: stop: "at" of PIA cannot be read (at /chips/PIA/at) [bad-address]
    expected: a range such as "$4000-$4003", or one address
    found:    "4000-4003"
    hint:     an address is '$' or '0x' and one to four hex digits
)");
  EXPECT_EQ(data_faults(machine(R"("chips": {"PIA": {"type": "mc6821", "at": "$4003-$4000"}})")),
            R"(lab.json:2:44: stop: "at" of PIA cannot be read (at /chips/PIA/at) [bad-address]
    expected: a range such as "$4000-$4003", or one address
    found:    "$4003-$4000"
    hint:     the lower address comes first
)");
  EXPECT_EQ(data_faults(machine(R"("chips": {"PIA": {"type": "mc6821", "at": "$14000-$14003"}})")),
            R"(lab.json:2:44: stop: "at" of PIA cannot be read (at /chips/PIA/at) [bad-address]
    expected: a range such as "$4000-$4003", or one address
    found:    "$14000-$14003"
    hint:     an address is '$' or '0x' and one to four hex digits
)");
  EXPECT_EQ(data_faults(machine(R"("chips": {"PIA": {"type": "mc6821", "at": 16384}})")),
            R"(lab.json:2:44: stop: "at" of PIA has the wrong type (at /chips/PIA/at) [wrong-type]
    expected: a range such as "$4000-$4003", or one address
    found:    16384
)");
  EXPECT_EQ(data_faults(machine(R"("chips": {"PIA": {"type": "mc6821", "at": "$4000"}})")),
            R"(lab.json:2:44: stop: "at" of PIA names one address, and the chip has 4 (at /chips/PIA/at) [bad-address]
    expected: "$4000-$4003"
    found:    "$4000"
    hint:     name the first and the last address
)");
  EXPECT_EQ(data_faults(machine(R"("chips": {"PIA": {"type": "mc6821", "at": "$FFFF"}})")),
            R"(lab.json:2:44: stop: "at" of PIA names one address, and the chip has 4 (at /chips/PIA/at) [bad-address]
    expected: a range of 4 addresses
    found:    "$FFFF"
    hint:     name the first and the last address
)");
  EXPECT_EQ(
      data_faults(machine(
          R"("chips": {"PIA": {"type": "mc6821", "at": "$4000-$5FFF"}, "L": {"type": "latch", "at": "$8000-$8001"}})")),
      R"(lab.json:2:44: stop: the window of PIA is larger than the chip (at /chips/PIA/at) [window-too-large]
    expected: "$4000-$4003": 4 addresses
    found:    "$4000-$5FFF": 8192 addresses
    hint:     name the addresses of the chip in "at", and all at which it answers in "mirror"
lab.json:2:89: stop: the window of L is larger than the chip (at /chips/L/at) [window-too-large]
    expected: "$8000": 1 address
    found:    "$8000-$8001": 2 addresses
    hint:     name the addresses of the chip in "at", and all at which it answers in "mirror"
)");
  EXPECT_EQ(data_faults(machine(R"("chips": {"PIA": {"type": "mc6821", "mirror": "$4000-$5FFF"}})")),
            R"(lab.json:2:38: stop: PIA has a mirror but no place of its own (at /chips/PIA/mirror) [bad-mirror]
    expected: "at" beside "mirror"
    found:    "mirror" alone
    hint:     name the 4 addresses of the chip in "at"
)");
  EXPECT_EQ(
      data_faults(machine(R"("chips": {"PIA": {"type": "mc6821", "at": "$4000-$4003", "mirror": "$4001-$5FFF"}})")),
      R"(lab.json:2:69: stop: the mirror of PIA does not contain its own addresses (at /chips/PIA/mirror) [bad-mirror]
    expected: a range around $4000-$4003
    found:    "$4001-$5FFF"
    hint:     name all addresses at which the chip answers, its own included
)");
  EXPECT_EQ(
      data_faults(machine(R"("chips": {"PIA": {"type": "mc6821", "at": "$4000-$4001", "mirror": "$4000-$5FFF"}})")),
      R"(lab.json:2:69: stop: PIA shows only a part of itself, so it cannot have a mirror (at /chips/PIA/mirror) [bad-mirror]
    expected: "at" with all 4 addresses of the chip
    found:    $4000-$4001
    hint:     widen "at", or remove "mirror"
)");
  EXPECT_EQ(data_faults(machine(R"("chips": {"PIA": {"type": "mc6821", "at": "$4000-$4003", "mirror": "all"}})")),
            R"(lab.json:2:69: stop: "mirror" of PIA cannot be read (at /chips/PIA/mirror) [bad-address]
    expected: a range such as "$4000-$4003", or one address
    found:    "all"
    hint:     an address is '$' or '0x' and one to four hex digits
)");
}

TEST(ParseFaults, Wires) {
  EXPECT_EQ(data_faults(wired(R"({})")), R"(lab.json:4:11: stop: "wires" has the wrong type (at /wires) [wrong-type]
    expected: a list of wires
    found:    an object
)");
  EXPECT_EQ(data_faults(wired(R"(["PIA.PA0"])")),
            R"(lab.json:4:12: stop: a wire has the wrong type (at /wires/0) [wrong-type]
    expected: a list of its ends, such as ["PIA.PA0", "ADC.DB0"]
    found:    "PIA.PA0"
)");
  EXPECT_EQ(data_faults(wired(R"([[], ["PIA.PA0"], ["PIA.PA0", 5]])")),
            R"(lab.json:4:12: stop: a wire needs two ends or more (at /wires/0) [wire-ends]
    expected: two pins, rails or labels
    found:    none
    hint:     name what the wire joins, or remove it
lab.json:4:16: stop: a wire needs two ends or more (at /wires/1) [wire-ends]
    expected: two pins, rails or labels
    found:    "PIA.PA0"
    hint:     name what the wire joins, or remove it
lab.json:4:41: stop: an end of a wire has the wrong type (at /wires/2/1) [wrong-type]
    expected: a string such as "PIA.PA0"
    found:    5
)");
  EXPECT_EQ(data_faults(wired(R"([["PAI.PA0", "ADC.DB0"], ["PIA.PA8", "ADC.D0"], ["PIA.", "CPU.INT"]])")),
            R"(lab.json:4:13: stop: there is no chip "PAI" (at /wires/0/0) [unknown-chip]
    expected: a name from "chips", or CPU
    found:    "PAI.PA0"
    hint:     did you mean "PIA"?
lab.json:4:37: stop: PIA has no pin "PA8" (at /wires/1/0) [unknown-pin]
    expected: a pin of mc6821: PA0..PA7, PB0..PB7, CA1, CA2, CB1, CB2, IRQA, IRQB, RESET, VCC, VSS
    found:    "PIA.PA8"
    hint:     did you mean "PA0"?
lab.json:4:48: stop: ADC has no pin "D0" (at /wires/1/1) [unknown-pin]
    expected: a pin of adc0804: DB0..DB7, CS, RD, WR, INTR, VIN+, VIN-
    found:    "ADC.D0"
    hint:     did you mean "DB0"?
lab.json:4:60: stop: PIA has no pin "" (at /wires/2/0) [unknown-pin]
    expected: a pin of mc6821: PA0..PA7, PB0..PB7, CA1, CA2, CB1, CB2, IRQA, IRQB, RESET, VCC, VSS
    found:    "PIA."
    hint:     compare with the data sheet; active-low pins are written without a bar
lab.json:4:68: stop: CPU has no pin "INT" (at /wires/2/1) [unknown-pin]
    expected: a pin of mc6800: HALT, IRQ, NMI, RESET, TSC, DBE, VMA, R/W, BA, PHI2, VCC, VSS, A0..A15, D0..D7
    found:    "CPU.INT"
    hint:     compare with the data sheet; active-low pins are written without a bar
)");
  EXPECT_EQ(data_faults(wired(R"([["pia.PA0", "ADC DB0"], ["", "3state"], ["ADC.VIN+", "ADC.VIN +"]])")),
            R"(lab.json:4:13: stop: there is no chip "pia" (at /wires/0/0) [unknown-chip]
    expected: a name from "chips", or CPU
    found:    "pia.PA0"
    hint:     did you mean "PIA"?
lab.json:4:24: stop: "ADC DB0" is no end of a wire (at /wires/0/1) [bad-wire-end]
    expected: a pin "PIA.PA0", a range "PIA.PA0..PA7", a rail "+5V" or "GND", or a label
    found:    "ADC DB0"
    hint:     a label is made of letters, digits, '_' and '-'
lab.json:4:37: stop: "" is no end of a wire (at /wires/1/0) [bad-wire-end]
    expected: a pin "PIA.PA0", a range "PIA.PA0..PA7", a rail "+5V" or "GND", or a label
    found:    ""
    hint:     a label is made of letters, digits, '_' and '-'
lab.json:4:41: stop: "3state" is no rail (at /wires/1/1) [bad-rail]
    expected: "GND", or a voltage with its sign such as "+5V" or "-12V"
    found:    "3state"
    hint:     write the voltage with its sign and its unit
lab.json:4:65: stop: ADC has no pin "VIN +" (at /wires/2/1) [unknown-pin]
    expected: a pin of adc0804: DB0..DB7, CS, RD, WR, INTR, VIN+, VIN-
    found:    "ADC.VIN +"
    hint:     did you mean "VIN+"?
)");
  EXPECT_EQ(data_faults(wired(
                R"([["R1.1", "5V"], ["R1.2", "VCC"], ["ADC.CS", "gnd"], ["ADC.VIN+", "+5"], ["ADC.VIN-", "-48 V"]])")),
            R"(lab.json:4:21: stop: "5V" is no rail (at /wires/0/1) [bad-rail]
    expected: "GND", or a voltage with its sign such as "+5V" or "-12V"
    found:    "5V"
    hint:     write "+5V"
lab.json:4:37: stop: "VCC" is no rail (at /wires/1/1) [bad-rail]
    expected: "GND", or a voltage with its sign such as "+5V" or "-12V"
    found:    "VCC"
    hint:     did you mean "+5V"?
lab.json:4:56: stop: "gnd" is no rail (at /wires/2/1) [bad-rail]
    expected: "GND", or a voltage with its sign such as "+5V" or "-12V"
    found:    "gnd"
    hint:     did you mean "GND"?
lab.json:4:77: stop: "+5" is no rail (at /wires/3/1) [bad-rail]
    expected: "GND", or a voltage with its sign such as "+5V" or "-12V"
    found:    "+5"
    hint:     write the voltage with its sign and its unit
lab.json:4:97: stop: the rail "-48 V" is out of range (at /wires/4/1) [out-of-range]
    expected: -30 V to 30 V
    found:    "-48 V"
    hint:     boards with plug-in wires work with low voltages only
)");
  EXPECT_EQ(
      data_faults(wired(
          R"([["PIA.PA0..PA", "ADC.DB0..DB7"], ["PIA.PA0..PB7", "ADC.DB0..7"], ["PIA.PA0..PA9999", "R1.1..a"], ["PIA.PA00..PA07", "GND"]])")),
      R"(lab.json:4:13: stop: "PIA.PA0..PA" is no range of pins (at /wires/0/0) [bad-pin-range]
    expected: a range such as "PIA.PA0..PA7", "PIA.PA0..7" or "R0..R7.1"
    found:    "PIA.PA0..PA"
    hint:     both ends differ in their number, or in their last letter
lab.json:4:46: stop: "PIA.PA0..PB7" is no range of pins (at /wires/1/0) [bad-pin-range]
    expected: a range such as "PIA.PA0..PA7", "PIA.PA0..7" or "R0..R7.1"
    found:    "PIA.PA0..PB7"
    hint:     both ends differ in their number, or in their last letter
lab.json:4:78: stop: "PIA.PA0..PA9999" is no range of pins (at /wires/2/0) [bad-pin-range]
    expected: a range such as "PIA.PA0..PA7", "PIA.PA0..7" or "R0..R7.1"
    found:    "PIA.PA0..PA9999"
    hint:     both ends differ in their number, or in their last letter
lab.json:4:97: stop: "R1.1..a" is no range of pins (at /wires/2/1) [bad-pin-range]
    expected: a range such as "PIA.PA0..PA7", "PIA.PA0..7" or "R0..R7.1"
    found:    "R1.1..a"
    hint:     both ends differ in their number, or in their last letter
lab.json:4:110: stop: "PIA.PA00..PA07" is no range of pins (at /wires/3/0) [bad-pin-range]
    expected: a range such as "PIA.PA0..PA7", "PIA.PA0..7" or "R0..R7.1"
    found:    "PIA.PA00..PA07"
    hint:     both ends differ in their number, or in their last letter
)");
  EXPECT_EQ(
      data_faults(wired(
          R"([["PIA.PA0..PA7", "ADC.DB0..DB6"], ["PIA.PB0..7", "R1.1", "DATA"], ["PIA.PA0..PA9", "ADC.DB0..7"]])")),
      R"(lab.json:4:29: stop: "ADC.DB0..DB6" does not fit "PIA.PA0..PA7" (at /wires/0/1) [range-width]
    expected: a range of 8 pins, or one pin, rail or label for all
    found:    7 pins
    hint:     a wire with ranges joins them pin by pin, first to first
lab.json:4:61: warn: "R1.1" joins all pins of "PIA.PB0..7" to one net, and 8 of them can drive it (at /wires/1/1) [range-joined]
    expected: a range of 8 pins
    found:    "R1.1"
    hint:     name a range here too, to join pin to pin
lab.json:4:79: stop: PIA has no pin "PA8" (at /wires/2/0) [unknown-pin]
    expected: a pin of mc6821: PA0..PA7, PB0..PB7, CA1, CA2, CB1, CB2, IRQA, IRQB, RESET, VCC, VSS
    found:    "PIA.PA0..PA9"
    hint:     did you mean "PA0"?
)");
  EXPECT_EQ(data_faults(wired(R"([["PIA.D0", "ADC.DB0"], ["CPU.A0", "ADC.CS"], ["PIA.E", "CPU.PHI2"]])")),
            R"(lab.json:4:13: stop: PIA.D0 is on the system bus and cannot be wired (at /wires/0/0) [bus-pin]
    expected: a pin that is not part of the bus
    found:    "PIA.D0"
    hint:     leave the wire out: "at" has joined the pin to the bus; or remove "at", and wire all its bus pins
lab.json:4:58: stop: PIA.E is on the system bus and cannot be wired (at /wires/2/0) [bus-pin]
    expected: a pin that is not part of the bus
    found:    "PIA.E"
    hint:     leave the wire out: "at" has joined the pin to the bus; or remove "at", and wire all its bus pins
)");
  EXPECT_EQ(data_faults(wired(R"([["R1", "+5V"], ["CPU", "GND"], ["IRQ", "INT", "CPU.IRQ"]])")),
            R"(lab.json:4:13: stop: R1 is a chip, so it cannot be the label of a net (at /wires/0/0) [label-clash]
    expected: a pin of R1, or a label that no chip has
    found:    "R1"
    hint:     write "R1." and the pin
lab.json:4:28: stop: CPU is a chip, so it cannot be the label of a net (at /wires/1/0) [label-clash]
    expected: a pin of CPU, or a label that no chip has
    found:    "CPU"
    hint:     write "CPU." and the pin
lab.json:4:51: stop: the net has two labels, IRQ and INT (at /wires/2/1) [label-clash]
    expected: one label for a net
    found:    "INT"
    hint:     keep one of them
)");
  EXPECT_EQ(data_faults(wired(R"([["R1.1", "GND", "+5V"]])")),
            R"(lab.json:4:28: stop: the wire joins the rails GND and +5V (at /wires/0/2) [two-rails]
    expected: one rail on a wire
    found:    "+5V"
    hint:     this shorts the supply: wire the rails apart
)");
  EXPECT_EQ(data_faults(wired(R"([["R1.1", "GND"], ["R1.1", "PIA.PA0"],
 ["PIA.PA0", "ADC.CS"], ["ADC.CS", "+5V"]])")),
            R"(lab.json:5:25: stop: with this wire the rails GND and +5V are joined (at /wires/3) [two-rails]
    expected: one rail on a net
    found:    GND and +5V
    hint:     this shorts the supply: follow the pins of this wire through the other wires
)");
  EXPECT_EQ(data_faults(wired(R"([["FLOW", "PIA.CA1"], ["PIA.CA1", "TIDE"]])")),
            R"(lab.json:4:33: stop: with this wire the net has two labels, FLOW and TIDE (at /wires/1) [label-clash]
    expected: one label for a net
    found:    FLOW and TIDE
    hint:     keep one of them
)");
  EXPECT_EQ(
      data_faults(wired(
          R"([["PIA.CA1", "PIA.CA1"], ["PIA.PA0..7", "PIA.PA0..7", "ADC.DB0..7"], ["GND", "GND", "R1.1"], ["X", "X", "R1.2"]])")),
      R"(lab.json:4:24: warn: the wire names the same end twice (at /wires/0/1) [repeated-end]
    expected: each end once
    found:    "PIA.CA1"
    hint:     a slip of the pen? name the end that was meant
lab.json:4:51: warn: the wire names the same end twice (at /wires/1/1) [repeated-end]
    expected: each end once
    found:    "PIA.PA0..7"
    hint:     a slip of the pen? name the end that was meant
lab.json:4:88: warn: the wire names the same end twice (at /wires/2/1) [repeated-end]
    expected: each end once
    found:    "GND"
    hint:     a slip of the pen? name the end that was meant
lab.json:4:110: warn: the wire names the same end twice (at /wires/3/1) [repeated-end]
    expected: each end once
    found:    "X"
    hint:     a slip of the pen? name the end that was meant
)");
  EXPECT_EQ(data_faults(machine(
                R"("chips": {"PIA": {"type": "mc6822"}}, "wires": [["PIA.PA0", "PIA.PA9"], ["PIA.PA0..PA7", "GND"]])")),
            R"(lab.json:2:28: stop: there is no chip type "mc6822" (at /chips/PIA/type) [unknown-chip-type]
    expected: a part number or trade word
    found:    "mc6822"
    hint:     this version does not have that part; of its family it has mc6821 and mcm6810
)");
}

TEST(ParseFaults, Displays) {
  EXPECT_EQ(data_faults(machine(R"("chips": {"D1": {"type": "digit"}, "D10": {"type": "digit"}, "L": {"type": "lamp"}},
 "display": {"LEVEL": ["D10", "D2", "L", 1], "TANK": [], "MAST": "D1", "TWICE": ["D1", "D10", "D1"]})")),
            R"(lab.json:3:31: stop: there is no chip "D2" (at /display/LEVEL/1) [unknown-chip]
    expected: D1 or D10
    found:    "D2"
    hint:     add the chip, or correct the name
lab.json:3:37: stop: L is no digit but a lamp (at /display/LEVEL/2) [not-a-digit]
    expected: D1 or D10
    found:    "L"
lab.json:3:42: stop: a digit of display "LEVEL" has the wrong type (at /display/LEVEL/3) [wrong-type]
    expected: the name of a chip
    found:    1
lab.json:3:54: stop: display "TANK" has no digits (at /display/TANK) [empty-display]
    expected: a list of digits, left to right
    found:    an empty list
    hint:     name the digits, or remove the group
lab.json:3:66: stop: display "MAST" has the wrong type (at /display/MAST) [wrong-type]
    expected: a list of digits, left to right
    found:    "D1"
lab.json:3:95: stop: D1 stands twice in display "TWICE" (at /display/TWICE/2) [repeated-digit]
    expected: each digit once
    found:    "D1"
    hint:     name the digits from left to right
)");
  EXPECT_EQ(data_faults(machine(R"("display": {"LEVEL": ["D1"]})")),
            R"(lab.json:2:24: stop: there is no chip "D1" (at /display/LEVEL/0) [unknown-chip]
    expected: a digit, such as a seven-segment display
    found:    "D1"
    hint:     add the chip, or correct the name
)");
  EXPECT_EQ(data_faults(machine(R"("display": ["D1"])")),
            R"(lab.json:2:13: stop: "display" has the wrong type (at /display) [wrong-type]
    expected: an object such as {"LEVEL": ["D10", "D1"]}
    found:    a list
)");
}

TEST(ParseFaults, Programs) {
  EXPECT_EQ(data_faults(machine(R"("program": "gauge.s19")")),
            R"(lab.json:2:13: stop: "program" has the wrong type (at /program) [wrong-type]
    expected: a list of image files, such as ["gauge.s19"]
    found:    "gauge.s19"
)");
  EXPECT_EQ(data_faults(machine(R"("program": ["gauge.s19"])")),
            R"(lab.json:2:14: stop: no files can be read for this description (at /program/0) [image-place]
    expected: no "program"
    found:    "gauge.s19"
    hint:     a description that comes as text has no folder: name a root
)");
  EXPECT_EQ(data_faults(machine(R"("program": [7, {"format": "binary", "at": "$F000"}])")),
            R"(lab.json:2:14: stop: a program image has the wrong type (at /program/0) [wrong-type]
    expected: the name of a file, or an object with "file"
    found:    7
lab.json:2:17: stop: the program image has no "file" (at /program/1) [missing-key]
    expected: "file": the name of a file
    hint:     add "file"
)");
  EXPECT_EQ(
      data_faults(machine(
          R"("program": [{"file": "x.bin", "format": "bin", "at": "$F000"}, {"file": "x.bin", "format": "binary"}, {"file": "x.s19", "at": "$F000"}, {"file": "x.bin", "format": "binary", "at": "F000"}, {"file": "x", "name": "y"}])")),
      R"(lab.json:2:42: stop: "format" has no such choice (at /program/0/format) [bad-choice]
    expected: "automatic", "s-record", "intel-hex", "binary" or "key-in"
    found:    "bin"
    hint:     did you mean "binary"?
lab.json:2:65: stop: a binary image needs the address of its first byte (at /program/1) [bad-image-base]
    expected: "at": "$F000"
    hint:     add "at"
lab.json:2:122: stop: only a binary image takes "at" (at /program/2/at) [bad-image-base]
    expected: "format": "binary" with "at"
    found:    "at": "$F000"
    hint:     remove it: the other formats bring their own addresses
lab.json:2:182: stop: "at" of the program image cannot be read (at /program/3/at) [bad-address]
    expected: an address such as "$F000"
    found:    "F000"
    hint:     an address is '$' or '0x' and one to four hex digits
lab.json:2:205: stop: "name" is no key of a program image (at /program/4/name) [unknown-key]
    expected: "file", "format" or "at"
    found:    "name"
    hint:     remove the key; "about" takes free text
lab.json:2:200: stop: no files can be read for this description (at /program/4/file) [image-place]
    expected: no "program"
    found:    "x"
    hint:     a description that comes as text has no folder: name a root
)");
}
TEST(ParseFaults, TooManyChips) {
  std::string chips;
  for (int i = 0; i < 121; ++i)
    chips += fmt::format("{}\"P{}\": {{\"type\": \"latch\", \"at\": \"${:04X}\"}}", i == 0 ? "" : ", ", i, i);
  EXPECT_EQ(data_faults(machine("\"chips\": {" + chips + "}")),
            R"(lab.json:2:2: stop: there are too many chips on the bus (at /chips) [too-many-chips]
    expected: at most 120 with "at"
    found:    121
)");
  chips.clear();
  for (int i = 0; i < 1001; ++i) chips += fmt::format("{}\"L{}\": {{\"type\": \"lamp\"}}", i == 0 ? "" : ",", i);
  EXPECT_EQ(data_faults(machine("\"chips\": {" + chips + "}")),
            R"(lab.json:2:2: stop: there are too many chips (at /chips) [too-many-chips]
    expected: at most 1000
    found:    1001
)");
}

TEST(ParseFaults, OfTheTextComeFirst) {
  EXPECT_EQ(data_faults("{\"machine\": \"a\", \"machine\": \"b\",\n \"cpu\" {}"),
            R"(lab.json:1:18: stop: the key "machine" stands twice in one object (at /machine) [duplicate-key]
    expected: each key once
    found:    the first one in line 1
    hint:     rename or remove one of the two
lab.json:2:8: stop: this is not valid JSON [json-syntax]
    expected: ':' after the key
    found:    "{"
)");
}

TEST(ParseFaults, ManyComeInOneGo) {
  std::vector<Fault> faults;
  parse_machine(R"({
  "machine": 7,
  "cpu": {
    "type": "mc6802",
    "clock": "1 MHz"
  },
  "chips": {
    "RAM": { "type": "mcm6810",
             "at": "$0000-$00FF" },
    "PIA": { "type": "mc6812", "at": "$4000-$4003" },
    "R1": { "type": "resistor",
            "ohms": 4700 },
    "R1": { "type": "resistor", "ohms": "1 kOhm" },
    "R2": { "type": "resistor",
            "ohm": "1 kOhm" }
  },
  "wires": [
    ["R1.1", "R2.3"],
    ["R1.2",
     "5V"],
    ["R3.1", "GND"],
    ["PIA.PA0", "PIA.XX", "GND"]
  ],
  "program": "gauge.s19",
  "displays": {}
})",
                "lab.json", "", field_station(), {}, faults);
  std::string found;
  const InputError error(faults);
  for (const Fault& fault : error.faults()) {
    found += fmt::format("{}:{} {} {}\n", fault.place.line, fault.place.column, fault.place.pointer, fault.id);
  }
  EXPECT_EQ(found, R"(2:14 /machine wrong-type
5:5 /cpu/clock wrong-clock
9:20 /chips/RAM/at window-too-large
10:22 /chips/PIA/type unknown-chip-type
12:21 /chips/R1/ohms wrong-type
13:5 /chips/R1 duplicate-key
14:5 /chips/R2 missing-key
15:13 /chips/R2/ohm unknown-parameter
18:14 /wires/0/1 unknown-pin
20:6 /wires/1/1 bad-rail
21:6 /wires/2/0 unknown-chip
24:14 /program wrong-type
25:3 /displays unknown-key
)");
}

TEST(ParseFaults, StopAtAThousand) {
  std::string wires;
  for (int i = 0; i < 3000; ++i) wires += fmt::format("{}[\"X.1\", \"+\"]", i == 0 ? "" : ", ");
  std::vector<Fault> faults;
  parse_machine(wired("[" + wires + "]"), "lab.json", "", field_station(), {}, faults);
  EXPECT_EQ(faults.size(), 1000U);
}

// ---------------------------------------------------------------------------------------------------------------------
// Program images

constexpr std::string_view kRoms =
    R"("chips": {"RAM": {"type": "mcm6810", "at": "$0100-$017F"}, "ROM": {"type": "2716", "at": "$F800-$FFFF"}},
 "program": )";

std::string loaded(std::string_view program) { return machine(std::string(kRoms) + std::string(program)); }

TEST(Programs, CanBeMirroredOrInTheProcessor) {
  const Folder folder("in-the-processor");
  folder.write("low.key", "0010: 01 02\n007F: 03\n");
  folder.write("high.key", "2010: 01\nE004: 02\n");
  EXPECT_EQ(data_faults(R"({"machine": "g", "cpu": {"type": "mc6802", "crystal": "4 MHz"}, "program": ["low.key"]})",
                        folder.path()),
            "");
  EXPECT_EQ(
      data_faults(
          R"({"machine": "g", "cpu": {"type": "mc6802", "crystal": "4 MHz", "ram": false}, "program": ["low.key"]})",
          folder.path()),
      R"(lab.json:1:91: stop: "low.key" has bytes where there is no memory (at /program/0) [image-outside-memory]
    expected: a memory chip
    found:    $0010-$0011 and $007F
    hint:     give the image another address, or put a memory chip there
)");
  EXPECT_EQ(data_faults(machine(R"("chips": {"A": {"type": "mcm6810", "at": "$0000-$007F", "mirror": "$0000-$3FFF"},
    "B": {"type": "2716", "at": "$F800-$FFFF", "mirror": "$E000-$FFFF"}}, "program": ["high.key"])"),
                        folder.path()),
            "");
}

TEST(Programs, MustFindMemory) {
  const Folder folder("must-find-memory");
  folder.write("gauge.key", "0170: 00 01 02 03 04 05 06 07 08 09 0A 0B 0C 0D 0E 0F 10 11\n");
  folder.write("tank.key", "2000: 01\n3000: 01\n4000: 01 02\n5000: 01\n6000: 01\n7000: 01\n0100: 01\n");
  folder.write("mast.s37", "S3060001000001F7\nS70500000000FA\n");
  EXPECT_EQ(
      data_faults(loaded(R"(["gauge.key", "tank.key", "mast.s37"])"), folder.path()),
      R"(lab.json:3:14: stop: "gauge.key" has bytes where there is no memory (at /program/0) [image-outside-memory]
    expected: RAM $0100-$017F or ROM $F800-$FFFF
    found:    $0180-$0181
    hint:     the image is larger than the memory that holds its beginning, unless an ORG is missing
lab.json:3:27: stop: "tank.key" has bytes where there is no memory (at /program/1) [image-outside-memory]
    expected: RAM $0100-$017F or ROM $F800-$FFFF
    found:    $2000, $3000, $4000-$4001, $5000 and 2 more
    hint:     give the image another address, or put a memory chip there
lab.json:3:39: stop: "mast.s37" has bytes where there is no memory (at /program/2) [image-outside-memory]
    expected: RAM $0100-$017F or ROM $F800-$FFFF
    found:    $10000
    hint:     give the image another address, or put a memory chip there
)");
}

TEST(Programs, MustNotDisagree) {
  const Folder folder("must-not-disagree");
  folder.write("one.key", "0100: 01 02 03\n");
  folder.write("same.key", "0102: 03 04\n");
  folder.write("other.key", "0101: 07\n");
  EXPECT_EQ(data_faults(loaded(R"(["one.key", "same.key"])"), folder.path()), "");
  EXPECT_EQ(
      data_faults(loaded(R"(["one.key", {"file": "other.key", "format": "key-in"}])"), folder.path()),
      R"(lab.json:3:34: stop: "one.key" and "other.key" give different bytes for $0101 (at /program/1/file) [image-clash]
    expected: one byte for each address
    found:    two
    hint:     leave out one of the images, or move it
)");
}

TEST(Programs, BringTheFaultsOfTheirFile) {
  const Folder folder("faults-of-their-file");
  folder.write("gauge.key", "0100: 01 0\n0101: 1\n");
  folder.write("empty.key", "; nothing yet\n");
  folder.write("twice.key", "0100: 01\n0100: 01\n");
  const std::string file = (folder.path() / "gauge.key").string();
  std::vector<Fault> faults;
  parse_machine(loaded(R"(["gauge.key", "empty.key", "twice.key"])"), "lab.json", folder.path(), field_station(), {},
                faults);
  std::string found;
  for (const Fault& fault : faults) {
    found += fmt::format("{}:{} {} {} {} {}\n", std::filesystem::path(fault.place.file).filename().string(),
                         fault.place.line, fault.place.pointer, to_string(fault.weight), fault.id, fault.found);
  }
  EXPECT_EQ(faults[0].place.file, file);
  EXPECT_EQ(found, R"(gauge.key:1  stop key-byte '0'
gauge.key:2  stop key-byte '1'
lab.json:3 /program/1 stop image-empty "empty.key": none
twice.key:2  hint image-repeat 
)");
}

TEST(Programs, StayInTheirFolder) {
  const Folder outer("stay-in-their-folder");
  const std::filesystem::path folder = outer.path() / "lab";
  std::filesystem::create_directories(folder / "sub");
  outer.write("secret.key", "0100: 01\n");
  outer.write("lab/gauge.key", "0100: 01\n");
  std::filesystem::create_symlink(outer.path() / "secret.key", folder / "link.key");
  std::filesystem::create_symlink(folder / "gauge.key", folder / "inside.key");
  std::filesystem::create_symlink(folder / "loop.key", folder / "loop.key");
  const auto fault = [&](const std::string& name, const LoadOptions& options = {}) {
    std::vector<Fault> faults;
    parse_machine(loaded(fmt::format("[\"{}\"]", name)), "lab.json", folder, field_station(), options, faults);
    return faults.empty() ? "" : fmt::format("{}: {}; {}", faults[0].id, faults[0].what, faults[0].found);
  };
  EXPECT_EQ(fault("gauge.key"), "");
  EXPECT_EQ(fault("./sub/../gauge.key"), "");
  EXPECT_EQ(fault("inside.key"), "");
  EXPECT_EQ(fault((folder / "gauge.key").string()), "");
  const std::string outside = "image-place: the file is outside the folder that may be read; ";
  EXPECT_EQ(fault("../secret.key"), outside + "\"../secret.key\"");
  EXPECT_EQ(fault("sub/../../secret.key"), outside + "\"sub/../../secret.key\"");
  EXPECT_EQ(fault("link.key"), outside + "\"link.key\"");
  EXPECT_EQ(fault("/etc/passwd"), outside + "\"/etc/passwd\"");
  EXPECT_EQ(fault("../lab2/x"), outside + "\"../lab2/x\"");
  LoadOptions wider;
  wider.root = outer.path();
  EXPECT_EQ(fault("../secret.key", wider), "");
  EXPECT_EQ(fault("link.key", wider), "");
  LoadOptions narrower;
  narrower.root = folder / "sub";
  EXPECT_EQ(fault("gauge.key", narrower), outside + "\"gauge.key\"");
  EXPECT_EQ(fault("sub"), "image-place: this is a folder; \"sub\"");
  EXPECT_EQ(fault(""), "image-place: this is a folder; \"\"");
  EXPECT_EQ(fault("x\\u0000y"), "image-place: no file can have this name; \"x\\u0000y\"");
  EXPECT_EQ(fault("missing.key"),
            "image-unreadable: the file cannot be read; \"missing.key\": No such file or directory");
  EXPECT_EQ(fault("loop.key").substr(0, 53), "image-place: the file cannot be looked for: Too many ");
  EXPECT_EQ(fault(std::string(300, 'x')).substr(0, 43), "image-place: the file cannot be looked for:");
  const std::filesystem::path pipe = folder / "pipe";
  ASSERT_EQ(mkfifo(pipe.c_str(), 0600), 0);
  EXPECT_EQ(fault("pipe"), "image-place: this is no file; \"pipe\"");
}

TEST(Programs, OfATextComeFromTheRoot) {
  LoadOptions options;
  EXPECT_EQ(data_faults(loaded(R"(["barrel.s19"])"), "", options),
            R"(lab.json:3:14: stop: no files can be read for this description (at /program/0) [image-place]
    expected: no "program"
    found:    "barrel.s19"
    hint:     a description that comes as text has no folder: name a root
)");
  options.root = images();
  EXPECT_EQ(data_faults(loaded(R"(["barrel.s19"])"), "", options), "");
}

TEST(Programs, FoldersMayBeRelative) {
  const std::filesystem::path here = std::filesystem::current_path();
  std::filesystem::current_path(images());
  EXPECT_EQ(data_faults(loaded(R"(["barrel.s19"])"), "."), "");
  EXPECT_EQ(data_faults(loaded(R"(["barrel.s19"])"), "../images/"), "");
  EXPECT_EQ(data_faults(loaded(R"(["none.s19"])"), "."),
            R"(lab.json:3:14: stop: the file cannot be read (at /program/0) [image-unreadable]
    found:    "none.s19": No such file or directory
    hint:     check the path and the permissions
)");
  std::filesystem::current_path(here);
}

// ---------------------------------------------------------------------------------------------------------------------
// Anything at all

// Descriptions with parts exchanged, doubled and lost, and plain noise: whatever comes, it is read to the end, and what
// is built from it is whole.
TEST(Parse, SurvivesAnything) {
  const std::vector<std::string> seeds = {
      machine(
          R"("bus": {"keeper": "last"}, "seed": 5, "chips": {"RAM": {"type": "mcm6810", "at": "$0000-$007F", "mirror": "$0000-$01FF",
        "power_up": "zeros"}, "N": {"type": "2114", "lines": "low", "at": "$0400-$07FF"}, "L": {"type": "latch", "at": "$9000"}})"),
      wired(
          R"([["PIA.PA0..PA7", "ADC.DB0..DB7"], ["PIA.CA1", "ADC.INTR"], ["IRQ", "PIA.IRQA", "CPU.IRQ", "R1.1"], ["R1.2", "+5V"],
        ["ADC.VIN+", "-3.3 V"], ["PIA.PB0..3", "GND"]], "display": {"LEVEL": ["R1"]})"),
      R"({"machine": "m", "cpu": {"type": "mc6802", "crystal": "4 MHz", "ram": true}, "program": ["x", {"file": "y", "format": "binary",
        "at": "$F000"}], "wires": [["CPU.MR", "CPU.RE", "+5V"], ["CPU.NMI", "X"]]})"};
  std::vector<std::string> words = {"\"", "{", "}",   "[",   "]",   ",",     ":", "..",      ".",
                                    "$",  "-", "+5V", "GND", "CPU", "\"1\"", "9", "\\u0000", "e99"};
  for (const std::string& seed : seeds) {
    for (std::size_t at = 0; (at = seed.find('"', at)) != std::string::npos;) {
      const std::size_t end = seed.find('"', at + 1);
      words.push_back(seed.substr(at, end - at + 1));
      words.push_back(seed.substr(at + 1, end - at - 1));
      at = end + 1;
    }
  }
  std::mt19937 random(6809);
  int sound = 0, faulty = 0;
  for (int round = 0; round < 12'000; ++round) {
    std::string text = seeds[random() % seeds.size()];
    for (auto changes = random() % 6; changes > 0 && !text.empty(); --changes) {
      const std::size_t at = random() % text.size();
      switch (random() % 5) {
        case 0: text[at] = static_cast<char>(random()); break;
        case 1: text.insert(at, words[random() % words.size()]); break;
        case 2: text.erase(at, 1 + random() % 6); break;
        case 3: {  // one string for another
          const std::size_t open = text.find('"', at);
          const std::size_t close = open == std::string::npos ? open : text.find('"', open + 1);
          if (close != std::string::npos) text.replace(open, close - open + 1, words[random() % words.size()]);
          break;
        }
        default: text.insert(at, text.substr(random() % text.size(), random() % 40)); break;
      }
    }
    const CheckedMachine checked = read_and_check(text, "lab.json", "", field_station(), {});
    (checked.data_faults ? faulty : sound) += 1;
    for (const Fault& fault : checked.faults) {
      ASSERT_FALSE(fault.id.empty() || fault.what.empty()) << text;
      ASSERT_EQ(fault.place.file, "lab.json") << text;
      ASSERT_GE(fault.place.line, 1) << text;
      ASSERT_GE(fault.place.column, 1) << text;
    }
    if (checked.data_faults) continue;
    ASSERT_NE(checked.spec.cpu, nullptr);
    for (const ChipSpec& chip : checked.spec.chips) ASSERT_NE(chip.type, nullptr);
    for (const WireSpec& wire : checked.spec.wires) {
      for (const PinRef pin : wire.pins) ASSERT_FALSE(checked.spec.pin_name(pin).empty());
    }
  }
  EXPECT_GT(sound, 500);
  EXPECT_GT(faulty, 5000);
}

}  // namespace
}  // namespace prewire::testing
