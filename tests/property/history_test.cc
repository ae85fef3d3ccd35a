// Back by random amounts and forward again: the same states byte by byte and the same log, whatever was done from
// outside, on random machines with random programs, in whatever memory.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <map>
#include <string>
#include <vector>

#include "prewire/history.h"
#include "property/random_machine.h"

namespace prewire::testing {
namespace {

constexpr int kHistorySeeds = 24;
constexpr int kLegs = 40;

/// Every cycle and every net change, by the cycle in which it comes; a second time it must be the same.
class Log final : public Observer {
 public:
  unsigned wants() const override { return kCycles | kNets | kInstructions; }
  void on_cycle(const BusCycle& c) override {
    lines[c.cycle] += fmt::format("{:04X} {:02X} {}{}{}{}{}{} {} {};", c.address, c.data, c.vma, c.rw, c.ba, c.bs,
                                  c.fetch, c.driven, c.begin(), c.fall());
    ++told;
  }
  void on_instruction(const Cpu& cpu, std::uint16_t pc, int opcode, Cycle cycle) override {
    lines[cycle] += fmt::format("{:04X} {} {};", pc, opcode, to_string(cpu));
  }
  void on_net(std::string_view net, const NetState& state, Stamp when) override {
    // What is done between two cycles belongs to the one to come.
    lines[when / 4] += fmt::format("{} {} @{};", net, static_cast<int>(state.level), when);
  }
  /// Forgets what comes from `cycle` on.
  void cut(Cycle cycle) { lines.erase(lines.lower_bound(cycle), lines.end()); }

  std::map<Cycle, std::string> lines;
  int told = 0;
};

class HistoryOf : public ::testing::TestWithParam<std::tuple<Family, int>> {
 protected:
  Family family() const { return std::get<0>(GetParam()); }
  Random random{static_cast<std::uint64_t>(std::get<1>(GetParam()) + 7000)};
  Registry registry = random_registry(family());

  Machine make() {
    LoadOptions options;
    options.run_faulty = true;
    return Machine::from_text(random_machine(random, family()), "random.json", registry, options);
  }

  /// Something that a person does, or somebody who debugs.
  void meddle(Machine& machine) {
    switch (random.below(5)) {
      case 0: machine.set("NUISANCE", "touch"); break;
      case 1: machine.schedule("NUISANCE", "touch", machine.moment() + random.below(200)); break;
      case 2: machine.poke(static_cast<std::uint16_t>(random.next()), static_cast<std::uint8_t>(random.next())); break;
      case 3:
        machine.cpu().set(static_cast<std::size_t>(random.below(3)), static_cast<std::uint16_t>(random.next()));
        break;
      default:
        if (random.one_in(4)) machine.reset();
    }
  }
};

std::string findings(const Machine& machine) {
  std::string text;
  for (const Finding& finding : machine.findings()) {
    text += fmt::format("{} {} {:04X} {} {}\n", finding.id, finding.first, finding.pc, finding.count, finding.message);
  }
  return text;
}

struct State {
  Snapshot snapshot;
  std::string findings;
};

TEST_P(HistoryOf, GoesBackAndForthThroughTheSameStates) {
  Machine machine = make();
  random_program(machine, random, 3000, family());
  History history(machine, static_cast<std::size_t>(1 + random.below(4'000'000)));
  std::map<Cycle, State> states;
  for (int leg = 0; leg < kLegs; ++leg) {
    // Looked at before somebody meddles, a moment would be two states.
    if (random.one_in(3)) meddle(machine);
    states[machine.now()] = {machine.save(), findings(machine)};
    random.one_in(5) ? machine.step_instruction() : machine.run_for(random.below(200));
    // A step sees what comes before the next cycle, such as a RESET that cuts an instruction short; a run does not.
    machine.run_for(1);
    states.erase(machine.now());
  }
  const Cycle end = machine.now();
  states[end] = {machine.save(), findings(machine)};
  Log first, second;
  for (int trip = 0; trip < 30; ++trip) {
    auto at = states.begin();
    std::advance(at, random.below(static_cast<int>(states.size())));
    if (at->first < history.begin()) {
      EXPECT_FALSE(history.go_to(at->first));
      continue;
    }
    ASSERT_TRUE(history.go_to(at->first));
    ASSERT_EQ(machine.now(), at->first);
    ASSERT_TRUE(machine.save() == at->second.snapshot) << "back at " << at->first;
    ASSERT_EQ(findings(machine), at->second.findings) << "back at " << at->first;
    // Forward in one of the usual ways, through what was done from outside.
    auto to = at;
    std::advance(to, random.below(static_cast<int>(std::distance(at, states.end()))));
    while (machine.now() < to->first) {
      const Cycle before = machine.now();
      random.one_in(2) ? machine.run_until(std::min(to->first, before + 1 + random.below(300))) : machine.step_cycle();
      if (machine.now() == before) break;  // an undefined opcode
    }
    ASSERT_TRUE(machine.save() == to->second.snapshot) << "from " << at->first << " to " << to->first;
    ASSERT_EQ(findings(machine), to->second.findings) << "from " << at->first << " to " << to->first;
  }
  EXPECT_EQ(history.end(), end);
}

TEST_P(HistoryOf, GivesTheSameLogASecondTime) {
  Machine machine = make();
  random_program(machine, random, 3000, family());
  History history(machine, 1 << 20);
  Log live;
  machine.watch(live);
  for (int leg = 0; leg < kLegs; ++leg) {
    if (random.one_in(3)) meddle(machine);
    machine.run_for(1 + random.below(100));
  }
  machine.unwatch(live);
  const Cycle end = machine.now();
  for (int trip = 0; trip < 6; ++trip) {
    const Cycle from = history.begin() + random.below(static_cast<int>(end - history.begin()) + 1);
    Log again;
    machine.watch(again);
    ASSERT_TRUE(history.go_to(from));
    ASSERT_EQ(again.told, 0) << "going back is silent";
    while (machine.now() < end) {
      const Cycle before = machine.now();
      machine.run_until(std::min(end, before + 1 + random.below(400)));
      if (machine.now() == before) break;
    }
    machine.unwatch(again);
    for (const auto& [cycle, line] : again.lines) {
      // What was done at the moment to which it went is done when it gets there.
      if (cycle <= from || cycle >= end) continue;
      ASSERT_EQ(line, live.lines[cycle]) << "cycle " << cycle << " from " << from;
    }
    ASSERT_TRUE(history.go_to(end));
  }
}

TEST_P(HistoryOf, StepsBackThroughTheSameInstructions) {
  Machine machine = make();
  random_program(machine, random, 3000, family());
  History history(machine);
  machine.run_until(40 + random.below(300));
  if (machine.cpu().cycles_into_instruction() > 0) machine.step_instruction();
  std::vector<Cycle> boundaries{machine.now()};
  for (int step = 0; step < 60; ++step) {
    machine.step_instruction();
    if (machine.now() == boundaries.back()) break;
    boundaries.push_back(machine.now());
  }
  while (boundaries.size() > 1) {
    boundaries.pop_back();
    ASSERT_TRUE(history.back_instruction());
    ASSERT_EQ(machine.now(), boundaries.back());
  }
}

/// The last access, found the slow way.
class LastAccess final : public Observer {
 public:
  unsigned wants() const override { return kCycles; }
  void on_cycle(const BusCycle& c) override {
    if (c.vma) last[c.rw ? 1 : 0][c.address] = c;
  }
  std::map<std::uint16_t, BusCycle> last[2];
};

TEST_P(HistoryOf, FindsTheLastAccessToEveryAddress) {
  Machine machine = make();
  random_program(machine, random, 3000, family());
  History history(machine, 200'000);
  LastAccess accesses;
  machine.watch(accesses);
  machine.run_until(1500);
  machine.unwatch(accesses);
  const Snapshot before = machine.save();
  for (const bool read : {false, true}) {
    int most = 12;
    for (const auto& [address, cycle] : accesses.last[read ? 1 : 0]) {
      if (most-- == 0) break;
      const auto found = history.last({read ? Wanted::Kind::read : Wanted::Kind::write, address, address});
      ASSERT_TRUE(found) << fmt::format("${:04X}", address);
      EXPECT_EQ(found->cycle, cycle.cycle);
      EXPECT_EQ(found->when, cycle.fall());
      EXPECT_EQ(found->data, cycle.data);
      EXPECT_EQ(found->address, address);
      EXPECT_FALSE(found->by_hand);
    }
  }
  EXPECT_TRUE(machine.save() == before) << "looking back leaves the machine where it is";
}

INSTANTIATE_TEST_SUITE_P(Seeds, HistoryOf,
                         ::testing::Combine(::testing::Values(Family::mc6800, Family::mc6809),
                                            ::testing::Range(0, kHistorySeeds)),
                         [](const auto& of) {
                           return fmt::format("{}_{}", name_of(std::get<0>(of.param)), std::get<1>(of.param));
                         });

}  // namespace
}  // namespace prewire::testing
