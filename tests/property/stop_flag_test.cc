// A flag that goes up at any moment, raised by another thread or by an observer, changes nothing but where runs end.
#include <gtest/gtest.h>

#include <atomic>
#include <chrono>
#include <string>
#include <thread>
#include <vector>

#include "property/random_machine.h"

namespace prewire::testing {
namespace {

constexpr Cycle kFlagged = 4'000;

class FlaggedLog final : public Observer {
 public:
  FlaggedLog(StopFlag* flag, Random& random) : flag_(flag), random_(random) {}
  unsigned wants() const override { return kCycles | kNets; }
  void on_cycle(const BusCycle& cycle) override {
    cycles.push_back(cycle);
    if (flag_ != nullptr && random_.one_in(40)) flag_->raise();
  }
  void on_net(std::string_view, const NetState&, Stamp when) override {
    moments.push_back(when);
    if (flag_ != nullptr && random_.one_in(40)) flag_->raise();
  }
  std::vector<BusCycle> cycles;
  std::vector<Stamp> moments;

 private:
  StopFlag* flag_;
  Random& random_;
};

class Flagged : public ::testing::TestWithParam<std::tuple<Family, int>> {
 protected:
  void SetUp() override {
    LoadOptions options;
    options.run_faulty = true;
    machine = std::make_unique<Machine>(
        Machine::from_text(random_machine(random, family()), "random.json", registry, options));
    random_program(*machine, random, kFlagged, family());
    start = machine->save();
  }
  Family family() const { return std::get<0>(GetParam()); }

  /// Runs to the end, however often the flag goes up. A machine that gets no farther has met an undefined opcode.
  int run(StopFlag& flag, Cycle end = kFlagged) {
    int stops = 0;
    while (machine->now() < end) {
      const Stop stop = random.one_in(4) ? machine->step_instruction() : machine->run_until(end);
      if (stop.reason == StopReason::undefined_opcode) break;
      stops += stop.reason == StopReason::interrupted;
      flag.lower();
    }
    return stops;
  }

  Random random{static_cast<std::uint64_t>(std::get<1>(GetParam())) + 31'000};
  Registry registry = random_registry(family());
  std::unique_ptr<Machine> machine;
  Snapshot start;
};

TEST_P(Flagged, MachinesGiveTheSameLog) {
  FlaggedLog expected(nullptr, random);
  machine->watch(expected);
  machine->run_until(kFlagged);
  machine->unwatch(expected);
  const Snapshot end = machine->save();
  const Cycle last = machine->now();
  machine->restore(start);
  StopFlag flag;
  machine->heed(&flag);
  FlaggedLog log(&flag, random);
  machine->watch(log);
  const int stops = run(flag, last);
  // Else the program soon met no instruction.
  if (last > kFlagged / 2) {
    EXPECT_GT(stops, 0);
  }
  machine->unwatch(log);
  machine->heed(nullptr);
  if (machine->now() != last) return;  // a step went beyond
  EXPECT_EQ(log.cycles, expected.cycles);
  EXPECT_EQ(log.moments, expected.moments);
  EXPECT_TRUE(machine->save() == end);
}

TEST_P(Flagged, MachinesDoTheSameWhoeverRaises) {
  constexpr Cycle kLong = 300'000;
  machine->run_until(kLong);
  const Snapshot end = machine->save();
  const Cycle last = machine->now();
  machine->restore(start);
  StopFlag flag;
  machine->heed(&flag);
  std::atomic<bool> over{false};
  std::thread raiser([&] {
    for (unsigned turn = 0; !over; ++turn) {
      std::this_thread::sleep_for(std::chrono::microseconds(turn * 7 % 50));
      flag.raise();
    }
  });
  while (machine->now() < last) {
    const Stop stop = machine->run_until(last);
    if (stop.reason == StopReason::undefined_opcode) break;
    flag.lower();
  }
  over = true;
  raiser.join();
  EXPECT_TRUE(machine->save() == end);
}

INSTANTIATE_TEST_SUITE_P(Seeds, Flagged,
                         ::testing::Combine(::testing::Values(Family::mc6800, Family::mc6809), ::testing::Range(0, 12)),
                         [](const auto& of) {
                           return std::string(name_of(std::get<0>(of.param))) + "_" +
                                  std::to_string(std::get<1>(of.param));
                         });

}  // namespace
}  // namespace prewire::testing
