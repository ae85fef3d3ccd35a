// The lab partner only watches: random programs run the same with it.
#include "prewire/partner.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <utility>

#include "property/random_machine.h"

namespace prewire::testing {
namespace {

class Partnered : public ::testing::TestWithParam<std::pair<Family, int>> {};

TEST_P(Partnered, RunsTheSame) {
  const Family family = GetParam().first;
  const int seed = GetParam().second;
  const Registry registry = random_registry(family);
  LoadOptions options;
  options.run_faulty = true;
  const auto make = [&](Machine& machine, Random& random) { random_program(machine, random, 3000, family); };
  Random one(static_cast<std::uint64_t>(seed)), other(static_cast<std::uint64_t>(seed));
  Machine with = Machine::from_text(random_machine(one, family), "random.json", registry, options);
  Machine without = Machine::from_text(random_machine(other, family), "random.json", registry, options);
  make(with, one);
  make(without, other);
  Partner partner(with);
  for (const Cycle moment : {100, 101, 700, 701, 702, 3000}) {
    with.run_until(moment);
    without.run_until(moment);
    ASSERT_EQ(with.now(), without.now());
    ASSERT_EQ(to_string(std::as_const(with).cpu()), to_string(std::as_const(without).cpu())) << moment;
    ASSERT_TRUE(with.save() == without.save()) << moment;
  }
  partner.conclude();
  EXPECT_TRUE(with.save() == without.save());
}

std::vector<std::pair<Family, int>> cases() {
  std::vector<std::pair<Family, int>> all;
  for (int seed = 1; seed <= 60; ++seed) {
    all.emplace_back(Family::mc6800, 7000 + seed);
    all.emplace_back(Family::mc6809, 7000 + seed);
  }
  return all;
}

INSTANTIATE_TEST_SUITE_P(Random, Partnered, ::testing::ValuesIn(cases()), [](const auto& test) {
  return fmt::format("{}_{}", test.param.first == Family::mc6800 ? "mc6800" : "mc6809", test.param.second);
});

}  // namespace
}  // namespace prewire::testing
