// HALT, BA, BS, DMA/BREQ, MRDY and TSC; AVMA, BUSY and LIC of the MC6809E. Sources: M6809PM section 1.11 and figure 3-1
// (read); the dead cycles around a grant and the end of the refresh counter (from memory). Not tested, because no
// source settles it (docs/accuracy.md): the cycle in which a grant ends after HALT or DMA/BREQ has gone high.
#include "conformance/mc6809_fixture.h"

namespace prewire::testing {
namespace {

using Mc6809Pins = Mc6809Test;

/// The cycles of a log that belong to the program, with their numbers taken away; on request without dead ones, of
/// which HALT adds some.
std::vector<BusCycle> without_time(std::vector<BusCycle> log, bool with_dead) {
  std::erase_if(log, [&](const BusCycle& c) {
    const bool dead = c.rw && !c.fetch && !c.bs && c.address == 0xFFFF;
    return c.ba || !c.vma || (dead && !with_dead);
  });
  for (BusCycle& cycle : log) cycle.cycle = 0;
  return log;
}

void expect_the_same_program(const std::vector<BusCycle>& log, const std::vector<BusCycle>& plain,
                             bool with_dead = true) {
  const std::vector<BusCycle> ours = without_time(log, with_dead), theirs = without_time(plain, with_dead);
  const std::size_t common = std::min(ours.size(), theirs.size());
  ASSERT_GT(common, 20U);
  for (std::size_t i = 0; i < common; ++i) ASSERT_EQ(ours[i], theirs[i]) << "cycle " << i << " of the program";
}

/// A program of all kinds of cycles: stores, read-modify-write, pushes, MUL, SWI.
const std::vector<std::uint8_t> kMixed{0x8E, 0x50, 0x10, 0x86, 0x77, 0x34, 0x16, 0xA7, 0x80, 0x6A, 0x1F, 0x8D,
                                       0x05, 0x35, 0x16, 0x3D, 0x20, 0xF2, 0x3F, 0xED, 0x9F, 0x30, 0x00, 0x39};

// ---------------------------------------------------------------------------------------------------------------------
// E, Q, R/W, BA, BS

CpuBench::Parts heard() {
  CpuBench::Parts parts = CpuBench::mc6809();
  parts.chips += R"(, "EAR": {"type": "ear"})";
  parts.wires = R"(["CPU.E", "EAR.E"], ["CPU.Q", "EAR.Q"], ["CPU.R/W", "EAR.R/W"], ["CPU.BA", "EAR.BA"],
    ["CPU.BS", "EAR.BS"])";
  return parts;
}

class Mc6809Heard : public Mc6809Test {
 protected:
  Mc6809Heard() : Mc6809Test(heard()) {}

  struct Edges final : Observer {
    unsigned wants() const override { return kNets; }
    void on_net(std::string_view net, const NetState& state, Stamp when) override {
      text[std::string(net)] +=
          fmt::format("{}.{}{} ", (when - start) / 4, (when - start) % 4, state.level == Level::high ? '+' : '-');
    }
    Stamp start = 0;
    std::map<std::string, std::string> text;  ///< edges of each net: cycle, quarter, + or -
  };
  std::map<std::string, std::string> edges_until(Cycle cycle) {
    Edges edges;
    edges.start = stamp_of(start);
    machine().watch(edges);
    machine().run_until(cycle);
    machine().unwatch(edges);
    return edges.text;
  }
};

// Q leads E by a quarter of a cycle (section 1.11.9).
TEST_F(Mc6809Heard, QLeadsE) {
  const auto text = edges_until(start + 3);
  EXPECT_EQ(text.at("CPU.Q"), "0.1+ 0.3- 1.1+ 1.3- 2.1+ 2.3- ");
  EXPECT_EQ(text.at("CPU.E"), "0.2+ 1.0- 1.2+ 2.0- 2.2+ 3.0- ");
}

TEST_F(Mc6809Heard, ReadWriteIsLowInWrites) {
  bench.poke(kPc, {0xB7, 0x50, 0x00});  // STA $5000 writes in its fifth cycle
  EXPECT_EQ(edges_until(start + 8).at("CPU.R/W"), "4.1- 5.1+ ");
}

TEST_F(Mc6809Heard, BsIsHighInBothCyclesOfAVector) {
  bench.poke(kPc, {0x3F});
  const auto text = edges_until(start + 22);
  EXPECT_EQ(text.at("CPU.BS"), "16.1+ 18.1- ");
  EXPECT_EQ(text.count("CPU.BA"), 0U);
}

TEST_F(Mc6809Heard, BaTellsSyncAndBothTellAGrant) {
  bench.poke(kPc, {0x13});
  auto text = edges_until(start + 10);
  EXPECT_EQ(text.at("CPU.BA").substr(0, 2), "2.");
  EXPECT_EQ(text.count("CPU.BS"), 0U);
  bench.hand("HALT low");
  text = edges_until(start + 20);
  EXPECT_EQ(text.count("CPU.BA"), 0U);
  EXPECT_EQ(text.at("CPU.BS").back(), ' ');
  EXPECT_EQ(machine().net("CPU.BS")->level, Level::high);
}

// Section 1.11.11: MRDY low holds E high and Q low, by quarters of a cycle.
TEST_F(Mc6809Heard, MemoryReadyHoldsEHighAndQLow) {
  const Snapshot snapshot = machine().save();
  const std::vector<std::string> e{"2.0- 2.2+ 3.0-", "2.1- 2.3+ 3.1-", "2.2- 3.0+ 3.2-",
                                   "2.3- 3.1+ 3.3-", "3.0- 3.2+ 4.0-", "3.1- 3.3+ 4.1-"};
  const std::vector<std::string> q{"2.1+ 2.3-", "2.2+ 3.0-", "2.3+ 3.1-", "3.0+ 3.2-", "3.1+ 3.3-", "3.2+ 4.0-"};
  for (std::size_t quarters = 0; quarters < e.size(); ++quarters) {
    SCOPED_TRACE(quarters);
    machine().restore(snapshot);
    bench.hand("MRDY low", stamp_of(start + 1) + 1);
    bench.hand("MRDY high", stamp_of(start + 1) + 2 + static_cast<Stamp>(quarters));
    const auto text = edges_until(start + 5);
    EXPECT_EQ(text.at("CPU.E").substr(0, 30), "0.2+ 1.0- 1.2+ " + e[quarters] + " ");
    EXPECT_EQ(text.at("CPU.Q").substr(0, 30), "0.1+ 0.3- 1.1+ 1.3- " + q[quarters] + " ");
  }
}

// Both are outputs of the processor's own oscillator (section 1.11.9), which another master needs as well.
TEST_F(Mc6809Heard, EAndQGoOnDuringAGrant) {
  bench.hand("DMA/BREQ low", early_in(0));
  const auto text = edges_until(start + 6);
  EXPECT_EQ(text.at("CPU.E"), "0.2+ 1.0- 1.2+ 2.0- 2.2+ 3.0- 3.2+ 4.0- 4.2+ 5.0- 5.2+ 6.0- ");
  EXPECT_EQ(text.at("CPU.Q"), "0.1+ 0.3- 1.1+ 1.3- 2.1+ 2.3- 3.1+ 3.3- 4.1+ 4.3- 5.1+ 5.3- ");
}

TEST_F(Mc6809Heard, HearingThePinsChangesNothing) {
  std::vector<std::vector<BusCycle>> logs;
  CpuBench unheard(CpuBench::mc6809());
  for (CpuBench* each : {&bench, &unheard}) {
    for (int at = 0; at < 0x10000; ++at) {
      each->poke(static_cast<std::uint16_t>(at), {machine().peek(static_cast<std::uint16_t>(at))});
    }
    each->poke(kPc, kMixed);
    each->set(kBefore);
    const Cycle now = each->machine.now();
    Stamp when = stamp_of(now) + 3;
    for (int i = 0; i < 200; ++i) {
      const std::string pin =
          std::vector<std::string>{"IRQ", "FIRQ", "HALT", "DMA/BREQ", "MRDY"}[static_cast<std::size_t>(i % 5)];
      each->hand(pin + " low", when += 1 + i % 11);
      each->hand(pin + " high", when += 1 + i % 13);
    }
    logs.push_back(each->log_until(now + 900));
    for (BusCycle& cycle : logs.back()) cycle.cycle -= now;
  }
  ASSERT_EQ(logs[0].size(), logs[1].size());
  for (std::size_t i = 0; i < logs[0].size(); ++i) ASSERT_EQ(logs[0][i], logs[1][i]);
}

// ---------------------------------------------------------------------------------------------------------------------
// AVMA, BUSY, LIC of the MC6809E: what they mean is read in M6809PM section 1.11; in which cycle an instruction ends
// and what its cycles are, in the figure "Cycle-by-cycle performance"

CpuBench::Parts foretelling() {
  CpuBench::Parts parts = CpuBench::mc6809e();
  parts.chips += R"(, "EAR": {"type": "ear"})";
  parts.wires = R"(["CPU.AVMA", "EAR.AVMA"], ["CPU.BUSY", "EAR.BUSY"], ["CPU.LIC", "EAR.LIC"])";
  return parts;
}

class Mc6809eForetelling : public Mc6809Test {
 protected:
  Mc6809eForetelling() : Mc6809Test(foretelling()) {}

  /// A cycle, and the pins as they are when it ends.
  struct Told {
    BusCycle cycle;
    bool avma, busy, lic;

    bool dead() const { return !cycle.fetch && cycle.rw && !cycle.bs && cycle.address == 0xFFFF; }
  };
  std::vector<Told> told_until(Cycle end) {
    struct Listener final : Observer {
      explicit Listener(Machine& of) : machine(of) { machine.watch(*this); }
      ~Listener() override { machine.unwatch(*this); }
      unsigned wants() const override { return kCycles; }
      void on_cycle(const BusCycle& cycle) override {
        told.push_back({cycle, high("CPU.AVMA"), high("CPU.BUSY"), high("CPU.LIC")});
      }
      bool high(const char* pin) const { return machine.net(pin)->level == Level::high; }
      Machine& machine;
      std::vector<Told> told;
    } listener(machine());
    machine().run_until(end);
    return listener.told;
  }
  /// A line of `1` and `0` for each cycle of the instruction at `kPc`.
  std::string busy_in(const std::vector<std::uint8_t>& code) {
    const Snapshot before = machine().save();
    bench.poke(kPc, code);
    std::string text;
    for (const Told& told : told_until(machine().now() + 30)) {
      if (told.cycle.fetch && !text.empty()) break;
      text += told.busy ? '1' : '0';
    }
    machine().restore(before);
    return text;
  }
};

TEST_F(Mc6809eForetelling, LicEndsEveryInstructionAndAvmaComesBeforeEveryUseOfTheBus) {
  bench.poke(kPc, kMixed);
  for (int i = 0; i < 8; ++i) bench.hand(i % 2 ? "IRQ high" : "IRQ low", early_in(40 + 31 * i));
  const auto told = told_until(start + 400);
  int ends = 0;
  for (std::size_t i = 0; i + 1 < told.size(); ++i) {
    EXPECT_EQ(told[i].lic, told[i + 1].cycle.fetch) << "cycle " << i;
    EXPECT_EQ(told[i].avma, !told[i + 1].dead()) << "cycle " << i;
    ends += told[i].lic;
  }
  EXPECT_GT(ends, 50);
}

TEST_F(Mc6809eForetelling, TheyGoOnAfterAStopAnywhere) {
  bench.poke(kPc, kMixed);
  const Snapshot begin = machine().save();
  const auto whole = told_until(start + 150);
  machine().restore(begin);
  for (std::size_t i = 0; i < whole.size(); ++i) {
    const auto one = told_until(machine().now() + 1);
    ASSERT_EQ(one.size(), 1U);
    machine().restore(machine().save());
    EXPECT_EQ(one[0].cycle, whole[i].cycle);
    EXPECT_TRUE(one[0].avma == whole[i].avma && one[0].busy == whole[i].busy && one[0].lic == whole[i].lic)
        << "cycle " << i;
  }
}

TEST_F(Mc6809eForetelling, WaitingInSyncKeepsLicHighAndAvmaLow) {
  bench.poke(kPc, {0x13});
  const auto told = told_until(start + 20);
  for (std::size_t i = 4; i < told.size(); ++i) {
    EXPECT_TRUE(told[i].lic && !told[i].avma && !told[i].busy) << "cycle " << i;
  }
}

TEST_F(Mc6809eForetelling, BusyCoversWhatNobodyMayComeBetween) {
  EXPECT_EQ(busy_in({0x7A, 0x40, 0x00}), "0000110");        // DEC extended: the read and the next cycle
  EXPECT_EQ(busy_in({0xFE, 0x40, 0x00}), "000010");         // LDU extended: the first byte of two
  EXPECT_EQ(busy_in({0xDD, 0x40}), "00010");                // STD direct
  EXPECT_EQ(busy_in({0xF3, 0x40, 0x00}), "0000100");        // ADDD extended, with its dead cycle
  EXPECT_EQ(busy_in({0x10, 0xBE, 0x40, 0x00}), "0000010");  // LDY extended
  EXPECT_EQ(busy_in({0xA6, 0x94}), "0001000");              // LDA [,X]: the first byte of the address
  EXPECT_EQ(busy_in({0x6A, 0x94}), "000100110");            // DEC [,X]
  EXPECT_EQ(busy_in({0x10, 0xAE, 0x94}), "000010010");      // LDY [,X]
  EXPECT_EQ(busy_in({0xB6, 0x40, 0x00}), "00000");          // LDA extended
  EXPECT_EQ(busy_in({0x3F}), "0000000000000000100");        // SWI: the first byte of the vector
}

// ---------------------------------------------------------------------------------------------------------------------
// Reads that the processor ignores are reads all the same (figure "Cycle-by-cycle performance")

/// A chip of sixteen registers that tells of every access.
class Counter final : public Chip {
 public:
  using Chip::Chip;
  std::uint8_t read(unsigned reg) override {
    socket().event("r", reg);
    return 0x12;
  }
  std::uint8_t peek(unsigned) const override { return 0x12; }
  void write(unsigned reg, std::uint8_t) override { socket().event("w", reg); }
};

struct Accesses final : Observer {
  unsigned wants() const override { return kEvents; }
  void on_event(std::string_view, std::string_view event, std::int64_t value, Stamp) override {
    text += fmt::format("{}{} ", event, value);
  }
  std::string text;
};

Registry registry_with_counter() {
  Registry registry = cpu_bench_registry();
  ChipType type;
  type.name = type.title = type.summary = "counter";
  type.bus = BusSpec{.size = 16};
  type.make = [](Socket& socket, const Parameters&) { return std::make_unique<Counter>(socket); };
  registry.add(std::move(type));
  return registry;
}

struct AccessCase {
  std::vector<std::uint8_t> code;
  std::uint16_t s;
  const char* text;
};

void expect_accesses(Machine& machine, std::uint16_t at, const std::vector<AccessCase>& cases) {
  for (const AccessCase& c : cases) {
    SCOPED_TRACE(fmt::format("{:02X}", fmt::join(c.code, " ")));
    for (std::size_t i = 0; i < c.code.size(); ++i) machine.poke(static_cast<std::uint16_t>(at + i), c.code[i]);
    CpuBench::set(machine.cpu(), {0, 0, 0, c.s, at, 0x50});
    Accesses accesses;
    machine.watch(accesses);
    machine.step_instruction();
    machine.unwatch(accesses);
    EXPECT_EQ(accesses.text, c.text);
  }
}

TEST(Mc6809Accesses, IgnoredReadsReachTheirAddress) {
  CpuBench::Parts parts = CpuBench::mc6809();
  parts.chips = R"("LOW": {"type": "ram", "at": "$0000-$4FFF"}, "COUNTER": {"type": "counter", "at": "$5000-$500F"},
    "HIGH": {"type": "ram", "at": "$5010-$FFFF"})";
  CpuBench bench(parts, registry_with_counter());
  expect_accesses(bench.machine, 0x1000,
                  {{{0x7F, 0x50, 0x03}, 0x100, "r3 w3 "},        // CLR $5003
                   {{0x7C, 0x50, 0x03}, 0x100, "r3 w3 "},        // INC $5003
                   {{0x7D, 0x50, 0x03}, 0x100, "r3 "},           // TST $5003
                   {{0xB7, 0x50, 0x03}, 0x100, "w3 "},           // STA $5003
                   {{0xBD, 0x50, 0x03}, 0x100, "r3 "},           // JSR $5003
                   {{0x7E, 0x50, 0x03}, 0x100, ""},              // JMP $5003
                   {{0x34, 0x06}, 0x5008, "r8 w7 w6 "},          // PSHS B,A
                   {{0x34, 0x00}, 0x5008, "r8 "},                // PSHS nothing
                   {{0x35, 0x06}, 0x5008, "r8 r9 r10 "},         // PULS A,B
                   {{0x30, 0x9F, 0x50, 0x03}, 0x100, "r3 r4 "},  // LEAX [$5003]
                   {{0x39}, 0x5008, "r8 r9 "}});                 // RTS
}

// With no memory at $FFFF every dead cycle is an access.
TEST(Mc6809Accesses, DeadCyclesReadAChipAtTheTop) {
  Registry registry = registry_with_counter();
  Machine machine = Machine::from_text(R"({"machine": "top", "cpu": {"type": "mc6809", "crystal": "4 MHz"},
      "chips": {"LOW": {"type": "ram", "at": "$0000-$FFEF"}, "COUNTER": {"type": "counter", "at": "$FFF0-$FFFF"}}})",
                                       "top.json", registry);
  while (machine.cpu().pc() != 0x1212) machine.step_instruction();  // what the chip gives as the vector
  expect_accesses(machine, 0x1212,
                  {{{0x12}, 0x100, ""},                                      // NOP
                   {{0x3A}, 0x100, "r15 "},                                  // ABX
                   {{0x3D}, 0x100, "r15 r15 r15 r15 r15 r15 r15 r15 r15 "},  // MUL
                   {{0x0C, 0x03}, 0x100, "r15 r15 "},                        // INC <$03
                   {{0x3F}, 0x100, "r15 r15 r10 r11 r15 "}});                // SWI
}

// ---------------------------------------------------------------------------------------------------------------------
// HALT

TEST_F(Mc6809Pins, HaltLetsTheInstructionFinish) {
  bench.poke(kPc, {0xB7, 0x50, 0x00});  // STA $5000
  bench.hand("HALT low", early_in(0));
  EXPECT_EQ(picture(bench.log_until(start + 12)), "Frr-w-hhhhhh");
  EXPECT_EQ(machine().cpu().state(), CpuState::halted);
  EXPECT_EQ(bench.registers().pc, kPc + 3);
  EXPECT_EQ(machine().net("CPU.BA")->level, Level::high);
}

TEST_F(Mc6809Pins, HaltInTheLastCycleIsTooLateForThisInstruction) {
  bench.poke(kPc, {0xB7, 0x50, 0x00});
  bench.hand("HALT low", early_in(4));
  EXPECT_EQ(picture(bench.log_until(start + 12)), "Frr-wFr-hhhh");
}

TEST_F(Mc6809Pins, GoesOnWhereItWasHaltedAfterADeadCycle) {
  bench.hand("HALT low", early_in(0));
  bench.hand("HALT high", early_in(9));
  const std::vector<BusCycle> log = bench.log_until(start + 20);
  const std::string text = picture(log);
  const std::size_t end = text.find_last_of('h') + 1;
  EXPECT_EQ(text.substr(0, 4), "Fr-h");
  EXPECT_GE(end, 10U);
  EXPECT_LE(end, 12U);
  EXPECT_EQ(text.substr(end, 4), "-FrF");
  EXPECT_EQ(fetches(log)[1], kPc + 1);
  for (std::size_t i = 3; i < end; ++i) EXPECT_TRUE(!log[i].vma && log[i].rw && !log[i].driven);
  EXPECT_EQ(machine().net("CPU.BA")->level, Level::low);
}

TEST_F(Mc6809Pins, HaltDelaysAndChangesNothingElse) {
  bench.poke(kPc, kMixed);
  const Snapshot snapshot = machine().save();
  const std::vector<BusCycle> plain = bench.log_until(start + 150);
  for (Stamp first = 0; first < 4 * 40; ++first) {
    machine().restore(snapshot);
    bench.hand("HALT low", stamp_of(start) + first);
    bench.hand("HALT high", stamp_of(start + 6) + first);
    const std::vector<BusCycle> log = bench.log_until(start + 150);
    expect_the_same_program(log, plain, false);
    if (HasFatalFailure()) return;
    // BA rises and falls in the middle of dead cycles.
    for (std::size_t i = 1; i + 1 < log.size(); ++i) {
      if (!log[i].ba) continue;
      for (const BusCycle& beside : {log[i - 1], log[i + 1]}) {
        EXPECT_TRUE(beside.ba || (beside.address == 0xFFFF && beside.rw && !beside.fetch)) << first;
      }
    }
  }
}

TEST_F(Mc6809Pins, WhileHaltedOnlyNmiIsRemembered) {
  struct Input {
    std::string pin;
    bool lasts, served;
    int vector;
  };
  for (const Input& c :
       {Input{"NMI", false, true, 0xFFFC}, Input{"IRQ", false, false, 0xFFF8}, Input{"IRQ", true, true, 0xFFF8},
        Input{"FIRQ", false, false, 0xFFF6}, Input{"FIRQ", true, true, 0xFFF6}}) {
    SCOPED_TRACE(c.pin);
    const Snapshot snapshot = machine().save();
    bench.hand("HALT low", early_in(0));
    bench.hand(c.pin + " low", early_in(10));
    if (!c.lasts) bench.hand(c.pin + " high", early_in(15));
    EXPECT_EQ(picture(bench.log_until(start + 30)), "Fr-" + std::string(27, 'h'));
    bench.hand("HALT high", early_in(30));
    EXPECT_EQ(reads(bench.log_until(start + 70), c.vector), c.served);
    machine().restore(snapshot);
  }
}

TEST_F(Mc6809Pins, HaltInSyncRaisesBsAsWell) {
  bench.poke(kPc, {0x13});
  bench.hand("HALT low", early_in(10));
  bench.hand("NMI low", early_in(20));
  bench.hand("HALT high", early_in(30));
  const std::vector<BusCycle> log = bench.log_until(start + 80);
  for (std::size_t i = 2; i < 11; ++i) EXPECT_TRUE(log[i].ba && !log[i].bs) << i;
  for (std::size_t i = 13; i < 30; ++i) EXPECT_TRUE(log[i].ba && log[i].bs) << i;
  EXPECT_GT(position(log, 0xFFFC), 30U);
  EXPECT_LT(position(log, 0xFFFC), log.size());
}

TEST_F(Mc6809Pins, HaltInCwaiHoldsBackItsEnd) {
  bench.poke(kPc, {0x3C, 0xAF});
  bench.hand("HALT low", early_in(20));
  bench.hand("IRQ low", early_in(25));
  bench.hand("HALT high", early_in(40));
  const std::vector<BusCycle> log = bench.log_until(start + 80);
  for (std::size_t i = 24; i < 40; ++i) EXPECT_TRUE(log[i].ba && log[i].bs) << i;
  const std::size_t vector = position(log, 0xFFF8);
  EXPECT_GT(vector, 40U);
  ASSERT_LT(vector, 50U);
  EXPECT_EQ(std::count_if(log.begin(), log.end(), [](const BusCycle& c) { return !c.rw; }), 12);
}

// Figure 3-1: HALT low during reset gives BA = BS = 1 until it rises, then the sequence goes on.
TEST_F(Mc6809Pins, HaltInResetHoldsBackTheVector) {
  machine().schedule("RESET", "pressed", stamp_of(start));
  bench.hand("HALT low", early_in(4));
  machine().schedule("RESET", "released", stamp_of(start + 10));
  bench.hand("HALT high", early_in(30));
  const std::vector<BusCycle> log = bench.log_until(start + 60);
  for (std::size_t i = 8; i < 30; ++i) EXPECT_TRUE(log[i].ba && log[i].bs) << i;
  const auto vector = std::find_if(log.begin(), log.end(), [](const BusCycle& c) { return c.bs && !c.ba; });
  ASSERT_NE(vector, log.end());
  EXPECT_GT(vector - log.begin(), 30);
  EXPECT_EQ(vector->address, 0xFFFE);
  EXPECT_EQ((vector + 3)->address, CpuBench::kStart);
}

TEST_F(Mc6809Pins, ResetWhileHaltedIsServedAfterwards) {
  bench.hand("HALT low", early_in(0));
  machine().schedule("RESET", "pressed", stamp_of(start + 10));
  machine().schedule("RESET", "released", stamp_of(start + 20));
  bench.hand("HALT high", early_in(40));
  const std::vector<BusCycle> log = bench.log_until(start + 60);
  for (std::size_t i = 3; i < 40; ++i) EXPECT_TRUE(log[i].ba) << i;
  const auto vector = std::find_if(log.begin(), log.end(), [](const BusCycle& c) { return c.bs && !c.ba; });
  ASSERT_NE(vector, log.end());
  EXPECT_EQ(vector->address, 0xFFFE);
}

// ---------------------------------------------------------------------------------------------------------------------
// DMA/BREQ

TEST_F(Mc6809Pins, BusRequestSuspendsAfterTheCycle) {
  bench.poke(kPc, {0xB7, 0x50, 0x00});  // STA $5000
  bench.hand("DMA/BREQ low", early_in(1));
  bench.hand("DMA/BREQ high", early_in(6));
  const std::vector<BusCycle> log = bench.log_until(start + 14);
  const std::string text = picture(log);
  EXPECT_EQ(text.substr(0, 6), "Frhhhh");
  const std::size_t end = text.find_last_of('h') + 1;
  EXPECT_LE(end, 8U);
  // BA falls in a cycle that is nobody's.
  EXPECT_EQ(text.substr(end, 4), "xr-w");
  for (std::size_t i = 2; i <= end; ++i) EXPECT_FALSE(log[i].vma);
}

// Fifteen cycles, a dead one, one for the processor, and so on.
TEST_F(Mc6809Pins, BusRequestGivesACycleBackForRefresh) {
  bench.hand("DMA/BREQ low", early_in(1));
  const std::string text = picture(bench.log_until(start + 2 + 17 * 4)).substr(2);
  for (int i = 0; i < 4; ++i) {
    const std::string turn = text.substr(static_cast<std::size_t>(17 * i), 17);
    EXPECT_EQ(turn.substr(0, 16), "hhhhhhhhhhhhhhhx");
    EXPECT_TRUE(turn[16] == (i % 2 == 0 ? 'F' : 'r')) << turn;
  }
}

TEST_F(Mc6809Pins, BusRequestDelaysAndChangesNothingElse) {
  bench.poke(kPc, kMixed);
  const Snapshot snapshot = machine().save();
  const std::vector<BusCycle> plain = bench.log_until(start + 150);
  for (Stamp first = 0; first < 4 * 40; ++first) {
    for (const Stamp width : {4, 9, 50, 150}) {
      machine().restore(snapshot);
      bench.hand("DMA/BREQ low", stamp_of(start) + first);
      bench.hand("DMA/BREQ high", stamp_of(start) + first + width);
      const std::vector<BusCycle> log = bench.log_until(start + 150);
      expect_the_same_program(log, plain);
      if (HasFatalFailure()) return;
      EXPECT_TRUE(std::any_of(log.begin(), log.end(), [](const BusCycle& c) { return c.ba && c.bs; })) << first;
    }
  }
}

TEST_F(Mc6809Pins, BusRequestWhileHaltedChangesNothing) {
  bench.hand("HALT low", early_in(0));
  bench.hand("DMA/BREQ low", early_in(10));
  bench.hand("DMA/BREQ high", early_in(50));
  EXPECT_EQ(picture(bench.log_until(start + 80)), "Fr-" + std::string(77, 'h'));
}

// ---------------------------------------------------------------------------------------------------------------------
// MRDY

/// By how many quarters a cycle is stretched in which MRDY is low until `high`, counted from its beginning: it is
/// looked at as Q falls and after every quarter more (section 1.11.11; that a change in the same moment comes too late,
/// from memory).
Stamp stretch_until(Stamp high) { return std::max<Stamp>(0, high - 2); }

TEST_F(Mc6809Pins, MemoryReadyStretchesByQuartersOfACycle) {
  bench.poke(kPc, {0xB7, 0x50, 0x00});  // STA $5000
  const Snapshot snapshot = machine().save();
  const std::vector<BusCycle> plain = bench.log_until(start + 9);
  for (const std::size_t cycle : {0, 1, 2, 4, 5, 6}) {  // all but the dead one
    for (Stamp high = 2; high < 24; ++high) {
      SCOPED_TRACE(fmt::format("cycle {} until {}", cycle, high));
      machine().restore(snapshot);
      const Stamp begin = plain[cycle].begin();
      bench.hand("MRDY low", begin + 1);
      bench.hand("MRDY high", begin + high);
      const std::vector<BusCycle> log = bench.log_until(start + 9 + 6);
      ASSERT_GE(log.size(), plain.size());
      for (std::size_t i = 0; i < plain.size(); ++i) {
        const Stamp late = stretch_until(high);
        EXPECT_EQ(log[i].begin(), plain[i].begin() + (i > cycle ? late : 0));
        EXPECT_EQ(log[i].fall(), plain[i].fall() + (i >= cycle ? late : 0));
        BusCycle seen = log[i];
        seen.cycle = plain[i].cycle;
        seen.late = 0;
        seen.stretch = 0;
        EXPECT_EQ(seen, plain[i]);
      }
    }
  }
}

TEST_F(Mc6809Pins, MemoryReadyIsTooLateOnceQHasFallen) {
  for (const Stamp low : {2, 3}) {
    bench.set(kBefore);
    const Stamp begin = machine().moment();
    bench.hand("MRDY low", begin + low);
    bench.hand("MRDY high", begin + 5);
    const std::vector<BusCycle> log = bench.log([&] { machine().run_for(4); });
    EXPECT_EQ(log[0].stretch, low == 2 ? 3U : 0U);
    EXPECT_EQ(log[1].stretch, 0U);
  }
}

// Section 1.11.11, and data sheet, MRDY (from memory): for another master's cycles as well, if the bus is its own.
TEST_F(Mc6809Pins, MemoryReadyStretchesTheCyclesOfAnotherMaster) {
  const Snapshot snapshot = machine().save();
  for (const char* request : {"HALT", "DMA/BREQ"}) {
    machine().restore(snapshot);
    bench.hand(fmt::format("{} low", request), early_in(0));
    bench.hand("MRDY low", stamp_of(start + 8) + 1);
    bench.hand("MRDY high", stamp_of(start + 8) + 8);
    const std::vector<BusCycle> log = bench.log_until(start + 14);
    for (const BusCycle& cycle : log)
      EXPECT_EQ(cycle.stretch, cycle.begin() == stamp_of(start + 8) ? 6U : 0U) << cycle.cycle;
    EXPECT_TRUE(log.back().ba && log.back().bs);
    EXPECT_EQ(log.back().late, 2);
  }
}

TEST_F(Mc6809Pins, MemoryReadyStretchesNoDeadCycleOfAGrant) {
  bench.hand("MRDY low", early_in(1));
  bench.hand("MRDY high", early_in(2) - 1);
  bench.hand("DMA/BREQ low", early_in(0));
  const std::vector<BusCycle> log = bench.log_until(start + 4);
  EXPECT_TRUE(log[1].ba && log[1].bs);  // nobody's yet
  EXPECT_EQ(log[1].stretch, 0U);
}

// The crystal goes on: what is scheduled comes when it would.
TEST_F(Mc6809Pins, StretchingMovesNothingElse) {
  struct Falls final : Observer {
    unsigned wants() const override { return kNets; }
    void on_net(std::string_view net, const NetState& state, Stamp when) override {
      if (net == "CPU.IRQ" && state.level == Level::low) list.push_back(when);
    }
    std::vector<Stamp> list;
  } falls;
  const Stamp begin = machine().moment();
  bench.hand("MRDY low", begin + 1);
  bench.hand("MRDY high", begin + 16);
  std::vector<Stamp> scheduled;
  for (const Stamp when : {0, 3, 6, 9, 12, 14, 16, 18, 23}) {
    scheduled.push_back(begin + 2 + when);
    bench.hand("IRQ low", scheduled.back());
    bench.hand("IRQ high", scheduled.back() + 1);
  }
  machine().watch(falls);
  const std::vector<BusCycle> log = bench.log_until(start + 12);
  machine().unwatch(falls);
  EXPECT_EQ(log[0].stretch, 14U);
  EXPECT_EQ(falls.list, scheduled);
}

// Q falls once in a cycle, however long it is. It is then that the inputs are latched (section 1.11, figure 3-1), in
// the last cycle but one of an instruction.
TEST_F(Mc6809Pins, InterruptsAreLatchedAsQFallsInAStretchedCycle) {
  const Snapshot snapshot = machine().save();
  for (Stamp when = 0; when < 16; ++when) {
    SCOPED_TRACE(when);
    machine().restore(snapshot);
    const Stamp begin = machine().moment();
    bench.hand("MRDY low", begin + 1);  // NOP takes two cycles
    bench.hand("MRDY high", begin + 11);
    bench.hand("IRQ low", begin + when);
    const std::vector<BusCycle> log = bench.log_until(start + 9);
    EXPECT_EQ(log[0].stretch, 9U);
    // Entries begin with two reads at the program counter and a dead cycle.
    EXPECT_EQ(picture(log).substr(0, 6), when < 3 ? "FrFr-w" : "FrFrFr");
  }
}

TEST_F(Mc6809Pins, ItIsTooLateWhereARunHasEndedWithinTheStretch) {
  bench.hand("MRDY low");
  machine().step_cycle();
  EXPECT_EQ(machine().cycle_began(), stamp_of(start));
  bench.hand("IRQ low");
  bench.hand("MRDY high");
  EXPECT_EQ(picture(bench.log_until(start + 8)).substr(0, 6), "FrFrFr");
}

// No two places at which a run can end have the same count of cycles, so that each can be named and found again.
TEST_F(Mc6809Pins, AStopIsPutOffToTheNextCountOfCycles) {
  struct Stopper final : Observer {
    explicit Stopper(Machine& of) : machine(of) { machine.watch(*this); }
    ~Stopper() override { machine.unwatch(*this); }
    unsigned wants() const override { return kNets; }
    void on_net(std::string_view net, const NetState&, Stamp) override {
      if (net == "CPU.IRQ") machine.request_stop();
    }
    Machine& machine;
  } stopper(machine());
  const Snapshot snapshot = machine().save();
  const Stamp begin = machine().moment();
  for (const Stamp when : {4, 5, 6, 7, 8, 10, 11}) {
    SCOPED_TRACE(when);
    machine().restore(snapshot);
    bench.hand("MRDY low", begin + 1);
    bench.hand("MRDY high", begin + 20);
    bench.hand("IRQ low", begin + when);
    const Stop stop = machine().run_until(start + 30);
    EXPECT_EQ(stop.reason, StopReason::requested);
    EXPECT_EQ(machine().moment(), begin + (when <= 6 ? 6 : when <= 10 ? 10 : 14));
    EXPECT_EQ(stop.cycle, machine().moment() / 4);
    EXPECT_EQ(machine().cycle_began(), begin);
  }
}

// A run ends within a stretch, so that it ends at all; the count of cycles is then the time that has passed.
TEST_F(Mc6809Pins, ARunEndsWithinAStretchThatDoesNot) {
  const Snapshot snapshot = machine().save();
  bench.hand("MRDY low");
  for (Cycle now = start + 1; now < start + 40; ++now) {
    EXPECT_EQ(machine().step_cycle().cycle, now);
    EXPECT_EQ(machine().moment() / 4, now);
    EXPECT_EQ(machine().cycle_began(), stamp_of(start));
  }
  const Stamp released = machine().moment();
  bench.hand("MRDY high");
  std::vector<BusCycle> log = bench.log([&] { machine().step_cycle(); });
  ASSERT_EQ(log.size(), 1U);
  EXPECT_EQ(log[0].begin(), stamp_of(start));
  EXPECT_EQ(log[0].fall(), released + 2);  // it is looked at again after a quarter, and then a last one passes
  // Who steps by instructions gives up at last.
  machine().restore(snapshot);
  bench.hand("MRDY low");
  machine().step_instruction();
  EXPECT_EQ(machine().cycle_began(), stamp_of(start));
  EXPECT_EQ(machine().now(), start + 1'000'000);
}

// Section 1.11.11: not in a cycle that puts $FFFF on the address bus.
TEST_F(Mc6809Pins, MemoryReadyDoesNotStretchADeadCycle) {
  bench.poke(kPc, {0x3D});  // MUL: nine dead cycles
  const Snapshot snapshot = machine().save();
  const std::vector<BusCycle> plain = bench.log_until(start + 20);
  machine().restore(snapshot);
  bench.hand("MRDY low", stamp_of(start + 2) + 1);
  bench.hand("MRDY high", stamp_of(start + 11));
  EXPECT_EQ(bench.log_until(start + 20), plain);
}

// ---------------------------------------------------------------------------------------------------------------------
// MC6809E

class Mc6809ePins : public Mc6809Test {
 protected:
  Mc6809ePins() : Mc6809Test(CpuBench::mc6809e()) { bench.poke(kPc, kMixed); }
};

TEST_F(Mc6809ePins, RunsTheSameCycles) {
  CpuBench mc6809(CpuBench::mc6809());
  mc6809.machine.restore(mc6809.machine.save());
  std::vector<std::vector<BusCycle>> logs;
  for (CpuBench* each : {&bench, &mc6809}) {
    for (int at = 0; at < 0x10000; ++at)
      each->poke(static_cast<std::uint16_t>(at), {bench.machine.peek(static_cast<std::uint16_t>(at))});
    each->set(kBefore);
    const Cycle now = each->machine.now();
    each->hand("FIRQ low", stamp_of(now + 40) + 1);
    logs.push_back(each->log_until(now + 150));
    for (BusCycle& cycle : logs.back()) cycle.cycle -= now;
  }
  EXPECT_EQ(logs[0], logs[1]);
}

TEST_F(Mc6809ePins, ThreeStateControlDelaysAndChangesNothingElse) {
  const Snapshot snapshot = machine().save();
  const std::vector<BusCycle> plain = bench.log_until(start + 150);
  for (Cycle first = 0; first < 60; ++first) {
    machine().restore(snapshot);
    bench.hand("TSC high", stamp_of(start + first));
    bench.hand("TSC low", stamp_of(start + first + 3));
    const std::vector<BusCycle> log = bench.log_until(start + 150);
    EXPECT_TRUE(std::any_of(log.begin(), log.end(), [](const BusCycle& c) { return !c.vma && !c.ba; }));
    expect_the_same_program(log, plain);
    if (HasFatalFailure()) return;
  }
}

TEST(Mc6809Parts, DivideTheCrystalByFour) {
  EXPECT_EQ(CpuBench(CpuBench::mc6809()).machine.timebase().millihertz(), 1'000'000'000);
}

}  // namespace
}  // namespace prewire::testing
