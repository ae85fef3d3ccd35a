// Chips beside a processor whose E is stretched: those whose clock E is follow it, all others go on in their own time.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <optional>
#include <string>
#include <vector>

#include "machine_fixture.h"
#include "prewire/history.h"

namespace prewire::testing {
namespace {

constexpr std::uint16_t kStart = 0x0100;

/// An MC6809 with a PIA at $4000 and slow memory that the test plays: MRDY is P0 of S.
Machine slow_machine(std::string_view chips = "", std::string_view wires = "") {
  LoadOptions options;
  options.run_faulty = true;
  Machine machine =
      Machine::from_text(fmt::format(R"({{"machine": "greenhouse", "cpu": {{"type": "mc6809", "crystal": "4 MHz"}},
  "chips": {{"RAM": {{"type": "6116", "at": "$0000-$07FF"}}, "ROM": {{"type": "2716", "at": "$F800-$FFFF"}},
    "PIA": {{"type": "mc6821", "at": "$4000-$4003"}}, "S": {{"type": "stimulus", "high": 1}}{}}},
  "wires": [["S.P0", "CPU.MRDY"], ["PIA.CA2", "S.P7"], ["CPU.NMI", "CPU.IRQ", "CPU.FIRQ", "CPU.HALT", "CPU.DMA/BREQ", "+5V"]{}]}})",
                                     chips, wires),
                         "greenhouse.json", bench_registry(), options);
  machine.poke(0xFFFE, kStart >> 8);
  machine.poke(0xFFFF, kStart & 0xFF);
  return machine;
}

void program(Machine& machine, std::vector<std::uint8_t> code) {
  std::uint16_t at = kStart;
  for (const std::uint8_t byte : code) machine.poke(at++, byte);
  while (machine.cpu().pc() != kStart || machine.cpu().state() != CpuState::running) machine.step_instruction();
}

/// Falls of E and changes of a net or events of a chip.
struct Seen final : Observer {
  explicit Seen(Machine& of, std::string what) : machine(of), name(std::move(what)) { machine.watch(*this); }
  ~Seen() override { machine.unwatch(*this); }
  Seen(const Seen&) = delete;
  Seen& operator=(const Seen&) = delete;
  unsigned wants() const override { return kCycles | kNets | kEvents; }
  void on_cycle(const BusCycle& cycle) override { cycles.push_back(cycle); }
  void on_net(std::string_view net, const NetState&, Stamp when) override {
    if (net == name) changes.push_back(when);
  }
  void on_event(std::string_view, std::string_view event, std::int64_t, Stamp when) override {
    if (event == name) changes.push_back(when);
  }
  Machine& machine;
  const std::string name;
  std::vector<BusCycle> cycles;
  std::vector<Stamp> changes;
};

// MC6821 data sheet, CA2 control, E restore (from memory): CA2 falls at the fall of E with which port A is read, and
// rises at that of the next cycle in which the chip is not selected.
TEST(StretchedE, APulseOfThePiaEndsWithTheStretchedCycle) {
  // LDA #$2C, STA CRA, LDA PRA, NOP...
  const std::vector<std::uint8_t> code{0x86, 0x2C, 0xB7, 0x40, 0x01, 0xB6, 0x40, 0x00, 0x12, 0x12, 0x12, 0x12};
  for (Stamp high = 2; high < 14; ++high) {
    SCOPED_TRACE(high);
    Machine machine = slow_machine();
    program(machine, code);
    machine.step_instruction();
    machine.step_instruction();
    Seen seen(machine, "PIA.CA2");
    const Stamp next = machine.moment() + 5 * 4;  // LDA extended takes five cycles
    machine.schedule("S", "P0 low", next + 1);
    machine.schedule("S", "P0 high", next + high);
    machine.run_for(12);
    EXPECT_EQ(seen.cycles[5].begin(), next);
    EXPECT_EQ(seen.cycles[5].fall(), next + 4 + high - 2);
    EXPECT_EQ(seen.changes, (std::vector<Stamp>{next, seen.cycles[5].fall()}));
  }
}

// The stretched access itself: everything happens at its late fall of E.
TEST(StretchedE, AnAccessTakesPlaceAtTheLateFall) {
  for (Stamp high = 2; high < 14; ++high) {
    SCOPED_TRACE(high);
    Machine machine = slow_machine();
    program(machine, {0x86, 0x2C, 0xB7, 0x40, 0x01, 0xB6, 0x40, 0x00, 0x12, 0x12, 0x12, 0x12});
    machine.step_instruction();
    machine.step_instruction();
    prewire::History history(machine, 1 << 20);
    Seen seen(machine, "PIA.CA2");
    const Stamp begin = machine.moment() + 4 * 4;
    machine.schedule("S", "P0 low", begin + 1);
    machine.schedule("S", "P0 high", begin + high);
    machine.run_for(12);
    const Stamp fall = begin + 4 + high - 2;
    EXPECT_EQ(seen.cycles[4].fall(), fall);
    EXPECT_EQ(seen.changes, (std::vector<Stamp>{fall, fall + 4}));
    // Looking back finds the same moments, and what made them.
    const auto read = history.last({Wanted::Kind::read, 0x4000, 0x4000});
    ASSERT_TRUE(read);
    EXPECT_EQ(read->when, fall);
    EXPECT_EQ(read->cycle, seen.cycles[4].cycle);
    Wanted wanted;
    wanted.kind = Wanted::Kind::net;
    wanted.net = "PIA.CA2";
    const auto rise = history.last(wanted);
    ASSERT_TRUE(rise);
    EXPECT_EQ(rise->when, fall + 4);
    ASSERT_EQ(rise->steps.size(), 1U);
    EXPECT_EQ(rise->steps[0].why, NetStep::Why::time);
    EXPECT_EQ(rise->steps[0].after.level, Level::high);
  }
}

// What a person does between two runs comes at the moment at which the machine stands, and is found there again.
TEST(StretchedE, AHandIsFoundWhereItWas) {
  Machine machine = slow_machine("", R"(, ["PIA.CA1", "S.P1"])");
  program(machine, {0x20, 0xFE});
  prewire::History history(machine, 1 << 20);
  const Stamp begin = machine.moment();
  machine.schedule("S", "P0 low", begin + 1);
  machine.schedule("S", "P0 high", begin + 3);
  machine.run_for(5);
  EXPECT_EQ(machine.moment() % 4, 1);
  const Stamp when = machine.moment();
  const Cycle cycle = machine.now();
  machine.set("S", "P1 high");
  const Snapshot then = machine.save();
  machine.run_for(10);
  Wanted wanted;
  wanted.kind = Wanted::Kind::net;
  wanted.net = "PIA.CA1";
  const auto found = history.last(wanted);
  ASSERT_TRUE(found);
  EXPECT_EQ(found->when, when);
  EXPECT_TRUE(found->by_hand);
  ASSERT_EQ(found->steps.size(), 1U);
  EXPECT_EQ(found->steps[0].chip, "S");
  EXPECT_EQ(found->steps[0].why, NetStep::Why::input);
  EXPECT_TRUE(history.go_to(cycle));
  EXPECT_TRUE(machine.save() == then);
}

// MC6821 data sheet, peripheral timing (from memory): between the inactive and the active edge of CA1 an E pulse is
// needed. A stretched pulse is one pulse.
TEST(StretchedE, ACapturedEdgeNeedsAWholePulse) {
  for (const bool stretched : {false, true}) {
    Machine machine = slow_machine("", R"(, ["PIA.CA1", "S.P1"])");
    // LDA #$07, STA CRA (CA1 rises), TST PRA, NOP...
    program(machine, {0x86, 0x07, 0xB7, 0x40, 0x01, 0x12, 0x12, 0x12, 0x12, 0x12, 0x12, 0x12, 0x12, 0x12, 0x12});
    machine.set("S", "P1 high");
    machine.step_instruction();
    machine.step_instruction();
    machine.step_instruction();
    Seen seen(machine, "flag");
    const Stamp begin = machine.moment();
    if (stretched) {
      machine.schedule("S", "P0 low", begin + 1);
      machine.schedule("S", "P0 high", begin + 12);
    }
    // Low for six quarters, from before E rises to long after it would have fallen.
    machine.schedule("S", "P1 low", begin + 1);
    machine.schedule("S", "P1 high", begin + 7);
    machine.run_for(8);
    EXPECT_EQ(seen.changes, stretched ? std::vector<Stamp>{} : std::vector<Stamp>{begin + 7});
  }
}

constexpr std::string_view kConverter = R"(, "ADC": {{"type": "adc0804", {} "start_clocks": 1}},
  "VP": {{"type": "voltage_source", "volts": "2.5 V"}}, "R": {{"type": "resistor", "ohms": "10 kOhm"}})";
constexpr std::string_view kAround = R"(, ["ADC.VIN+", "VP.OUT"], ["ADC.VIN-", "ADC.CS", "GND"], ["ADC.WR", "S.P2"],
  ["ADC.RD", "+5V"], ["ADC.INTR", "R.1"], ["R.2", "+5V"])";

/// When a conversion ends that begins now, with MRDY low for `low` quarters out of 16.
Stamp conversion(Machine machine, Stamp low) {
  program(machine, {0x20, 0xFE});
  machine.set("S", "P2 high");
  machine.run_for(4);
  machine.set("S", "P2 low");
  machine.run_for(4);
  const Stamp begin = machine.moment();
  for (Stamp when = 0; low > 0 && when < 1200; when += 16) {
    machine.schedule("S", "P0 low", begin + when + 1);
    machine.schedule("S", "P0 high", begin + when + 1 + low);
  }
  Seen seen(machine, "conversion-done");
  machine.schedule("S", "P2 high", begin + 8);
  machine.run_for(400);
  return seen.changes.size() == 1 ? seen.changes[0] - begin : -1;
}

TEST(StretchedE, AConverterWithItsOwnClockDoesNotMindAndOneOnECounts) {
  const std::string own = fmt::format(kConverter, R"("clock": "1 MHz",)"), on_e = fmt::format(kConverter, "");
  const std::string wired = std::string(kAround) + R"(, ["ADC.CLK_IN", "CPU.E"])";
  const Stamp plain = conversion(slow_machine(own, kAround), 0);
  EXPECT_GT(plain, 0);
  EXPECT_EQ(conversion(slow_machine(own, kAround), 5), plain);
  EXPECT_EQ(conversion(slow_machine(own, kAround), 7), plain);
  const Stamp regular = conversion(slow_machine(on_e, wired), 0);
  EXPECT_GT(regular, 4 * 60);
  // Of four cycles one is so much longer, and as many rises of E take longer.
  EXPECT_GT(conversion(slow_machine(on_e, wired), 5), regular + 4 * 10);
  EXPECT_GT(conversion(slow_machine(on_e, wired), 7), conversion(slow_machine(on_e, wired), 5));
}

}  // namespace
}  // namespace prewire::testing
