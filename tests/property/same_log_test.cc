// The same log from every compiler and on every computer: one number for the bus cycles of a fixed set of random
// programs.
//
// The number is no source's; it was printed by this test. A deliberate change of what the processor does on the bus
// changes it, and then the new one stands in the failure's text. With an unchanged processor g++ and clang++ must agree
// on it.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <memory>

#include "prewire/coverage.h"
#include "prewire/profile.h"
#include "prewire/trace.h"
#include "prewire/waveform.h"
#include "property/random_machine.h"

namespace prewire::testing {
namespace {

/// FNV-1a, 64 bits (draft-eastlake-fnv), over everything that a cycle shows.
class Digest final : public Observer {
 public:
  unsigned wants() const override { return kCycles | kNets; }
  void on_cycle(const BusCycle& c) override {
    add(static_cast<std::uint64_t>(c.begin()), 8);
    add(static_cast<std::uint64_t>(c.fall()), 8);
    add(c.address, 2);
    add(c.data, 1);
    add(c.vma + 2U * c.rw + 4U * c.ba + 8U * c.fetch + 16U * c.driven + 32U * c.bs, 1);
    ++cycles;
  }
  void on_net(std::string_view net, const NetState& state, Stamp when) override {
    for (const char c : net) add(static_cast<std::uint8_t>(c), 1);
    add(static_cast<std::uint64_t>(state.level), 1);
    add(static_cast<std::uint64_t>(when), 8);
  }

  std::uint64_t value = 0xCBF29CE484222325;
  int cycles = 0;

 private:
  void add(std::uint64_t bits, int bytes) {
    for (; bytes > 0; --bytes, bits >>= 8) value = (value ^ (bits & 0xFF)) * 0x100000001B3;
  }
};

std::string digest_of(Family family) {
  const Registry registry = random_registry(family);
  LoadOptions options;
  options.run_faulty = true;
  Digest digest;
  for (int seed = 1001; seed <= 1012; ++seed) {
    Random random(static_cast<std::uint64_t>(seed));
    Machine machine = Machine::from_text(random_machine(random, family), "random.json", registry, options);
    for (int program = 0; program < 3; ++program) {
      machine.power_cycle();
      random_program(machine, random, 1000, family);
      machine.watch(digest);
      machine.run_until(1000);
      machine.unwatch(digest);
    }
  }
  return fmt::format("{:016X} of {} cycles", digest.value, digest.cycles);
}

TEST(SameLog, OfAnMc6800FromEveryCompiler) { EXPECT_EQ(digest_of(Family::mc6800), "C92F68D06C1DB9A7 of 20205 cycles"); }

TEST(SameLog, OfAnMc6809FromEveryCompiler) { EXPECT_EQ(digest_of(Family::mc6809), "27165330AE10C1B7 of 19058 cycles"); }

// Whoever watches, and whatever for, the machine does the same.
class Watched : public ::testing::TestWithParam<Family> {};

TEST_P(Watched, MachinesDoWhatTheyDoUnwatched) {
  const Registry registry = random_registry(GetParam());
  LoadOptions options;
  options.run_faulty = true;
  std::size_t written = 0;
  const auto take = [&](std::string_view text) { written += text.size(); };
  TracePlan instructions;
  instructions.of = TraceOf::instructions;
  using Make = std::unique_ptr<Observer> (*)(const Machine&, const TracePlan&, const Trace::Write&);
  const std::vector<Make> kWatchers{
      [](const Machine& machine, const TracePlan&, const Trace::Write&) -> std::unique_ptr<Observer> {
        return std::make_unique<Coverage>(machine);
      },
      [](const Machine& machine, const TracePlan&, const Trace::Write&) -> std::unique_ptr<Observer> {
        return std::make_unique<Profile>(machine);
      },
      [](const Machine& machine, const TracePlan& plan, const Trace::Write& write) -> std::unique_ptr<Observer> {
        return std::make_unique<Trace>(machine, plan, write);
      },
      [](const Machine& machine, const TracePlan&, const Trace::Write& write) -> std::unique_ptr<Observer> {
        return std::make_unique<Waveform>(machine, std::vector<std::string>{}, write);
      },
      [](const Machine& machine, const TracePlan&, const Trace::Write& write) -> std::unique_ptr<Observer> {
        return std::make_unique<Waveform>(machine, std::vector<std::string>{"CPU"}, write);
      },
  };
  for (int seed = 2001; seed <= 2010; ++seed) {
    Random random(static_cast<std::uint64_t>(seed));
    Machine machine = Machine::from_text(random_machine(random, GetParam()), "random.json", registry, options);
    random_program(machine, random, 1500, GetParam());
    const Snapshot begin = machine.save();
    machine.run_until(1500);
    const Snapshot alone = machine.save();
    std::vector<std::unique_ptr<Observer>> together;
    const auto run = [&] {
      Digest digest;
      machine.watch(digest);
      machine.run_until(1500);
      machine.unwatch(digest);
      return digest.value;
    };
    machine.restore(begin);
    const std::uint64_t log = run();
    for (const Make make : kWatchers) {
      machine.restore(begin);
      together.push_back(make(machine, instructions, take));
      machine.watch(*together.back());
      machine.run_until(1500);
      machine.unwatch(*together.back());
      EXPECT_EQ(machine.save(), alone) << "seed " << seed << ", watcher " << together.size();
    }
    machine.restore(begin);
    for (const auto& watcher : together) machine.watch(*watcher);
    EXPECT_EQ(run(), log) << "seed " << seed;
    EXPECT_EQ(machine.save(), alone) << "seed " << seed;
    for (const auto& watcher : together) machine.unwatch(*watcher);
  }
  EXPECT_GT(written, 100'000U);
}

INSTANTIATE_TEST_SUITE_P(Families, Watched, ::testing::Values(Family::mc6800, Family::mc6809),
                         [](const auto& test) { return std::string(name_of(test.param)); });

}  // namespace
}  // namespace prewire::testing
