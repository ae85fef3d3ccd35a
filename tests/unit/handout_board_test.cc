// The board of a handout: packages, nets, wires and selects. Package pins: MC6800, MC6821 and ROM data sheets (from
// memory), NTE6810 data sheet.
#include <gtest/gtest.h>

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>
#include <string>
#include <vector>

#include "handout/board.h"
#include "handout/bus.h"
#include "handout/package.h"
#include "paths.h"
#include "prewire/chips.h"
#include "prewire/machine.h"

namespace prewire::testing {
namespace {

using handout::Board;
using handout::End;
using handout::make_board;
using handout::Net;
using handout::Part;
using handout::Terminal;

Machine lab(const std::string& name) {
  return Machine::from_file(source_folder() / "scenarios" / "rain_barrel" / name, standard_chips());
}

std::vector<Machine> machines() {
  std::vector<Machine> all;
  for (const char* name : {"gauge.json", "gauge-6809.json"}) all.push_back(lab(name));
  for (const char* name : {"tank.json", "beacon.json", "mast.json", "mast-6809.json", "greenhouse.json"}) {
    all.push_back(Machine::from_file(source_folder() / "tests" / "cli" / "data" / name, standard_chips()));
  }
  return all;
}

Machine machine_of(const std::string& cpu, const std::string& chips, const std::string& wires) {
  return Machine::from_text(
      fmt::format(R"({{"machine": "m", "cpu": {}, "chips": {{{}}}, "wires": [{}]}})", cpu, chips, wires), "m.json",
      standard_chips());
}

std::vector<const ChipType*> types(const Registry& registry) {
  std::vector<const ChipType*> all;
  for (const auto& type : registry.types()) all.push_back(type.get());
  for (const ChipType& type : processor_types()) all.push_back(&type);
  return all;
}

const handout::Select& select_of(const Board& board, const std::string& name) {
  for (const handout::Select& select : board.selects) {
    if (board.parts[static_cast<std::size_t>(select.part)].name == name) return select;
  }
  ADD_FAILURE() << name;
  return board.selects.front();
}

/// The ends of all wires of a net, as they are printed.
std::set<std::string> ends_at(const Board& board, const std::string& part, const std::string& pin) {
  std::set<std::string> ends;
  for (std::size_t i = 0; i < board.parts.size(); ++i) {
    if (board.parts[i].name != part && board.parts[i].ref != part) continue;
    const Net* net = board.net_at({static_cast<int>(i), board.parts[i].pin(pin)});
    if (net == nullptr) return ends;
    for (const End end : net->ends) ends.insert(to_string(board, end));
  }
  return ends;
}

// Packages ------------------------------------------------------------------------------------------------------------

TEST(HandoutPackage, HasEveryNumberOnce) {
  const Registry registry = standard_chips();
  for (const ChipType* type : types(registry)) {
    const std::vector<Terminal> pins = handout::package_of(*type);
    if (pins.empty() || pins.back().number == 0) continue;
    for (std::size_t i = 0; i < pins.size(); ++i) {
      EXPECT_EQ(pins[i].number, static_cast<int>(i + 1)) << type->name << " " << pins[i].name;
    }
    // Resistors may be in one line.
    EXPECT_TRUE(pins.size() % 2 == 0 || !type->units.empty()) << type->name;
  }
}

TEST(HandoutPackage, KeepsTheNamesOfPartsWithoutOne) {
  const Registry registry = standard_chips();
  const std::vector<Terminal> pins = handout::package_of(*registry.find("potentiometer"));
  ASSERT_EQ(pins.size(), 3U);
  EXPECT_EQ(pins[1].name, "wiper");
  EXPECT_EQ(pins[1].number, 0);
}

struct PinRow {
  const char* type;
  const char* source;
  const char* names;  ///< from pin 1 on
};

class HandoutPins : public ::testing::TestWithParam<PinRow> {};

TEST_P(HandoutPins, AreThoseOfTheDataSheet) {
  const Registry registry = standard_chips();
  for (const ChipType* type : types(registry)) {
    if (type->name != GetParam().type) continue;
    std::string names;
    for (const Terminal& pin : handout::package_of(*type)) names += (names.empty() ? "" : " ") + pin.name;
    EXPECT_EQ(names, GetParam().names) << GetParam().source;
    return;
  }
  FAIL() << "no such type";
}

constexpr const char* kTtlRow = "TI, The TTL Data Book, pin assignments (from memory)";
const PinRow kPins[] = {
    {"mc6800", "MC6800 data sheet, pin assignment (from memory)",
     "VSS HALT PHI1 IRQ VMA NMI BA VCC A0 A1 A2 A3 A4 A5 A6 A7 A8 A9 A10 A11 VSS A12 A13 A14 A15 D7 D6 D5 D4 D3 D2 D1 "
     "D0 "
     "R/W NC DBE PHI2 NC TSC RESET"},
    {"mc6802", "MC6802 data sheet, pin assignment (from memory)",
     "VSS HALT MR IRQ VMA NMI BA VCC A0 A1 A2 A3 A4 A5 A6 A7 A8 A9 A10 A11 VSS A12 A13 A14 A15 D7 D6 D5 D4 D3 D2 D1 D0 "
     "R/W VCC STANDBY RE E XTAL EXTAL RESET"},
    {"mc6809", "MC6809 data sheet, pin assignment (from memory)",
     "VSS NMI IRQ FIRQ BS BA VCC A0 A1 A2 A3 A4 A5 A6 A7 A8 A9 A10 A11 A12 A13 A14 A15 D7 D6 D5 D4 D3 D2 D1 D0 R/W "
     "DMA/BREQ E Q MRDY RESET EXTAL XTAL HALT"},
    {"mc6809e", "MC6809E data sheet, pin assignment (from memory)",
     "VSS NMI IRQ FIRQ BS BA VCC A0 A1 A2 A3 A4 A5 A6 A7 A8 A9 A10 A11 A12 A13 A14 A15 D7 D6 D5 D4 D3 D2 D1 D0 R/W "
     "BUSY E Q AVMA RESET LIC TSC HALT"},
    {"mc6821", "MC6821 data sheet, as NTE6821, pin connections",
     "VSS PA0 PA1 PA2 PA3 PA4 PA5 PA6 PA7 PB0 PB1 PB2 PB3 PB4 PB5 PB6 PB7 CB1 CB2 VCC R/W CS0 CS2 CS1 E D7 D6 D5 D4 D3 "
     "D2 "
     "D1 D0 RESET RS1 RS0 IRQB IRQA CA2 CA1"},
    {"adc0804", "TI ADC0802-N data sheet, pin functions",
     "CS RD WR CLK_IN INTR VIN+ VIN- AGND VREF/2 DGND DB7 DB6 DB5 DB4 DB3 DB2 DB1 DB0 CLK_R VCC"},
    {"mcm6810", "NTE6810 data sheet, pin connections",
     "GND D0 D1 D2 D3 D4 D5 D6 D7 CS0 CS1 CS2 CS3 CS4 CS5 R/W A6 A5 A4 A3 A2 A1 A0 VCC"},
    {"6116", "Hitachi HM6116 data sheet (from memory)",
     "A7 A6 A5 A4 A3 A2 A1 A0 D0 D1 D2 GND D3 D4 D5 D6 D7 CS A10 OE WE A9 A8 VCC"},
    {"2114", "NTE2114 data sheet", "A6 A5 A4 A3 A0 A1 A2 CS GND WE I/O4 I/O3 I/O2 I/O1 A9 A8 A7 VCC"},
    {"2716", "Intel 2716 data sheet (from memory)",
     "A7 A6 A5 A4 A3 A2 A1 A0 O0 O1 O2 GND O3 O4 O5 O6 O7 CE/PGM A10 OE VPP A9 A8 VCC"},
    {"27256", "ST M27C256B data sheet, pin connections (from memory)",
     "VPP A12 A7 A6 A5 A4 A3 A2 A1 A0 O0 O1 O2 GND O3 O4 O5 O6 O7 CE A10 OE A11 A9 A8 A13 A14 VCC"},
    {"dm9368", "Fairchild DM9368 data sheet", "A1 A2 LE RBO RBI A3 A0 GND e d c b a g f VCC"},
    {"74ls47", "Fairchild DM74LS47 data sheet", "B C LT BI/RBO RBI D A GND e d c b a g f VCC"},
    {"74ls244", kTtlRow, "1G 1A1 2Y4 1A2 2Y3 1A3 2Y2 1A4 2Y1 GND 2A1 1Y4 2A2 1Y3 2A3 1Y2 2A4 1Y1 2G VCC"},
    {"74ls374", kTtlRow, "OE 1Q 1D 2D 2Q 3Q 3D 4D 4Q GND CLK 5Q 5D 6D 6Q 7Q 7D 8D 8Q VCC"},
};
INSTANTIATE_TEST_SUITE_P(Sheets, HandoutPins, ::testing::ValuesIn(kPins),
                         [](const auto& row) { return std::string("Type") + row.param.type; });

// Nets and wires ------------------------------------------------------------------------------------------------------

TEST(HandoutBoard, HasEveryNetOfTheMachine) {
  for (const Machine& machine : machines()) {
    const Board board = make_board(machine);
    const bool clocked = machine.processor().type->name == "mc6800";
    std::map<std::pair<int, int>, const Net*> at;
    for (const Net& net : board.nets) {
      for (const End end : net.ends) at[{board.part(end).chip, board.terminal(end).model}] = &net;
    }
    for (const NetView& net : machine.nets()) {
      const Net* found = nullptr;
      for (const NetView::Pin& pin : net.pins) {
        const ChipView chip = pin.chip < 0 ? machine.processor() : machine.chips()[static_cast<std::size_t>(pin.chip)];
        if (clocked && pin.chip < 0 && chip.type->pins[static_cast<std::size_t>(pin.pin)].name == "PHI2") continue;
        const auto here = at.find({pin.chip, pin.pin});
        ASSERT_NE(here, at.end()) << machine.title() << " " << net.name;
        if (found == nullptr) found = here->second;
        EXPECT_EQ(found, here->second) << machine.title() << " " << net.name;
      }
      if (net.rail && found != nullptr) {
        EXPECT_TRUE(found->rail) << net.name;
      }
    }
  }
}

TEST(HandoutBoard, HasEachPinOnce) {
  for (const Machine& machine : machines()) {
    const Board board = make_board(machine);
    std::map<End, int> times;
    for (const Net& net : board.nets) {
      EXPECT_GT(net.ends.size(), 1U) << net.name;
      for (const End end : net.ends) ++times[end];
    }
    for (const handout::OpenPin& open : board.open) {
      ++times[open.end];
      EXPECT_FALSE(open.why.empty());
    }
    for (std::size_t part = 0; part < board.parts.size(); ++part) {
      if (board.parts[part].kind == Part::Kind::rail) continue;
      for (std::size_t pin = 0; pin < board.parts[part].pins.size(); ++pin) {
        const End end{static_cast<int>(part), static_cast<int>(pin)};
        EXPECT_EQ(times[end], 1) << machine.title() << " " << to_string(board, end);
      }
    }
  }
}

TEST(HandoutBoard, HasAWireLessThanPinsForEachNet) {
  for (const Machine& machine : machines()) {
    const Board board = make_board(machine);
    std::map<int, std::set<End>> reached;
    std::map<int, std::size_t> count;
    for (const handout::Step& step : board.steps) {
      EXPECT_FALSE(step.title.empty());
      for (const handout::Wire& wire : step.wires) {
        ++count[wire.net];
        reached[wire.net].insert({wire.from, wire.to});
      }
    }
    for (std::size_t i = 0; i < board.nets.size(); ++i) {
      const Net& net = board.nets[i];
      EXPECT_EQ(count[static_cast<int>(i)], net.ends.size() - 1) << net.name;
      EXPECT_EQ(reached[static_cast<int>(i)], std::set<End>(net.ends.begin(), net.ends.end())) << net.name;
    }
  }
}

TEST(HandoutBoard, NumbersPartsAndKeepsDesignators) {
  const Board board = make_board(lab("gauge.json"));
  std::set<std::string> refs;
  std::map<std::string, std::string> ref_of;
  for (const Part& part : board.parts) {
    EXPECT_TRUE(refs.insert(part.ref).second) << part.ref;
    ref_of[part.name] = part.ref;
  }
  // Letters of designators: IEEE Std 315-1975, clause 22 (R, C, U, Y, DS; from memory); RV and LED are common practice.
  EXPECT_EQ(ref_of["CPU"], "U1");
  EXPECT_EQ(ref_of["RAM"], "U2");
  EXPECT_EQ(ref_of["R2"], "R2");
  EXPECT_EQ(ref_of["FLOAT"], "RV1");
  EXPECT_EQ(ref_of["FULL"], "LED1");
}

TEST(HandoutBoard, JoinsTheBusByPackagePins) {
  const Board board = make_board(lab("gauge.json"));
  EXPECT_EQ(ends_at(board, "CPU", "D0"), (std::set<std::string>{"U1 pin 33 (CPU D0)", "U2 pin 2 (RAM D0)",
                                                                "U3 pin 33 (PIA D0)", "U4 pin 9 (ROM O0)"}));
  EXPECT_EQ(ends_at(board, "PIA", "RS1"), (std::set<std::string>{"U1 pin 10 (CPU A1)", "U2 pin 22 (RAM A1)",
                                                                 "U3 pin 35 (PIA RS1)", "U4 pin 7 (ROM A1)"}));
  // The MCM6810 has no output enable: E is one of its selects (NTE6810 data sheet).
  EXPECT_TRUE(ends_at(board, "RAM", "CS0").contains("CLK E"));
  EXPECT_EQ(ends_at(board, "RAM", "CS1"), (std::set<std::string>{"DEC output SEL RAM", "U2 pin 11 (RAM CS1)"}));
  EXPECT_TRUE(ends_at(board, "PIA", "CS0").contains("+5V rail"));
  EXPECT_TRUE(ends_at(board, "CPU", "DBE").contains("CLK E"));
  EXPECT_TRUE(ends_at(board, "CPU", "TSC").contains("GND rail"));
}

TEST(HandoutBoard, AddsTheCrystalOfAnOscillatorOnTheChip) {
  const Board board = make_board(lab("gauge-6809.json"));
  EXPECT_TRUE(ends_at(board, "CPU", "XTAL").contains("Y1 end 2"));
  EXPECT_TRUE(ends_at(board, "PIA", "E").contains("U1 pin 34 (CPU E)"));
  const auto crystal =
      std::find_if(board.parts.begin(), board.parts.end(), [](const Part& p) { return p.ref == "Y1"; });
  ASSERT_NE(crystal, board.parts.end());
  EXPECT_EQ(crystal->value, "4 MHz");
}

TEST(HandoutBoard, AddsClockAndReferenceOfTheConverter) {
  const Board board = make_board(lab("gauge.json"));
  EXPECT_EQ(ends_at(board, "ADC", "CLK_IN").size(), 3U);  // chip, resistor, capacitor
  EXPECT_EQ(ends_at(board, "ADC", "VREF/2").size(), 2U);
}

// Whatever number of parts there was before: each one that is added may move all others in memory.
TEST(HandoutBoard, NamesTheChipThatAddedPartsBelongTo) {
  std::string chips = R"("ADC": {"type": "adc0804", "clock_r": "10 kOhm", "clock_c": "150 pF"})";
  for (int count = 1; count <= 40; ++count) {
    chips += fmt::format(R"(, "LOAD{}": {{"type": "resistor", "ohms": "1 kOhm"}})", count);
    const Board board = make_board(machine_of(R"({"type": "mc6800", "clock": "1 MHz"})", chips, ""));
    std::vector<std::string> added;
    for (const Part& part : board.parts) {
      if (part.what.find("clock of ") != std::string::npos) added.push_back(part.what);
    }
    EXPECT_EQ(added, (std::vector<std::string>{"resistor, clock of U2", "capacitor, clock of U2"})) << count;
  }
}

// Selects -------------------------------------------------------------------------------------------------------------

TEST(HandoutSelect, SaysAddressLinesAndVma) {
  const Board board = make_board(lab("gauge.json"));
  EXPECT_EQ(condition(select_of(board, "PIA")), "A15 A14 A13 = 0 1 0 and VMA = 1");
  EXPECT_EQ(condition(select_of(board, "RAM")), "A15 A14 A13 A12 A11 A10 A9 A8 A7 = 0 0 0 0 0 0 0 0 0 and VMA = 1");
  EXPECT_EQ(condition(select_of(board, "ROM")), "A15 A14 A13 A12 A11 = 1 1 1 1 1 and VMA = 1");
  const Board other = make_board(lab("gauge-6809.json"));  // no VMA
  EXPECT_EQ(condition(select_of(other, "PIA")), "A15 A14 A13 = 0 1 0");
}

TEST(HandoutSelect, CoversWhatTheMachineAnswersTo) {
  for (const Machine& machine : machines()) {
    const Board board = make_board(machine);
    for (std::uint32_t address = 0; address <= 0xFFFF; address += 7) {
      const auto here = static_cast<std::uint16_t>(address);
      std::set<std::string> selected;
      for (const handout::Select& select : board.selects) {
        if (select.covers(here)) selected.insert(board.parts[static_cast<std::size_t>(select.part)].name);
      }
      std::set<std::string> answering;
      for (const std::string& name : machine.answering(here)) {
        if (!name.starts_with("CPU")) answering.insert(name);
      }
      ASSERT_EQ(selected, answering) << machine.title() << fmt::format(" ${:04X}", address);
    }
  }
}

TEST(HandoutSelect, AreDisjoint) {
  for (const Machine& machine : machines()) {
    EXPECT_TRUE(clashes(make_board(machine).selects).empty()) << machine.title();
  }
}

TEST(HandoutSelect, ClashIfTwoChipsAreWrittenAtOnce) {
  const std::string wires = R"(["L1.OE", "L2.OE", "GND"])";
  const Board same = make_board(machine_of(R"({"type": "mc6800", "clock": "1 MHz"})",
                                           R"("L1": {"type": "74ls374", "at": "$8000"},
                                              "L2": {"type": "74ls374", "at": "$8000"})",
                                           wires));
  EXPECT_EQ(clashes(same.selects).size(), 1U);
  const Board apart = make_board(machine_of(R"({"type": "mc6800", "clock": "1 MHz"})",
                                            R"("L1": {"type": "74ls374", "at": "$8000"},
                                               "L2": {"type": "74ls373", "at": "$8001"})",
                                            wires));
  EXPECT_TRUE(clashes(apart.selects).empty());
  EXPECT_FALSE(select_of(apart, "L1").high);  // CLK rises as the write ends
  EXPECT_TRUE(select_of(apart, "L2").high);   // LE high: transparent
  EXPECT_NE(condition(select_of(apart, "L1")).find("R/W = 0 and E = 1"), std::string::npos);
}

TEST(HandoutSelect, PairsOfHalvesAndPortsInTheSamePlaceDoNotClash) {
  const Board board = make_board(machine_of(R"({"type": "mc6800", "clock": "1 MHz"})",
                                            R"("LOW": {"type": "2114", "at": "$0000-$03FF"},
                                               "HIGH": {"type": "2114", "at": "$0000-$03FF", "data": "D4-D7"},
                                               "IN": {"type": "74ls244", "at": "$8000"},
                                               "OUT": {"type": "74ls373", "at": "$8000"})",
                                            R"(["OUT.OE", "GND"])"));
  EXPECT_TRUE(clashes(board.selects).empty());
  EXPECT_TRUE(ends_at(board, "HIGH", "I/O1").contains("U1 pin 29 (CPU D4)"));
  EXPECT_TRUE(ends_at(board, "IN", "2Y4").contains("U1 pin 26 (CPU D7)"));
}

TEST(HandoutSelect, SplitsARangeIntoAlignedBlocks) {
  using handout::AddressBlock;
  EXPECT_EQ(handout::blocks_of(0x4000, 0x5FFF), (std::vector<AddressBlock>{{0xE000, 0x4000}}));
  EXPECT_EQ(handout::blocks_of(0x0000, 0xFFFF), (std::vector<AddressBlock>{{0x0000, 0x0000}}));
  EXPECT_EQ(handout::blocks_of(0x0001, 0x0004),
            (std::vector<AddressBlock>{{0xFFFF, 0x0001}, {0xFFFE, 0x0002}, {0xFFFF, 0x0004}}));
  EXPECT_EQ(handout::blocks_of(0xFFFF, 0xFFFF), (std::vector<AddressBlock>{{0xFFFF, 0xFFFF}}));
}

TEST(HandoutBus, KnowsEveryBusPinOfTheStandardChips) {
  const Registry registry = standard_chips();
  for (const auto& type : registry.types()) {
    if (!type->bus) continue;
    for (const PinSpec& pin : type->pins) {
      if (pin.implied != Implied::bus) continue;
      EXPECT_NE(handout::bus_pin(*type, *type->bus, pin.name).role, handout::Role::unknown)
          << type->name << " " << pin.name;
    }
  }
}

// Reminders -----------------------------------------------------------------------------------------------------------

TEST(HandoutNotes, FindPullUpsAndMissingOnes) {
  const auto text = [](const Board& board) {
    std::string all;
    for (const handout::Notes& notes : board.notes) {
      for (const std::string& line : notes.lines) all += line + "\n";
    }
    return all;
  };
  EXPECT_NE(text(make_board(lab("gauge.json"))).find("pulled up by R1, 4.7 kOhm"), std::string::npos);
  const std::string bare = text(make_board(machine_of(R"({"type": "mc6800", "clock": "1 MHz"})",
                                                      R"("PIA": {"type": "mc6821", "at": "$4000-$4003"},
                                                         "LAMP": {"type": "led"})",
                                                      R"(["PIA.IRQA", "CPU.IRQ"], ["LAMP.A", "+5V"],
                                                         ["LAMP.K", "PIA.PB0"])")));
  EXPECT_NE(bare.find("no resistor to +5V"), std::string::npos);
  EXPECT_NE(bare.find("Put one in series: 910 Ohm or more at a port"), std::string::npos);
  EXPECT_NE(bare.find("Supply off before you wire"), std::string::npos);
}

}  // namespace
}  // namespace prewire::testing
