// Calls on a machine from within its observers and chips, and what they throw: every combination leaves the machine at
// a point that machine.h tells.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <functional>
#include <optional>
#include <stdexcept>
#include <string>
#include <vector>

#include "prewire/chips.h"
#include "prewire/history.h"

namespace prewire::testing {
namespace {

/// What happens within the chip of these tests: called with the name of the function that is running.
using Hook = std::function<void(std::string_view)>;

class Restless final : public Chip {
 public:
  Restless(Socket& socket, const Hook& hook) : Chip(socket), hook_(hook) { hook_("constructor"); }
  void power_on() override {
    hook_("power_on");
    high_ = false;
    heard_ = 0;
    socket().drive(0, drive_low());
  }
  void start() override {
    hook_("start");
    socket().timer(0, 50);
  }
  std::uint8_t read(unsigned) override {
    socket().event("read", heard_);
    hook_("read");
    return static_cast<std::uint8_t>(heard_);
  }
  void write(unsigned, std::uint8_t) override {
    turn();
    hook_("write");
  }
  std::uint8_t peek(unsigned) const override {
    hook_("peek");
    return static_cast<std::uint8_t>(heard_);
  }
  void on_edge(int, Level, Stamp) override {
    ++heard_;
    hook_("on_edge");
  }
  void on_timer(unsigned tag, Stamp when) override {
    socket().timer(tag, when + 97);
    socket().finding("restless", Weight::hint, static_cast<int>(heard_ % 7), "it is restless", "");
    turn();
    hook_("on_timer");
  }
  std::optional<std::int64_t> parse_input(std::string_view) const override {
    hook_("parse_input");
    return 1;
  }
  void input(std::int64_t) override {
    turn();
    hook_("input");
  }
  std::span<const Lamp> lamps() const override {
    hook_("lamps");
    return {};
  }
  void archive(Archive& archive) override {
    hook_(archive.loading() ? "load" : "save");
    archive(high_);
    archive.number(heard_);
  }

 private:
  void turn() {
    high_ = !high_;
    socket().drive(0, drive(high_));
  }

  const Hook& hook_;
  bool high_ = false;
  std::int64_t heard_ = 0;
};

/// A registry whose chip "restless" calls the hook.
Registry registry_with(const Hook& hook) {
  Registry registry = standard_chips();
  ChipType type;
  type.name = type.title = type.summary = "restless";
  type.pins = {{.name = "OUT", .kind = PinKind::output}, {.name = "IN", .kind = PinKind::input, .listens = true}};
  type.bus = BusSpec{.size = 2};
  type.input = "anything";
  type.make = [&hook](Socket& socket, const Parameters&) { return std::make_unique<Restless>(socket, hook); };
  registry.add(std::move(type));
  return registry;
}

constexpr const char* kMachine = R"({
  "machine": "inside", "cpu": { "type": "mc6800", "clock": "1 MHz" },
  "chips": { "RAM": { "type": "6116", "at": "$0000-$07FF" }, "ROM": { "type": "2716", "at": "$F800-$FFFF" },
             "R": { "type": "restless", "at": "$4000-$4001" }, "SWITCH": { "type": "switch" } },
  "wires": [ ["R.OUT", "R.IN", "SWITCH.1"], ["CPU.IRQ", "CPU.NMI", "CPU.HALT", "SWITCH.2", "+5V"], ["CPU.TSC", "GND"] ]
})";

Machine machine_with(const Registry& registry) {
  LoadOptions options;
  options.run_faulty = true;
  Machine machine = Machine::from_text(kMachine, "inside.json", registry, options);
  // LDAA $4000; STAA $4001; INC $0010; BRA *-11
  const std::vector<std::uint8_t> code{0xB6, 0x40, 0x00, 0xB7, 0x40, 0x01, 0x7C, 0x00, 0x10, 0x20, 0xF5};
  std::uint16_t address = 0xF800;
  for (const std::uint8_t byte : code) machine.poke(address++, byte);
  machine.poke(0xFFFE, 0xF8);
  machine.poke(0xFFFF, 0x00);
  return machine;
}

/// Everything that it is told, as text.
class Log : public Observer {
 public:
  /// What has been found once is not told again, so not every log is to have it.
  explicit Log(bool findings = true) : findings_(findings) {}
  unsigned wants() const override { return kCycles | kInstructions | kNets | kEvents | (findings_ ? kFindings : 0U); }
  void on_cycle(const BusCycle& c) override {
    text += fmt::format("{} {:04X} {:02X} {}\n", c.cycle, c.address, c.data, c.rw);
  }
  void on_instruction(const Cpu&, std::uint16_t pc, int opcode, Cycle cycle) override {
    text += fmt::format("{} at {:04X}: {}\n", cycle, pc, opcode);
  }
  void on_net(std::string_view net, const NetState& state, Stamp when) override {
    text += fmt::format("{} {} @{}\n", net, to_string(state.level), when);
  }
  void on_event(std::string_view chip, std::string_view event, std::int64_t value, Stamp when) override {
    text += fmt::format("{} {} {} @{}\n", chip, event, value, when);
  }
  void on_finding(const Finding& finding) override { text += fmt::format("{} {}\n", finding.id, finding.first); }
  std::string text;

 private:
  const bool findings_;
};

/// Does something each time it is told of one kind of thing.
class Meddler final : public Observer {
 public:
  Meddler(unsigned what, std::function<void()> act) : what_(what), act_(std::move(act)) {}
  unsigned wants() const override { return what_; }
  void on_cycle(const BusCycle&) override { act_(); }
  void on_instruction(const Cpu&, std::uint16_t, int, Cycle) override { act_(); }
  void on_net(std::string_view, const NetState&, Stamp) override { act_(); }
  void on_event(std::string_view, std::string_view, std::int64_t, Stamp) override { act_(); }
  void on_finding(const Finding&) override { act_(); }

 private:
  const unsigned what_;
  const std::function<void()> act_;
};

constexpr Cycle kEnd = 2'000;

/// What the machine does if nobody interferes.
std::string undisturbed(bool findings = true) {
  const Hook quiet = [](std::string_view) {};
  const Registry registry = registry_with(quiet);
  Machine machine = machine_with(registry);
  Log log(findings);
  machine.watch(log);
  machine.run_until(kEnd);
  return log.text;
}

struct Call {
  const char* name;
  std::function<void(Machine&)> make;
};

/// Everything that runs a machine, changes it or saves it.
const std::vector<Call>& calls() {
  static const Snapshot empty;
  static const std::vector<Call> kCalls{
      {"run_until", [](Machine& m) { m.run_until(m.now() + 3); }},
      {"run_for", [](Machine& m) { m.run_for(3); }},
      {"step_cycle", [](Machine& m) { m.step_cycle(); }},
      {"step_instruction", [](Machine& m) { m.step_instruction(); }},
      {"reset", [](Machine& m) { m.reset(); }},
      {"poke", [](Machine& m) { m.poke(0x10, 1); }},
      {"set", [](Machine& m) { m.set("R", "x"); }},
      {"set RESET", [](Machine& m) { m.set("RESET", "pressed"); }},
      {"schedule", [](Machine& m) { m.schedule("R", "x", m.moment() + 9); }},
      {"save", [](Machine& m) { m.save(); }},
      {"way_here", [](Machine& m) { m.way_here(3); }},
      {"History", [](Machine& m) { History history(m); }},
      // The last two mend a machine.
      {"power_cycle", [](Machine& m) { m.power_cycle(); }},
      {"restore", [](Machine& m) { m.restore(empty); }},
  };
  return kCalls;
}
constexpr std::size_t kMending = 2;

bool refused(Machine& machine, const Call& call) {
  try {
    call.make(machine);
  } catch (const std::logic_error& error) {
    return std::string(error.what()).size() > 40;  // it says what happened
  }
  return false;
}

// ---------------------------------------------------------------------------------------------------------------------
// Calls

struct Kind {
  const char* name;
  unsigned what;
};
constexpr Kind kKinds[] = {{"cycles", Observer::kCycles},
                           {"instructions", Observer::kInstructions},
                           {"nets", Observer::kNets},
                           {"events", Observer::kEvents},
                           {"findings", Observer::kFindings}};

TEST(CallsFromObservers, AreRefusedAndChangeNothing) {
  const std::string expected = undisturbed();
  const Hook quiet = [](std::string_view) {};
  const Registry registry = registry_with(quiet);
  for (const Kind& kind : kKinds) {
    Machine machine = machine_with(registry);
    int told = 0;
    Meddler meddler(kind.what, [&] {
      ++told;
      for (const Call& call : calls()) EXPECT_TRUE(refused(machine, call)) << call.name << " from " << kind.name;
      EXPECT_FALSE(machine.cpu().set(0, 0x55)) << kind.name;
    });
    Log log;
    machine.watch(meddler);
    machine.watch(log);
    machine.run_until(kEnd);
    EXPECT_EQ(log.text, expected) << kind.name;
    EXPECT_GT(told, 0) << kind.name;
  }
}

TEST(CallsFromObservers, MayLookAtEverything) {
  const std::string expected = undisturbed();
  const Hook quiet = [](std::string_view) {};
  const Registry registry = registry_with(quiet);
  for (const Kind& kind : kKinds) {
    Machine machine = machine_with(registry);
    std::size_t seen = 0;
    Meddler meddler(kind.what, [&] {
      seen += machine.peek(0x10) + machine.nets().size() + machine.findings().size() + machine.displays().size() +
              machine.chips().size() + to_string(machine.cpu()).size() + machine.answering(0x4000).size() +
              static_cast<std::size_t>(machine.now() + machine.moment());
      machine.set_breakpoint(0x0123, seen % 2 == 0);
    });
    Log log;
    machine.watch(meddler);
    machine.watch(log);
    machine.run_until(kEnd);
    EXPECT_EQ(log.text, expected) << kind.name;
    EXPECT_GT(seen, 0U);
  }
}

TEST(CallsFromObservers, LetObserversComeAndGo) {
  const std::string expected = undisturbed();
  const Hook quiet = [](std::string_view) {};
  const Registry registry = registry_with(quiet);
  for (const Kind& kind : kKinds) {
    Machine machine = machine_with(registry);
    auto leaver = std::make_unique<Log>();
    Log log, comer;
    bool done = false;
    Meddler meddler(kind.what, [&] {
      if (done) return;
      done = true;
      machine.unwatch(*leaver);
      leaver.reset();
      machine.watch(comer);
      machine.unwatch(meddler);
    });
    machine.watch(meddler);
    machine.watch(*leaver);
    machine.watch(log);
    machine.run_until(kEnd / 2);
    ASSERT_TRUE(done) << kind.name;
    EXPECT_EQ(comer.text, "") << kind.name;
    const std::size_t half = log.text.size();
    machine.run_until(kEnd);
    EXPECT_EQ(log.text, expected) << kind.name;
    EXPECT_EQ(comer.text, expected.substr(half)) << kind.name;
  }
}

TEST(CallsFromObservers, MayReportFromWithinAReport) {
  const Hook quiet = [](std::string_view) {};
  const Registry registry = registry_with(quiet);
  Machine machine = machine_with(registry);
  Meddler meddler(Observer::kFindings,
                  [&] { machine.report("second", Weight::hint, 1, "follows from the first", ""); });
  machine.watch(meddler);
  machine.report("first", Weight::hint, 1, "comes first", "");
  machine.report("first", Weight::hint, 1, "", "");
  ASSERT_EQ(machine.findings().size(), 2U);
  EXPECT_EQ(machine.findings()[0].id, "first");
  EXPECT_EQ(machine.findings()[0].count, 2U);
  EXPECT_EQ(machine.findings()[1].id, "second");
  EXPECT_EQ(machine.findings()[1].count, 2U);  // once from each
}

TEST(CallsFromChips, AreRefusedAndChangeNothing) {
  const std::string expected = undisturbed();
  for (const std::string_view where : {"read", "write", "on_edge", "on_timer", "input", "save", "power_on", "start"}) {
    Machine* at = nullptr;
    int called = 0;
    const Hook hook = [&](std::string_view here) {
      if (at == nullptr || here != where) return;
      ++called;
      for (const Call& call : calls()) EXPECT_TRUE(refused(*at, call)) << call.name << " from " << where;
      EXPECT_FALSE(at->cpu().set(0, 0x55) && (here == "read" || here == "write")) << where;
    };
    const Registry registry = registry_with(hook);
    Machine machine = machine_with(registry);
    at = &machine;
    Log log;
    machine.watch(log);
    machine.run_until(kEnd);
    EXPECT_EQ(log.text, expected) << where;
    machine.set("R", "x");
    machine.power_cycle();
    EXPECT_GT(called, 0) << where;
  }
}

// ---------------------------------------------------------------------------------------------------------------------
// Exceptions out of observers

TEST(ThrowingObservers, EndTheRunAfterTheCycle) {
  const std::string expected = undisturbed();
  const Hook quiet = [](std::string_view) {};
  const Registry registry = registry_with(quiet);
  for (const Kind& kind : kKinds) {
    Machine machine = machine_with(registry);
    int countdown = 0, told = 0, thrown = 0;
    Meddler meddler(kind.what, [&] {
      ++told;
      if (countdown-- > 0) return;
      countdown = 7;
      throw std::runtime_error(kind.name);
    });
    Log log;
    machine.watch(meddler);
    machine.watch(log);
    while (machine.now() < kEnd) {
      try {
        thrown % 3 == 2 ? machine.step_instruction() : machine.run_until(kEnd);
      } catch (const std::runtime_error& error) {
        EXPECT_STREQ(error.what(), kind.name);
        ++thrown;
      }
      machine.restore(machine.save());  // it is whole
    }
    // A step may have gone beyond the end.
    EXPECT_EQ(log.text.substr(0, expected.size()), expected) << kind.name;
    EXPECT_GT(thrown, 0) << kind.name;
    EXPECT_GT(told, thrown) << kind.name;
  }
}

TEST(ThrowingObservers, LetACallDoWhatItDoes) {
  const Hook quiet = [](std::string_view) {};
  const Registry registry = registry_with(quiet);
  Machine machine = machine_with(registry), calm = machine_with(registry);
  for (Machine* each : {&machine, &calm}) each->run_until(100);
  Meddler meddler(Observer::kNets, [] { throw 1; });  // anything may be thrown
  machine.watch(meddler);
  EXPECT_THROW(machine.set("R", "x"), int);
  EXPECT_THROW(machine.reset(), int);
  machine.unwatch(meddler);
  calm.set("R", "x");
  calm.reset();
  EXPECT_TRUE(machine.save() == calm.save());
  Meddler reporter(Observer::kFindings, [] { throw 2; });
  machine.watch(reporter);
  EXPECT_THROW(machine.report("one", Weight::hint, 0, "", ""), int);
  EXPECT_TRUE(machine.found("one", 0));
  machine.unwatch(reporter);
  machine.run_until(kEnd);
  calm.run_until(kEnd);
  EXPECT_TRUE(machine.save() == calm.save());
}

TEST(ThrowingObservers, EndALookAtThePast) {
  const Hook quiet = [](std::string_view) {};
  const Registry registry = registry_with(quiet);
  Machine machine = machine_with(registry);
  History history(machine);
  machine.run_until(kEnd);
  const Snapshot here = machine.save();
  for (const Kind& kind : kKinds) {
    if (kind.what == Observer::kFindings) continue;  // they are not found again
    int countdown = 5;
    Meddler meddler(kind.what, [&] {
      if (--countdown < 0) throw std::runtime_error("seen enough");
    });
    EXPECT_THROW(history.show_again(meddler, 500), std::runtime_error) << kind.name;
    EXPECT_TRUE(machine.save() == here) << kind.name;
  }
  const auto give_up = []() -> bool { throw std::runtime_error("no more"); };
  EXPECT_THROW(history.last({Wanted::Kind::write, 0x7F0, 0x7F0}, give_up), std::runtime_error);
  EXPECT_TRUE(machine.save() == here);
  EXPECT_TRUE(history.go_to(700));
  EXPECT_TRUE(history.go_to(kEnd));
  EXPECT_TRUE(machine.save() == here);
}

// ---------------------------------------------------------------------------------------------------------------------
// Exceptions out of chips

/// Throws once, at the given function, when armed.
struct Trap {
  std::string where;
  int after = 0;  // so many times
  bool armed = false;
  void operator()(std::string_view here) {
    if (!armed || here != where || after-- > 0) return;
    armed = false;
    throw std::runtime_error(where);
  }
};

class ThrowingChips : public ::testing::TestWithParam<const char*> {};

TEST_P(ThrowingChips, LeaveAMachineThatCanBeMended) {
  const std::string expected = undisturbed(false);
  Trap trap{GetParam()};
  const Hook hook = [&](std::string_view here) { trap(here); };
  const Registry registry = registry_with(hook);
  for (int after = 0; after < 12; ++after) {
    Machine machine = machine_with(registry);
    const Snapshot start = machine.save();
    Log log(false);
    machine.watch(log);
    machine.schedule("R", "x", 4 * 600);
    trap.armed = true;
    trap.after = after % (trap.where == "input" ? 1 : 12);
    EXPECT_THROW(machine.run_until(kEnd), std::runtime_error);
    EXPECT_LT(machine.now(), kEnd);
    // It can be looked at,
    EXPECT_EQ(machine.peek(0xF800), 0xB6);
    EXPECT_FALSE(to_string(machine.cpu()).empty());
    EXPECT_FALSE(machine.nets().empty());
    EXPECT_TRUE(machine.net("R.OUT"));
    EXPECT_EQ(machine.chips().size(), 4U);
    // not more,
    for (std::size_t i = 0; i < calls().size() - kMending; ++i)
      EXPECT_TRUE(refused(machine, calls()[i])) << calls()[i].name;
    // and mended.
    log.text.clear();
    if (after % 2 == 0) {
      machine.restore(start);
    } else {
      machine.power_cycle();
      machine.power_cycle();
    }
    if (after % 3 == 0) {
      Machine moved = std::move(machine);
      moved.unwatch(log);
      machine = std::move(moved);
      machine.watch(log);
    }
    log.text.clear();
    machine.run_until(kEnd);
    // The program stands in a ROM that was poked: power brings its erased cells back.
    if (after % 2 == 0) {
      EXPECT_EQ(log.text, expected) << after;
    }
  }
}

TEST_P(ThrowingChips, MayBeDestroyedRightAfter) {
  Trap trap{GetParam()};
  const Hook hook = [&](std::string_view here) { trap(here); };
  const Registry registry = registry_with(hook);
  Machine machine = machine_with(registry);
  machine.schedule("R", "x", 4 * 600);
  trap.armed = true;
  {
    const History history(machine);
    EXPECT_THROW(machine.run_until(kEnd), std::runtime_error);
  }
}

INSTANTIATE_TEST_SUITE_P(Where, ThrowingChips, ::testing::Values("read", "write", "on_edge", "on_timer", "input"),
                         [](const auto& test) { return std::string(test.param); });

TEST(ThrowingChip, BreaksNothingThatOnlyLooks) {
  Trap trap;
  const Hook hook = [&](std::string_view here) { trap(here); };
  const Registry registry = registry_with(hook);
  Machine machine = machine_with(registry);
  machine.run_until(333);
  const Snapshot here = machine.save();
  const auto look = [&](const char* where, const std::function<void()>& act) {
    trap = {where, 0, true};
    EXPECT_THROW(act(), std::runtime_error) << where;
    EXPECT_FALSE(trap.armed) << where;
    EXPECT_TRUE(machine.save() == here) << where;
  };
  look("peek", [&] { machine.peek(0x4000); });
  look("lamps", [&] { machine.chips(); });
  look("parse_input", [&] { machine.set("R", "x"); });
  look("parse_input", [&] { machine.schedule("R", "x", 9'999); });
  look("save", [&] { machine.save(); });
  look("load", [&] { machine.restore(here); });
  look("save", [&] { machine.restore(here); });
  look("save", [&] { History history(machine); });
  Snapshot into = machine.save();
  trap = {"save", 0, true};
  EXPECT_THROW(machine.save(into), std::runtime_error);
  EXPECT_TRUE(into.bytes().empty());
  Machine calm = machine_with(registry);
  calm.run_until(kEnd);
  machine.run_until(kEnd);
  EXPECT_TRUE(machine.save() == calm.save());
}

TEST(ThrowingChip, LeavesTheMachineWhereItIsWhenThePastIsRunAgain) {
  Trap trap;
  const Hook hook = [&](std::string_view here) { trap(here); };
  const Registry registry = registry_with(hook);
  Machine machine = machine_with(registry);
  History history(machine);
  machine.run_until(300);
  machine.set("R", "x");
  machine.run_until(kEnd);
  const Snapshot here = machine.save();
  const std::size_t found = machine.findings().size();
  for (const char* where : {"read", "write", "on_edge", "on_timer", "input", "load"}) {
    const std::vector<std::function<void()>> looks{
        [&] { history.go_to(kEnd - 900); },
        [&] {
          history.last({Wanted::Kind::write, 0x7F0, 0x7F0});
        },
        [&] {
          history.back_to({Wanted::Kind::net, 0, 0, "R.OUT"});
        },
        [&] { history.back_instruction(); },
        [&] { machine.way_here(5000); },
    };
    for (std::size_t i = 0; i < looks.size(); ++i) {
      trap = {where, where == std::string_view("input") || where == std::string_view("load") ? 0 : 3, true};
      EXPECT_THROW(looks[i](), std::runtime_error) << where << ' ' << i;
      EXPECT_TRUE(machine.save() == here) << where << ' ' << i;
      EXPECT_EQ(machine.findings().size(), found);
    }
  }
  EXPECT_TRUE(history.go_to(400));
  EXPECT_TRUE(history.go_to(kEnd));
  EXPECT_TRUE(machine.save() == here);
}

TEST(ThrowingChip, LeavesNoMachine) {
  for (const char* where : {"constructor", "power_on", "start"}) {
    Trap trap{where, 0, true};
    const Hook hook = [&](std::string_view here) { trap(here); };
    const Registry registry = registry_with(hook);
    EXPECT_THROW(machine_with(registry), std::runtime_error) << where;
  }
}

TEST(ThrowingChip, MayThrowWhenPowerComesBack) {
  Trap trap;
  const Hook hook = [&](std::string_view here) { trap(here); };
  const Registry registry = registry_with(hook);
  for (const char* where : {"power_on", "start"}) {
    Machine machine = machine_with(registry);
    const Snapshot start = machine.save();
    machine.run_until(200);
    trap = {where, 0, true};
    EXPECT_THROW(machine.power_cycle(), std::runtime_error);
    EXPECT_TRUE(refused(machine, calls()[0])) << where;
    machine.restore(start);
    machine.run_until(200);
    machine.power_cycle();
    EXPECT_EQ(machine.now(), 0);
  }
}

TEST(ThrowingChip, LeavesTheMachineBrokenIfEvenMendingFails) {
  std::string always;
  const Hook hook = [&](std::string_view here) {
    if (here == always) throw std::runtime_error(always);
  };
  const Registry registry = registry_with(hook);
  Machine machine = machine_with(registry);
  const Snapshot start = machine.save();
  always = "load";
  EXPECT_THROW(machine.restore(start), std::runtime_error);
  EXPECT_TRUE(refused(machine, calls()[0]));
  always.clear();
  machine.restore(start);
  machine.run_until(100);
  EXPECT_EQ(machine.now(), 100);
}

TEST(ChipTypes, ThatMakeNoChipMakeNoMachine) {
  for (const bool empty : {false, true}) {
    Registry registry = standard_chips();
    ChipType type;
    type.name = type.title = type.summary = "nothing";
    if (!empty) type.make = [](Socket&, const Parameters&) { return std::unique_ptr<Chip>(); };
    registry.add(std::move(type));
    const std::string json = R"({"machine": "m", "cpu": {"type": "mc6800", "clock": "1 MHz"},
                                 "chips": {"U7": {"type": "nothing"}}, "wires": []})";
    LoadOptions options;
    options.run_faulty = true;
    try {
      Machine::from_text(json, "m.json", registry, options);
      FAIL();
    } catch (const std::logic_error& error) {
      EXPECT_STREQ(error.what(), "the chip type nothing makes no chip for U7");
    }
  }
}

// ---------------------------------------------------------------------------------------------------------------------
// The reset line

TEST(ResetLine, IsHeldAfterPowerOnWhateverTheButtonDoes) {
  const Hook quiet = [](std::string_view) {};
  const Registry registry = registry_with(quiet);
  const auto low_until = [](Machine& machine) {
    while (machine.net("RESET")->level == Level::low && machine.now() < 100) machine.step_cycle();
    return machine.now();
  };
  Machine plain = machine_with(registry);
  EXPECT_EQ(low_until(plain), 8);
  Machine released = machine_with(registry);
  released.set("RESET", "released");
  EXPECT_EQ(low_until(released), 8);
  plain.run_until(kEnd);
  released.run_until(kEnd);
  EXPECT_TRUE(plain.save() == released.save());
  Machine tapped = machine_with(registry);
  tapped.schedule("RESET", "pressed", 4 * 2);
  tapped.schedule("RESET", "released", 4 * 5);
  EXPECT_EQ(low_until(tapped), 8);
  Machine held = machine_with(registry);
  held.set("RESET", "pressed");
  held.schedule("RESET", "released", 4 * 30);
  EXPECT_EQ(low_until(held), 30);
  // The same goes for a reset later on.
  held.run_until(50);
  held.reset();
  held.run_until(53);
  held.set("RESET", "released");
  EXPECT_EQ(low_until(held), 58);
}

}  // namespace
}  // namespace prewire::testing
