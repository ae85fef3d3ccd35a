// The same cycles, however a machine is run: at once, by instruction, by bus cycle, in pieces, saved and restored,
// observed or not. Random programs on random machines; a failure names the seed, and the test's name brings it back.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <map>
#include <optional>
#include <set>
#include <utility>
#include <vector>

#include "property/random_machine.h"

namespace prewire::testing {
namespace {

#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
constexpr bool kSanitized = true;
#elif defined(__has_feature)
#if __has_feature(address_sanitizer) || __has_feature(thread_sanitizer)
constexpr bool kSanitized = true;
#else
constexpr bool kSanitized = false;
#endif
#else
constexpr bool kSanitized = false;
#endif

constexpr Cycle kCycles = 1500;
constexpr int kPrograms = kSanitized ? 2 : 6;
constexpr int kSeeds = kSanitized ? 12 : 40;

std::string shown(const BusCycle& c) {
  return fmt::format("{:6}+{}-{} ${:04X} ${:02X} {}{}{}{}{}{}", c.cycle, c.late, c.stretch, c.address, c.data,
                     c.rw ? "read" : "write", c.vma ? "" : " VMA=0", c.ba ? " BA=1" : "", c.bs ? " BS=1" : "",
                     c.fetch ? " fetch" : "", c.driven ? "" : " undriven");
}

/// Records cycles; can ask for a stop after some of them.
class Recorder final : public Observer {
 public:
  explicit Recorder(Machine& machine) : machine_(&machine) { machine.watch(*this); }
  ~Recorder() override { machine_->unwatch(*this); }
  Recorder(const Recorder&) = delete;
  Recorder& operator=(const Recorder&) = delete;

  /// Goes on recording at another machine.
  void move_to(Machine& machine) {
    machine_->unwatch(*this);
    machine_ = &machine;
    machine.watch(*this);
  }
  unsigned wants() const override { return kCycles | kInstructions | kNets | kFindings; }
  void on_cycle(const BusCycle& cycle) override {
    if (paused) return;
    log.push_back(cycle);
    if (stops != nullptr && stops->one_in(20)) machine_->request_stop();
  }

  std::vector<BusCycle> log;
  Random* stops = nullptr;
  bool paused = false;

 private:
  Machine* machine_;
};

/// Wants everything but cycles, so that fast memory stays fast.
class Bystander final : public Observer {
 public:
  unsigned wants() const override { return kNets | kEvents | kFindings; }
};

/// Records instructions and nothing else, so that only their first cycles are slow; can ask for a stop at some of them.
class Listing final : public Observer {
 public:
  explicit Listing(Machine& machine) : machine_(machine) { machine.watch(*this); }
  ~Listing() override { machine_.unwatch(*this); }
  Listing(const Listing&) = delete;
  Listing& operator=(const Listing&) = delete;

  unsigned wants() const override { return kInstructions; }
  void on_instruction(const Cpu& cpu, std::uint16_t pc, int opcode, Cycle cycle) override {
    log.push_back(fmt::format("{:6} ${:04X} {:3} {}", cycle, pc, opcode, to_string(cpu)));
    if (stops != nullptr && stops->one_in(20)) machine_.request_stop();
  }

  std::vector<std::string> log;
  Random* stops = nullptr;

 private:
  Machine& machine_;
};

class RunStyles : public ::testing::TestWithParam<std::pair<Family, int>> {
 public:
  static std::string name(const std::pair<Family, int>& parameter) {
    return fmt::format("{}_{}", name_of(parameter.first), parameter.second);
  }

 protected:
  RunStyles()
      : random_(seed()),
        registry_(random_registry(family())),
        text_(random_machine(random_, family())),
        machine_(load()),
        other_(load()) {}

  static Family family() { return GetParam().first; }
  static std::uint64_t seed() { return static_cast<std::uint64_t>(GetParam().second); }
  Machine load() {
    LoadOptions options;
    options.run_faulty = true;  // odd machines on purpose
    return Machine::from_text(text_, "random.json", registry_, options);
  }

  void begin() { machine_.restore(initial_); }
  bool over(const Machine& machine) const {
    return machine.now() >= kCycles || machine.cpu().state() == CpuState::stuck;
  }
  bool over() const { return over(machine_); }

  void expect_log(const std::vector<BusCycle>& log, const char* style, bool overshoot = false) {
    const std::size_t common = std::min(log.size(), expected_.size());
    for (std::size_t i = 0; i < common; ++i) {
      if (log[i] == expected_[i]) continue;
      std::string before;
      for (std::size_t j = i < 12 ? 0 : i - 12; j < i; ++j) before += shown(expected_[j]) + "\n";
      FAIL() << style << ", program " << program_ << "\n"
             << before << "at once: " << shown(expected_[i]) << "\nnow:     " << shown(log[i]) << "\n"
             << reproduce();
    }
    if (overshoot && log.size() > expected_.size()) return;
    EXPECT_EQ(log.size(), expected_.size()) << style << ", program " << program_ << "\n" << reproduce();
  }
  void expect_state(const char* style) { expect_state(machine_, style); }
  void expect_state(const Machine& machine, const char* style) {
    const Snapshot now = machine.save();
    if (now == final_) return;
    std::string where;
    const auto a = final_.bytes(), b = now.bytes();
    for (std::size_t i = 0; i < std::min(a.size(), b.size()) && where.size() < 200; ++i) {
      if (a[i] != b[i]) where += fmt::format(" {}:{:02X}->{:02X}", i, a[i], b[i]);
    }
    ADD_FAILURE() << style << ", program " << program_ << ": another state in the end, " << a.size() << " and "
                  << b.size() << " bytes, differing at" << where << "\n"
                  << to_string(machine.cpu()) << "\n"
                  << reproduce();
  }
  std::string reproduce() const {
    return fmt::format("to see it again: --gtest_filter='*RunStyles*/{}'\n{}", name(GetParam()), text_);
  }

  void observed_styles();
  void watched_instructions();
  void unobserved_styles();
  void breakpoints();

  Random random_;
  const Registry registry_;
  const std::string text_;
  Machine machine_, other_;
  int program_ = 0;
  Snapshot initial_, final_;
  std::vector<BusCycle> expected_;
};

void RunStyles::observed_styles() {
  {
    begin();
    Recorder recorder(machine_);
    while (!over()) machine_.step_instruction();
    expect_log(recorder.log, "by instruction", true);
  }
  {
    begin();
    Recorder recorder(machine_);
    while (!over()) machine_.step_cycle();
    expect_log(recorder.log, "by bus cycle");
    expect_state("by bus cycle");
  }
  {
    begin();
    Recorder recorder(machine_);
    while (!over()) machine_.run_until(std::min(kCycles, machine_.now() + 1 + random_.below(30)));
    expect_log(recorder.log, "in pieces");
    expect_state("in pieces");
  }
  {
    begin();
    Recorder recorder(machine_);
    recorder.stops = &random_;
    while (!over()) machine_.run_until(kCycles);
    expect_log(recorder.log, "with stops by an observer");
    expect_state("with stops by an observer");
  }
  {
    // Back to a saved state after some time that does not count.
    begin();
    Recorder recorder(machine_);
    while (!over()) {
      machine_.run_until(std::min(kCycles, machine_.now() + 1 + random_.below(60)));
      const Snapshot snapshot = machine_.save();
      recorder.paused = true;
      machine_.run_for(random_.below(40));
      machine_.restore(snapshot);
      recorder.paused = false;
    }
    expect_log(recorder.log, "saved and restored");
    expect_state("saved and restored");
  }
  {
    // From one machine to another and back.
    begin();
    Recorder recorder(machine_);
    Machine* here = &machine_;
    while (!over(*here)) {
      here->run_until(std::min(kCycles, here->now() + 1 + random_.below(60)));
      Machine* there = here == &machine_ ? &other_ : &machine_;
      there->restore(here->save());
      recorder.move_to(*there);
      here = there;
    }
    expect_log(recorder.log, "moved to another machine");
    expect_state(*here, "moved to another machine");
  }
}

/// Beside somebody who wants each cycle every fetch is slow anyway.
void RunStyles::watched_instructions() {
  std::vector<std::string> expected;
  {
    begin();
    Recorder recorder(machine_);
    Listing listing(machine_);
    machine_.run_until(kCycles);
    expected = std::move(listing.log);
  }
  for (const bool stops : {false, true}) {
    const char* style = stops ? "with stops at instructions" : "instructions observed";
    begin();
    Listing listing(machine_);
    if (stops) listing.stops = &random_;
    while (!over()) machine_.run_until(kCycles);
    EXPECT_EQ(listing.log, expected) << style << ", program " << program_ << "\n" << reproduce();
    expect_state(style);
  }
}

void RunStyles::unobserved_styles() {
  begin();
  machine_.run_until(kCycles);
  expect_state("at once, unobserved");
  machine_.way_here(20);
  expect_state("after a look at the way here");

  begin();
  Bystander bystander;
  machine_.watch(bystander);
  machine_.run_until(kCycles);
  machine_.unwatch(bystander);
  expect_state("nets, events and findings observed");

  begin();
  while (!over()) machine_.step_cycle();
  expect_state("by bus cycle, unobserved");

  begin();
  while (!over() && machine_.now() < kCycles - 30) machine_.step_instruction();
  if (!over()) machine_.run_until(kCycles);
  expect_state("by instruction, unobserved");

  begin();
  while (!over()) machine_.run_until(std::min(kCycles, machine_.now() + 1 + random_.below(90)));
  expect_state("in pieces, unobserved");

  begin();
  while (!over()) {
    machine_.run_until(std::min(kCycles, machine_.now() + 1 + random_.below(90)));
    const Snapshot snapshot = machine_.save();
    machine_.run_for(random_.below(40));
    machine_.restore(snapshot);
  }
  expect_state("saved and restored, unobserved");

  // Watched now and then.
  begin();
  std::vector<BusCycle> log;
  while (!over()) {
    std::optional<Recorder> recorder;
    if (random_.one_in(2)) recorder.emplace(machine_);
    machine_.run_until(std::min(kCycles, machine_.now() + 1 + random_.below(90)));
    if (!recorder) continue;
    for (const BusCycle& cycle : recorder->log) {
      const auto expected = std::find_if(expected_.begin(), expected_.end(),
                                         [&](const BusCycle& each) { return each.cycle == cycle.cycle; });
      ASSERT_NE(expected, expected_.end());
      EXPECT_EQ(shown(cycle), shown(*expected)) << program_ << reproduce();
      if (HasFailure()) return;
    }
  }
  expect_state("watched now and then");
}

/// Breakpoints stop a run and change nothing.
void RunStyles::breakpoints() {
  begin();
  std::set<std::uint16_t> addresses;
  for (const BusCycle& cycle : expected_) {
    if (cycle.fetch && random_.one_in(10)) addresses.insert(cycle.address);
  }
  const auto set = [&](bool on) {
    for (Machine* machine : {&machine_, &other_}) {
      for (const std::uint16_t address : addresses) machine->set_breakpoint(address, on);
    }
  };
  set(true);
  Recorder recorder(machine_);
  int stops = 0;
  while (!over()) stops += machine_.run_until(kCycles).reason == StopReason::breakpoint;
  set(false);
  EXPECT_GE(stops, addresses.empty() ? 0 : 1);
  expect_log(recorder.log, "with breakpoints");
}

TEST_P(RunStyles, GiveTheSameCycles) {
  for (program_ = 0; program_ < kPrograms && !HasFailure(); ++program_) {
    random_ = Random(seed() << 8 | static_cast<std::uint64_t>(program_));
    machine_.power_cycle();
    random_program(machine_, random_, kCycles, family());
    initial_ = machine_.save();
    {
      Recorder recorder(machine_);
      machine_.run_until(kCycles);
      expected_ = std::move(recorder.log);
    }
    final_ = machine_.save();
    // Every cycle was seen, one after the other; only a stretched one can be left unfinished.
    Stamp end = 0;
    for (const BusCycle& cycle : expected_) {
      ASSERT_EQ(cycle.begin(), end) << shown(cycle);
      end = cycle.fall();
    }
    if (text_.find("MR") == std::string::npos) {
      ASSERT_EQ(machine_.moment(), end);
    } else {
      ASSERT_GE(machine_.moment(), end);
    }
    ASSERT_EQ(machine_.now(), machine_.moment() / 4);
    observed_styles();
    watched_instructions();
    unobserved_styles();
    breakpoints();
  }
}

// Somebody who listens to E and other outputs makes every cycle a slow one, and changes nothing.
TEST_P(RunStyles, GiveTheSameCyclesWithAProbe) {
  std::vector<Machine> machines;
  for (const Probed probe : {Probed::never, Probed::always}) {
    random_ = Random(seed());
    LoadOptions options;
    options.run_faulty = true;
    machines.push_back(Machine::from_text(random_machine(random_, family(), probe), "random.json", registry_, options));
  }
  for (program_ = 0; program_ < kPrograms && !HasFailure(); ++program_) {
    std::vector<BusCycle> logs[2];
    for (int i = 0; i < 2; ++i) {
      random_ = Random(seed() << 8 | static_cast<std::uint64_t>(program_));
      machines[i].power_cycle();
      random_program(machines[i], random_, kCycles, family());
      Recorder recorder(machines[i]);
      machines[i].run_until(kCycles);
      logs[i] = std::move(recorder.log);
    }
    expected_ = std::move(logs[0]);
    expect_log(logs[1], "with a probe");
  }
}

// A test of the test: the programs go where it is interesting.
class RandomPrograms : public ::testing::TestWithParam<Family> {};

TEST_P(RandomPrograms, AreWorthRunning) {
  struct Counter final : Observer {
    unsigned wants() const override { return kCycles | kInstructions | kNets; }
    void on_cycle(const BusCycle& cycle) override {
      ++cycles;
      written += cycle.vma && !cycle.rw;
      let_go += cycle.ba;
      undriven_writes += !cycle.rw && !cycle.driven;
      stretched += cycle.stretch > 0;
      ++by_late[cycle.late];
      held += cycle.address == 0xFFFE && (mc6809 ? !cycle.bs : !cycle.vma);
      for (auto& [vector, count] : vectors) count += cycle.vma && cycle.address == vector;
    }
    void on_instruction(const Cpu&, std::uint16_t pc, int opcode, Cycle) override {
      opcodes.insert(opcode);
      repeated += !seen.insert(pc).second;
      ++instructions;
    }
    void on_net(std::string_view net, const NetState& state, Stamp) override {
      if (net == "CPU.TSC") stolen += state.level == Level::high;
      if (net == "CPU.DMA/BREQ") stolen += state.level == Level::low;
    }
    bool mc6809 = false;
    int cycles = 0, instructions = 0, repeated = 0, written = 0, let_go = 0, undriven_writes = 0, held = 0, stolen = 0;
    int stretched = 0;
    std::array<int, 4> by_late{};
    std::map<int, int> vectors{{0xFFF8, 0}, {0xFFFA, 0}, {0xFFFC, 0}};
    std::set<int> opcodes;
    std::set<std::uint16_t> seen;
  } all;
  all.mc6809 = GetParam() == Family::mc6809;
  if (all.mc6809) all.vectors.insert({{0xFFF2, 0}, {0xFFF4, 0}, {0xFFF6, 0}});
  const Registry registry = random_registry(GetParam());
  LoadOptions options;
  options.run_faulty = true;
  constexpr int kMachines = 40, kEach = 3;  // with sanitizers, too
  for (int seed = 1; seed <= kMachines; ++seed) {
    Random random(static_cast<std::uint64_t>(seed));
    Machine machine = Machine::from_text(random_machine(random, GetParam()), "random.json", registry, options);
    for (int program = 0; program < kEach; ++program) {
      random = Random(static_cast<std::uint64_t>(seed) << 8 | static_cast<std::uint64_t>(program));
      machine.power_cycle();
      random_program(machine, random, kCycles, GetParam());
      machine.watch(all);
      machine.run_until(kCycles);
      machine.unwatch(all);
      all.seen.clear();
    }
  }
  const int programs = kMachines * kEach;
  EXPECT_GT(all.cycles, programs * kCycles / 3);
  EXPECT_GT(all.repeated, all.instructions / 4);  // loops
  EXPECT_GT(all.written, programs * 10);
  EXPECT_GT(all.let_go, programs);
  EXPECT_GT(all.held, programs * 9);
  EXPECT_GT(all.stolen, programs / 4);
  EXPECT_GT(all.stretched, programs * 10);
  for (const int late : {1, 2, 3}) EXPECT_EQ(all.by_late[late] > programs, all.mc6809 || late == 2) << late;
  if (!all.mc6809) {
    EXPECT_GT(all.undriven_writes, 0);
  }
  for (const auto& [vector, count] : all.vectors) {
    const bool one_opcode_of_many = vector < 0xFFF6;  // SWI2, SWI3
    EXPECT_GT(count, programs / (one_opcode_of_many ? 12 : 4)) << vector;
  }
  std::set<int> first_bytes{-1};  // and interrupt entries
  for (const Instruction& row : instructions_of(GetParam()).rows()) {
    first_bytes.insert(row.prefix != 0 ? row.prefix : row.opcode);
  }
  EXPECT_GE(all.opcodes.size(), first_bytes.size());
}

INSTANTIATE_TEST_SUITE_P(Families, RandomPrograms, ::testing::Values(Family::mc6800, Family::mc6809),
                         [](const auto& test) { return std::string(name_of(test.param)); });

std::vector<std::pair<Family, int>> all_seeds() {
  std::vector<std::pair<Family, int>> seeds;
  for (const Family family : {Family::mc6800, Family::mc6809}) {
    for (int seed = 1; seed <= kSeeds; ++seed) seeds.emplace_back(family, seed);
  }
  return seeds;
}

INSTANTIATE_TEST_SUITE_P(Seeds, RunStyles, ::testing::ValuesIn(all_seeds()),
                         [](const auto& test) { return RunStyles::name(test.param); });

}  // namespace
}  // namespace prewire::testing
