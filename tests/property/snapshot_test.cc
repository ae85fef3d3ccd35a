// A state that is saved to bytes at a random cycle and loaded by another machine goes on as the first one does; bytes
// at random are refused or run.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cstring>
#include <string>
#include <vector>

#include "machine/hash.h"
#include "paths.h"
#include "prewire/chips.h"
#include "property/random_machine.h"

namespace prewire::testing {
namespace {

constexpr Cycle kLength = 1'500;

/// Everything from a cycle on, as a number; what is told of nets includes the moment.
class CarriedLog final : public Observer {
 public:
  unsigned wants() const override { return kCycles | kInstructions | kNets; }
  void on_cycle(const BusCycle& c) override {
    number(c.cycle), number(c.address), number(c.data), number(c.begin()), number(c.fall());
    number(c.vma + 2 * c.rw + 4 * c.ba + 8 * c.bs + 16 * c.fetch + 32 * c.driven);
  }
  void on_instruction(const Cpu& cpu, std::uint16_t pc, int opcode, Cycle cycle) override {
    number(pc), number(opcode), number(cycle);
    hash.text(to_string(cpu));
  }
  void on_net(std::string_view net, const NetState& state, Stamp when) override {
    hash.text(net);
    number(static_cast<int>(state.level)), number(state.microvolts), number(when);
  }
  Hash hash;

 private:
  void number(std::int64_t value) { hash.number(value); }
};

Snapshot carried(const Machine& machine) { return Snapshot::from_bytes(machine.save().to_bytes()); }

class CarriedStates : public ::testing::TestWithParam<std::tuple<Family, int>> {};

TEST_P(CarriedStates, GoOnAsTheFirstMachineDoes) {
  const auto [family, seed] = GetParam();
  const Registry registry = random_registry(family);
  LoadOptions options;
  options.run_faulty = true;
  Random random(static_cast<std::uint64_t>(seed) + 9'000);
  const std::string text = random_machine(random, family);
  for (int program = 0; program < 3; ++program) {
    Machine first = Machine::from_text(text, "random.json", registry, options);
    random_program(first, random, kLength, family);
    Machine start = Machine::from_text(text, "random.json", registry, options);
    start.restore(carried(first));
    CarriedLog whole;
    first.watch(whole);
    first.run_until(kLength);
    const Snapshot end = first.save();
    // The same once more, by one machine after the other.
    CarriedLog log;
    std::vector<Machine> machines;
    machines.push_back(std::move(start));
    for (;;) {
      Machine& machine = machines.back();
      machine.watch(log);
      const Cycle before = machine.now();
      machine.run_until(std::min(kLength, before + 1 + random.below(200)));
      machine.unwatch(log);
      if (machine.now() >= kLength || machine.now() == before) break;
      Machine next = Machine::from_text(text, "random.json", registry, options);
      if (random.one_in(3)) next.run_until(random.below(300));  // whatever it did before
      next.restore(carried(machine));
      machines.push_back(std::move(next));
    }
    EXPECT_EQ(log.hash.value(), whole.hash.value()) << "seed " << seed << ", program " << program;
    EXPECT_TRUE(machines.back().save() == end) << "seed " << seed << ", program " << program;
    for (Machine& machine : machines) machine.unwatch(log);
    first.unwatch(whole);
  }
}

INSTANTIATE_TEST_SUITE_P(Seeds, CarriedStates,
                         ::testing::Combine(::testing::Values(Family::mc6800, Family::mc6809), ::testing::Range(0, 20)),
                         [](const auto& of) {
                           return fmt::format("{}_{}", name_of(std::get<0>(of.param)), std::get<1>(of.param));
                         });

class CarriedLabs : public ::testing::TestWithParam<const char*> {};

TEST_P(CarriedLabs, GoOnAsTheFirstMachineDoes) {
  const auto build = [] {
    return Machine::from_file(source_folder() / "scenarios" / "rain_barrel" / GetParam(), standard_chips());
  };
  Random random(4711);
  Machine first = build();
  for (int i = 0; i < 20; ++i) {
    first.schedule("FLOAT", fmt::format("{} mV", random.below(5'000)), 4 * 10'000 * (i + 1) + random.below(4));
  }
  Machine other = build();
  other.restore(carried(first));
  CarriedLog whole, log;
  first.watch(whole);
  first.run_until(250'000);
  first.unwatch(whole);
  while (other.now() < 250'000) {
    other.watch(log);
    other.run_until(std::min<Cycle>(250'000, other.now() + 1 + random.below(20'000)));
    other.unwatch(log);
    Machine next = build();
    next.restore(carried(other));
    other = std::move(next);
  }
  EXPECT_EQ(log.hash.value(), whole.hash.value());
  EXPECT_TRUE(other.save() == first.save());
}

INSTANTIATE_TEST_SUITE_P(RainBarrel, CarriedLabs, ::testing::Values("gauge.json", "gauge-6809.json"),
                         [](const auto& of) {
                           return std::string(of.param).find("09") == std::string::npos ? "Mc6800" : "Mc6809";
                         });

/// The state with other bytes, as somebody makes it who knows how.
Snapshot forged_state(std::vector<std::uint8_t> bytes) {
  const std::uint64_t length = bytes.size() - 40;
  std::memcpy(&bytes[24], &length, sizeof length);
  Hash hash;
  hash.add(std::span<const std::uint8_t>(bytes).first(32));
  hash.add(std::span<const std::uint8_t>(bytes).subspan(40));
  const std::uint64_t sum = hash.value();
  std::memcpy(&bytes[32], &sum, sizeof sum);
  return Snapshot::from_bytes(bytes);
}

TEST_P(CarriedStates, OfAnyBytesAreRefusedOrRun) {
  const auto [family, seed] = GetParam();
  const Registry registry = random_registry(family);
  LoadOptions options;
  options.run_faulty = true;
  Random random(static_cast<std::uint64_t>(seed) + 19'000);
  Machine machine = Machine::from_text(random_machine(random, family), "random.json", registry, options);
  random_program(machine, random, kLength, family);
  machine.run_until(random.below(700));
  const Snapshot before = machine.save();
  const std::vector<std::uint8_t> good = before.to_bytes();
  for (int i = 0; i < 300; ++i) {
    std::vector<std::uint8_t> bytes = good;
    // The processor's part is at the end, clock and board at the beginning: memory is nearly all of the rest.
    for (int change = 1 + random.below(3); change > 0; --change) {
      const int end = static_cast<int>(bytes.size());
      const int at = random.one_in(3)   ? end - 1 - random.below(400)
                     : random.one_in(2) ? 48 + random.below(600)
                                        : 48 + random.below(end - 48);
      if (at < 48) continue;
      bytes[static_cast<std::size_t>(at)] = static_cast<std::uint8_t>(random.one_in(2) ? random.next() : 0xFF);
    }
    try {
      machine.restore(forged_state(bytes));
      machine.run_for(200);
      machine.restore(before);
    } catch (const InputError& error) {
      ASSERT_EQ(error.faults().at(0).id, "bad-snapshot");
      ASSERT_TRUE(machine.save() == before);
    }
  }
}

}  // namespace
}  // namespace prewire::testing
