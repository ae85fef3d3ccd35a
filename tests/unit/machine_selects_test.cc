// Chips that wires put on the bus: the map is that of the gates, and mistakes do what they do on the bench.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <string>
#include <string_view>
#include <vector>

#include "machine_fixture.h"
#include "paths.h"
#include "prewire/disassembler.h"
#include "unit/machine_testing.h"

namespace prewire::testing {
namespace {

/// Everything that observers are told, but the names of findings.
class BusLog final : public Observer {
 public:
  unsigned wants() const override { return kCycles; }
  void on_cycle(const BusCycle& cycle) override { cycles.push_back(cycle); }
  std::vector<BusCycle> cycles;
};

LoadOptions faulty() {
  LoadOptions options;
  options.run_faulty = true;
  return options;
}

// A ROM from $E000 on, a RAM up to $1FFF and a PIA from $4000 on, by the address lines A13 to A15 and VMA; R/W and E go
// where they belong. `%` marks what a test changes.
constexpr std::string_view kBoard = R"({"machine": "board", "cpu": {"type": "mc6800", "clock": "1 MHz"},
  "chips": {"RAM": {"type": "mcm6810"}, "ROM": {"type": "2716"}, "PIA": {"type": "mc6821"}, "DEC": {"type": "74ls138"},
            "NAND": {"type": "74ls00"}%CHIPS%},
  "wires": [%DATA%, ["CPU.A0..A6", "RAM.A0..A6"], ["CPU.A0..A10", "ROM.A0..A10"], ["CPU.A0..A1", "%RS%"],
    ["CPU.R/W", "RAM.R/W", "PIA.R/W", "NAND.1A"], ["CPU.PHI2", "PIA.E", "NAND.1B"%E%], ["CPU.RESET", "PIA.RESET"],
    ["CPU.A13..A15", "DEC.A..C"], %VMA%, ["DEC.G2A", "DEC.G2B", "GND"],
    ["DEC.Y0", "RAM.CS1"], ["DEC.Y7", "ROM.CE/PGM"], ["NAND.1Y", "ROM.OE"], %PIA%,
    ["RAM.CS3", "PIA.CS0", "PIA.CS1", "+5V"], ["RAM.CS2", "RAM.CS4", "RAM.CS5", "GND"],
    ["NAND.2A..2B", "NAND.3A..3B", "NAND.4A..4B", "GND"],
    ["PIA.PA0..PA7", "GND"], ["PIA.CB1", "GND"], %CA1%%WIRES%]})";

struct Board {
  std::string data = R"(["CPU.D0..D7", "RAM.D0..D7", "PIA.D0..D7", "ROM.O0..O7"])";
  std::string rs = "PIA.RS0..RS1", e = R"(, "RAM.CS0")", vma = R"(["CPU.VMA", "DEC.G1"])",
              pia = R"(["DEC.Y2", "PIA.CS2"])", ca1 = R"(["PIA.CA1", "GND"])", chips, wires;

  std::string text() const {
    std::string board(kBoard);
    const auto put = [&](std::string_view mark, const std::string& by) {
      const std::size_t at = board.find(mark);
      board.replace(at, mark.size(), by);
    };
    put("%CHIPS%", chips), put("%DATA%", data), put("%RS%", rs), put("%E%", e), put("%VMA%", vma), put("%PIA%", pia);
    put("%CA1%", ca1);
    put("%WIRES%", wires);
    return board;
  }
  Machine machine() const { return Machine::from_text(text(), "board.json", bench_registry(), faulty()); }
  std::vector<std::string> ids() const {
    std::vector<std::string> list;
    for (const Fault& fault : check_machine(text(), "board.json", {}, bench_registry())) {
      if (fault.id != "no-reset-vector") list.push_back(fault.id);
    }
    return list;
  }
  std::string faults(std::string_view id) const {
    std::string all;
    for (const Fault& fault : check_machine(text(), "board.json", {}, bench_registry())) {
      if (fault.id == id) all += fault.what + "\n";
    }
    return all;
  }
};

/// Puts a program into the ROM, with its vector, and runs.
void start(Machine& machine, const std::vector<int>& code, Cycle cycles) {
  std::uint16_t at = 0xF800;
  for (const int byte : code) ASSERT_TRUE(machine.poke(at++, static_cast<std::uint8_t>(byte)));
  machine.poke(0xFFFE, 0xF8);
  machine.poke(0xFFFF, 0x00);
  machine.run_until(cycles);
}

std::string answering(const Machine& machine, std::uint16_t address) {
  std::string all;
  for (const std::string& name : machine.answering(address)) all += (all.empty() ? "" : " ") + name;
  return all;
}

bool found(Machine& machine, std::string_view id) {
  machine.conclude();
  const auto findings = machine.findings();
  return std::any_of(findings.begin(), findings.end(), [&](const Finding& finding) { return finding.id == id; });
}

TEST(Selects, OfTheDemoLabGiveTheSameCyclesAsAt) {
  const auto folder = source_folder() / "scenarios/rain_barrel";
  Machine placed = Machine::from_file(folder / "gauge.json", bench_registry());
  Machine wired = Machine::from_file(folder / "gauge-wired.json", bench_registry());
  for (std::uint32_t i = 0; i < 65536; ++i) {
    const auto address = static_cast<std::uint16_t>(i);
    ASSERT_EQ(answering(wired, address), answering(placed, address)) << i;
    ASSERT_EQ(wired.peek(address), placed.peek(address)) << i;
    ASSERT_TRUE(wired.use(address) == placed.use(address)) << i;
  }
  BusLog first, second;
  placed.watch(first);
  wired.watch(second);
  for (Machine* machine : {&placed, &wired}) {
    machine->schedule("FLOAT", "2.5 V", stamp_of(100'000));
    machine->run_until(400'000);
  }
  EXPECT_TRUE(first.cycles == second.cycles);
  EXPECT_EQ(first.cycles.size(), 400'000U);
  EXPECT_EQ(placed.findings().size(), wired.findings().size());
}

TEST(Selects, MakeMirrorsWhereLinesAreLeftOut) {
  Machine machine = Board().machine();
  EXPECT_EQ(answering(machine, 0x0000), "RAM");
  EXPECT_EQ(answering(machine, 0x1FFF), "RAM");
  EXPECT_EQ(answering(machine, 0x2000), "");
  EXPECT_EQ(answering(machine, 0x5ABC), "PIA");
  EXPECT_EQ(answering(machine, 0xE000), "ROM");
  // LDAA #$5A; STAA $0123; LDAB $0023; BRA *
  start(machine, {0x86, 0x5A, 0xB7, 0x01, 0x23, 0xF6, 0x00, 0x23, 0x20, 0xFE}, 100);
  EXPECT_EQ(machine.cpu().get(1), 0x5A);
  EXPECT_EQ(machine.peek(0x1FA3), 0x5A);
  EXPECT_TRUE(Board().ids().empty()) << Board().ids().front();
}

TEST(Selects, OfTheWrongPolarity) {
  Board board;
  board.pia = R"(["DEC.Y2", "INV.1A"], ["INV.1Y", "PIA.CS2"])";
  board.chips = R"(, "INV": {"type": "74ls04"})";
  Machine machine = board.machine();
  EXPECT_EQ(answering(machine, 0x4000), "");
  EXPECT_EQ(answering(machine, 0x0010), "RAM PIA");
  EXPECT_NE(board.faults("selected-too-often").find("PIA answers at all addresses but $4000-$5FFF"), std::string::npos)
      << board.faults("selected-too-often");
  EXPECT_NE(board.faults("decode-overlap").find("RAM and PIA both answer at $0000-$1FFF"), std::string::npos);
  // It drives against the ROM in each fetch, and the low bits of DDRA win.
  start(machine, {0x86, 0xFF, 0x20, 0xFE}, 100);
  EXPECT_EQ(machine.peek(0xF800), 0x00);
  EXPECT_TRUE(found(machine, "bus-contention"));
}

TEST(Selects, ThatAreTiedToTheWrongRail) {
  Board board;
  board.pia = R"(["PIA.CS2", "+5V"])";
  EXPECT_EQ(board.faults("never-selected"), "no address selects PIA\n");
  EXPECT_EQ(answering(board.machine(), 0x4000), "");
}

TEST(Selects, WithoutVmaLetDeadCyclesClearFlags) {
  // An edge at CA1 sets a flag. The third cycle of LDAA 1,X is dead and has X on the address lines (MC6800 data sheet,
  // Table 8): PRA here, and reading that clears the flag.
  const std::vector<int> code{0x86, 0x07, 0xB7, 0x40, 0x01,  // LDAA #7; STAA CRA: port, CA1 rising
                              0xCE, 0x40, 0x00,              // LDX #PRA
                              0x01, 0x01, 0x01, 0x01,        // here the edge comes
                              0xF6, 0x40, 0x01,              // LDAB CRA
                              0xA6, 0x01,                    // LDAA 1,X: CRA
                              0x20, 0xFE};
  const auto flag = [&](const Board& board) {
    Machine machine = board.machine();
    machine.schedule("STIM", "P0 high", stamp_of(31));
    start(machine, code, 200);
    EXPECT_EQ(machine.cpu().get(1) & 0x80, 0x80);
    return machine.cpu().get(0) & 0x80;
  };
  Board good;
  good.chips = R"(, "STIM": {"type": "stimulus", "low": 1})";
  good.ca1 = R"(["STIM.P0", "PIA.CA1"])";
  Board bad = good;
  bad.vma = R"(["DEC.G1", "+5V"])";
  EXPECT_TRUE(good.faults("select-without-vma").empty());
  EXPECT_NE(bad.faults("select-without-vma").find("PIA is selected without VMA: dead cycles reach it at $4000-$5FFF"),
            std::string::npos);
  EXPECT_EQ(flag(good), 0x80);
  EXPECT_EQ(flag(bad), 0x00);
}

TEST(Selects, WithExchangedRegisterSelects) {
  Board board;
  board.rs = "PIA.RS1..RS0";
  Machine machine = board.machine();
  // LDAA #4; STAA $4002: CRA now; LDAA #$04 stays; LDAB $4002.
  start(machine, {0x86, 0x04, 0xB7, 0x40, 0x02, 0xF6, 0x40, 0x02, 0x20, 0xFE}, 100);
  EXPECT_EQ(machine.cpu().get(1), 0x04);
  EXPECT_EQ(machine.peek(0x4001), 0x00);
  const std::vector<AddressName> names = address_names(machine);
  const auto cra =
      std::find_if(names.begin(), names.end(), [](const AddressName& name) { return name.name == "PIA.CRA"; });
  ASSERT_NE(cra, names.end());
  EXPECT_EQ(cra->address, 0x4002);
}

TEST(Selects, WithCrossedDataLines) {
  Board board;
  board.data = R"(["CPU.D0..D7", "RAM.D0..D7", "ROM.O0..O7"], ["CPU.D0..D7", "PIA.D7..D0"])";
  EXPECT_EQ(board.faults("data-lines-crossed"),
            "data lines of PIA are crossed: D0..D7 on D7, D6, D5, D4, D3, D2, D1, D0\n");
  Machine machine = board.machine();
  // LDAA #$20; STAA $4001: the PIA takes $04. LDAB $4001 reads $20 again.
  start(machine, {0x86, 0x20, 0xB7, 0x40, 0x01, 0xF6, 0x40, 0x01, 0x20, 0xFE}, 100);
  EXPECT_EQ(machine.cpu().get(1), 0x20);
}

TEST(Selects, WithAnOpenDataLine) {
  Board board;
  board.data = R"(["CPU.D0..D7", "RAM.D0..D7", "ROM.O0..O7"], ["CPU.D0..D6", "PIA.D0..D6"])";
  EXPECT_EQ(board.faults("open-data-line"), "D7 of PIA is on no data line of the processor\n");
  Machine machine = board.machine();
  start(machine, {0xB6, 0x40, 0x01, 0x20, 0xFE}, 100);
  EXPECT_TRUE(found(machine, "undriven-lines"));
  EXPECT_EQ(machine.lines_at(0x4001), 0x7F);
}

TEST(Selects, WhoseWritesLackE) {
  Board board;
  board.e = R"(], ["RAM.CS0", "+5V")";
  EXPECT_EQ(board.faults("write-without-e"), "writes to RAM are not qualified by E, at $0000-$1FFF\n");
}

TEST(Selects, WhoseStrobeComesTooEarly) {
  Board board;
  board.chips = R"(, "LATCH": {"type": "74ls374"}, "INV": {"type": "74ls04"})";
  board.wires = R"(, ["DEC.Y3", "INV.1A"], ["INV.1Y", "LATCH.CLK"], ["LATCH.OE", "GND"])";
  for (int bit = 0; bit < 8; ++bit) {
    const std::string wire = fmt::format("[\"CPU.D{}\", \"LATCH.{}D\"]", bit, bit + 1);
    board.wires += ", " + wire;
  }
  EXPECT_EQ(board.faults("strobe-too-early"),
            "LATCH takes its data at $6000-$7FFF before the processor has put them out\n");
}

TEST(Selects, OfTwoChipsAtOneAddress) {
  Board board;
  board.pia = R"(["DEC.Y0", "PIA.CS2"])";
  EXPECT_EQ(board.faults("decode-overlap"), "RAM and PIA both answer at $0000-$1FFF\n");
}

TEST(Selects, ThroughAFlipFlopAreRefused) {
  Board board;
  board.chips = R"(, "FF": {"type": "74ls374"})";
  board.pia = R"(["DEC.Y2", "FF.1D"], ["FF.1Q", "PIA.CS2"], ["CPU.PHI2", "FF.CLK"], ["FF.OE", "GND"])";
  const std::string said = to_string(check_machine(board.text(), "board.json", {}, bench_registry()).front());
  EXPECT_NE(said.find("PIA.CS2 cannot be traced to the processor's lines: FF keeps a state of its own"),
            std::string::npos)
      << said;
  EXPECT_NE(said.find("PIA.CS2 from FF.1Q"), std::string::npos) << said;
}

TEST(Selects, ThatFeedThemselvesAreRefused) {
  Board board;
  board.chips = R"(, "SR": {"type": "74ls00"})";
  board.pia = R"(["DEC.Y2", "SR.1A"], ["SR.1Y", "SR.2A", "PIA.CS2"], ["SR.2Y", "SR.1B"], ["DEC.Y3", "SR.2B"])";
  EXPECT_NE(board.faults("select-no-logic").find("these gates feed themselves"), std::string::npos);
}

// Two banks of RAM at $2000, chosen by a bit of the PIA.
Board banked() {
  Board board;
  board.chips =
      R"(, "B0": {"type": "6116"}, "B1": {"type": "6116"}, "OR": {"type": "74ls32"}, "INV": {"type": "74ls04"})";
  board.wires = R"(, ["CPU.A0..A10", "B0.A0..A10", "B1.A0..A10"], ["CPU.D0..D7", "B0.D0..D7", "B1.D0..D7"],
    ["NAND.1Y", "B0.OE", "B1.OE"], ["CPU.R/W", "INV.2A"], ["INV.2Y", "NAND2.1A"], ["CPU.PHI2", "NAND2.1B"],
    ["NAND2.1Y", "B0.WE", "B1.WE"],
    ["DEC.Y1", "OR.1A", "OR.2A"], ["PIA.PB0", "OR.1B", "INV.1A"], ["INV.1Y", "OR.2B"],
    ["OR.1Y", "B0.CS"], ["OR.2Y", "B1.CS"])";
  board.chips += R"(, "NAND2": {"type": "74ls00"})";
  return board;
}

// PB0 is an output; 11 into bank 0 and 22 into bank 1 at $2010, and back: LDAB $2010; NOP…
const std::vector<int> kBanks{0x86, 0x01, 0xB7, 0x40, 0x02, 0x86, 0x04, 0xB7, 0x40, 0x03,  // DDRB, CRB
                              0x4F, 0xB7, 0x40, 0x02, 0x86, 0x11, 0xB7, 0x20, 0x10,        // bank 0
                              0x86, 0x01, 0xB7, 0x40, 0x02, 0x86, 0x22, 0xB7, 0x20, 0x10,  // bank 1
                              0x7F, 0x40, 0x02, 0xF6, 0x20, 0x10,                          // B = $11
                              0x7C, 0x40, 0x02, 0xB6, 0x20, 0x10,                          // A = $22
                              0x20, 0xE4};

TEST(Selects, FollowAPort) {
  Machine machine = banked().machine();
  start(machine, kBanks, 120);
  EXPECT_EQ(machine.cpu().get(1), 0x11);
  EXPECT_EQ(machine.cpu().get(0), 0x22);
  EXPECT_FALSE(found(machine, "bus-contention"));
}

TEST(Selects, ThatFollowAPortGoOnFromASnapshotOfAnyCycle) {
  Machine whole = banked().machine();
  BusLog log;
  start(whole, kBanks, 0);
  whole.watch(log);
  whole.run_until(300);
  Machine first = banked().machine();
  start(first, kBanks, 0);
  const auto copy = [&] {
    Machine machine = banked().machine();
    start(machine, kBanks, 0);
    return machine;
  };
  Machine second = copy();
  for (Cycle cycle = 1; cycle < 300; ++cycle) {
    first.run_until(cycle);
    const Snapshot state = first.save();
    second.restore(Snapshot::from_bytes(state.to_bytes()));
    ASSERT_TRUE(second.save() == state) << cycle;
    BusLog rest;
    second.watch(rest);
    second.run_until(std::min<Cycle>(cycle + 40, 300));
    second.unwatch(rest);
    ASSERT_TRUE(std::equal(rest.cycles.begin(), rest.cycles.end(), log.cycles.begin() + cycle)) << cycle;
  }
}

}  // namespace
}  // namespace prewire::testing
