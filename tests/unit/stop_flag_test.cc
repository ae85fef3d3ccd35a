// A flag that ends runs: where it is heeded, and that nothing is lost by it.
#include <gtest/gtest.h>

#include <chrono>
#include <string>
#include <thread>

#include "machine_fixture.h"
#include "paths.h"
#include "prewire/description.h"
#include "prewire/history.h"
#include "prewire/lab_check.h"

namespace prewire::testing {
namespace {

/// Raises a flag after so many of what it wants.
class Raiser final : public Observer {
 public:
  Raiser(StopFlag& flag, unsigned what, int after) : flag_(flag), what_(what), left_(after) {}
  unsigned wants() const override { return what_; }
  void on_cycle(const BusCycle& cycle) override { count(cycle.cycle); }
  void on_instruction(const Cpu&, std::uint16_t, int, Cycle cycle) override { count(cycle); }
  void on_net(std::string_view, const NetState&, Stamp when) override { count(cycle_of(when)); }
  void on_event(std::string_view, std::string_view, std::int64_t, Stamp when) override { count(cycle_of(when)); }
  Cycle raised = -1;

 private:
  void count(Cycle now) {
    if (left_-- != 0) return;
    flag_.raise();
    raised = now;
  }
  StopFlag& flag_;
  const unsigned what_;
  int left_;
};

constexpr std::string_view kOscillator = R"("Y": {"type": "oscillator", "frequency": "100 kHz"}, "L": {"type": "led"})";
constexpr std::string_view kLamp = R"(["Y.OUT", "L.A"], ["L.K", "GND"])";

TEST(StopFlags, LetNoRunBeginWhileTheyAreUp) {
  Bench bench("");
  StopFlag flag;
  bench.machine.heed(&flag);
  const Cycle now = bench.machine.now();
  flag.raise();
  for (int i = 0; i < 3; ++i) {
    const Stop stop = bench.machine.run_until(now + 1000);
    EXPECT_EQ(stop.reason, StopReason::interrupted);
    EXPECT_EQ(stop.cycle, now);
    EXPECT_EQ(bench.machine.step_instruction().reason, StopReason::interrupted);
  }
  EXPECT_EQ(bench.machine.run_until(now).reason, StopReason::limit);  // there is nothing to run
  flag.lower();
  EXPECT_EQ(bench.machine.run_until(now + 1000).reason, StopReason::limit);
  flag.raise();
  bench.machine.heed(nullptr);
  EXPECT_EQ(bench.machine.run_until(now + 2000).reason, StopReason::limit);
  EXPECT_EQ(to_string(StopReason::interrupted), "interrupted");
}

TEST(StopFlags, EndARunAfterTheCycleInWhichSomethingHappens) {
  for (const unsigned what : {Observer::kCycles, Observer::kInstructions, Observer::kNets}) {
    Bench bench(kOscillator, kLamp);
    bench.run("20 FE");
    StopFlag flag;
    bench.machine.heed(&flag);
    Raiser raiser(flag, what, 100);
    bench.machine.watch(raiser);
    const Stop stop = bench.machine.run_for(100'000);
    bench.machine.unwatch(raiser);
    EXPECT_EQ(stop.reason, StopReason::interrupted) << what;
    EXPECT_EQ(stop.cycle, raiser.raised + 1) << what;
  }
}

TEST(StopFlags, EndALoopThatTouchesNothing) {
  // BRA * in plain memory, and a loop that polls a register: nobody is told of anything.
  for (const std::string_view code : {"20 FE", "B6 40 00 20 FB", "3E"}) {
    Bench bench(R"("PIA": {"type": "mc6821", "at": "$4000-$4003"}, )" + std::string(kOscillator), kLamp);
    bench.set("S", 0x0180);
    bench.run(code);
    StopFlag flag;
    bench.machine.heed(&flag);
    std::thread other([&] {
      std::this_thread::sleep_for(std::chrono::milliseconds(5));
      flag.raise();
    });
    EXPECT_EQ(bench.machine.run_until(Cycle{1} << 50).reason, StopReason::interrupted) << code;
    other.join();
  }
}

TEST(StopFlags, EndAWait) {
  Bench bench(kOscillator, kLamp);
  bench.set("S", 0x0180);
  bench.run("3E 20 FD");  // WAI
  StopFlag flag;
  bench.machine.heed(&flag);
  Raiser raiser(flag, Observer::kNets, 40);
  bench.machine.watch(raiser);
  const Stop stop = bench.machine.run_for(1'000'000);
  EXPECT_EQ(stop.reason, StopReason::interrupted);
  EXPECT_EQ(stop.cycle, raiser.raised + 1);
}

TEST(StopFlags, EndAStretchedCycleAndStolenOnes) {
  for (const char* pin : {"TSC", "HALT"}) {
    Bench bench(R"("S": {"type": "stimulus", "low": 1, "high": 2}, )" + std::string(kOscillator),
                std::string(R"(["S.P0", "CPU.TSC"], ["S.P1", "CPU.HALT"], )") + std::string(kLamp));
    bench.machine.set("S", std::string(pin) == "TSC" ? "P0 high" : "P1 low");
    bench.machine.run_for(10);
    StopFlag flag;
    bench.machine.heed(&flag);
    Raiser raiser(flag, Observer::kNets, 40);
    bench.machine.watch(raiser);
    const Stop stop = bench.machine.run_for(1'000'000);
    EXPECT_EQ(stop.reason, StopReason::interrupted) << pin;
    EXPECT_EQ(stop.cycle, raiser.raised + 1) << pin;
  }
}

TEST(StopFlags, EndAWayIntoThePast) {
  Bench bench(kOscillator, kLamp);
  bench.run("20 FE");
  Machine& machine = bench.machine;
  prewire::History history(machine);
  machine.run_for(2'000'000);
  const Snapshot here = machine.save();
  const Cycle now = machine.now();
  StopFlag flag;
  machine.heed(&flag);
  flag.raise();
  EXPECT_FALSE(history.go_to(now - 900'000));
  EXPECT_FALSE(history.back_instruction());
  EXPECT_FALSE(history.back_cycle());
  EXPECT_FALSE(history.last({Wanted::Kind::net, 0, 0, "Y.OUT"}));
  EXPECT_FALSE(history.back_to({Wanted::Kind::net, 0, 0, "Y.OUT"}));
  EXPECT_TRUE(machine.way_here(5).empty());
  EXPECT_TRUE(machine.save() == here);
  flag.lower();
  Raiser raiser(flag, Observer::kNets, 1'000);
  EXPECT_FALSE(history.show_again(raiser, now - 900'000));
  EXPECT_TRUE(machine.save() == here);
  flag.lower();
  EXPECT_TRUE(history.last({Wanted::Kind::net, 0, 0, "Y.OUT"}));
  EXPECT_EQ(machine.way_here(5).size(), 5U);
  EXPECT_TRUE(history.go_to(now - 900'000));
  EXPECT_TRUE(history.go_to(now));
  EXPECT_TRUE(machine.save() == here);
}

TEST(StopFlags, EndAStepOfACheckWhichThenGoesOn) {
  const Description lab =
      Description::from_file(source_folder() / "scenarios" / "rain_barrel" / "gauge.json", standard_chips());
  const auto checks = read_checks(
      R"({"machine": "gauge.json", "checks": [{"check": "half", "for": "100 ms", "stimuli": [{"at": "1 ms", "set": "FLOAT", "to": "2.5 V"}],
          "expect": [{"display": "LEVEL", "shows": "125"}]}]})",
      "checks.json");
  StopFlag flag;
  CheckLimits limits;
  limits.stop = &flag;
  CheckRun run(checks.at(0), lab, limits), plain(checks.at(0), lab, CheckLimits{});
  while (plain.go_on()) {
  }
  int steps = 0;
  for (bool more = true; more; ++steps) {
    steps % 3 == 0 ? flag.raise() : flag.lower();
    more = run.go_on();
  }
  const CheckResult result = run.take_result(), expected = plain.take_result();
  EXPECT_EQ(result.passed, expected.passed);
  EXPECT_EQ(result.cycles, expected.cycles);
  EXPECT_EQ(result.timeline.size(), expected.timeline.size());
  EXPECT_GT(steps, 20);
}

}  // namespace
}  // namespace prewire::testing
