// The push button and its bounce. Measurements of real contacts agree on orders of magnitude only; the model is common
// practice: 3 to 20 changes, ever faster, over in 3 ms unless the machine file says otherwise.
#include <set>

#include "machine_fixture.h"

namespace prewire::testing {
namespace {

Bench with_pull_up(std::string_view parameters = "", int seed = 1) {
  return Bench(fmt::format(R"("B": {{"type": "button"{}{}}}, "R1": {{"type": "resistor", "ohms": "10 kOhm"}})",
                           parameters.empty() ? "" : ", ", parameters),
               R"(["+5V", "R1.1"], ["R1.2", "B.1"], ["B.2", "GND"])", fmt::format(R"("seed": {})", seed));
}

/// The moments at which the contact changes, in quarter cycles from now, and where it ends.
struct Bounce : Observer {
  explicit Bounce(Machine& machine) : begin(stamp_of(machine.now())) {}
  unsigned wants() const override { return kEvents; }
  void on_event(std::string_view chip, std::string_view event, std::int64_t value, Stamp when) override {
    EXPECT_EQ(chip, "B");
    EXPECT_EQ(event, "contact");
    EXPECT_NE(value != 0, closed) << "each event is a change";
    closed = value != 0;
    times.push_back(when - begin);
  }
  Stamp begin;
  bool closed = false;
  std::vector<Stamp> times;
};

std::vector<Stamp> bounce(Bench& bench, std::string_view what, Cycle cycles = 12'000) {
  Bounce seen(bench.machine);
  seen.closed = bench.level("B.1") == "low";
  bench.machine.watch(seen);
  bench.machine.set("B", what);
  bench.machine.run_for(cycles);
  bench.machine.unwatch(seen);
  EXPECT_EQ(seen.closed, what == "pressed");
  EXPECT_EQ(bench.level("B.1"), what == "pressed" ? "low" : "high");
  return seen.times;
}

TEST(PushButton, TheWholeHistoryOfAPress) {
  // Worked out by hand: with n gaps, change k comes at (1 - 0.75^k) / (1 - 0.75^n) of the bounce time. This seed gives
  // two gaps, so 4/7 of 400 quarter cycles and all of them.
  Bench bench = with_pull_up(R"("bounce": "100 us")", 9);
  History history;
  bench.machine.watch(history);
  history.restart(bench.machine.now());
  bench.machine.set("B", "pressed");
  bench.machine.run_for(150);
  EXPECT_EQ(history.take(),
            "0.0 B: contact 1\n"
            "0.0 B.1 low\n"
            "57.0 B: contact 0\n"
            "57.0 B.1 high pulled\n"
            "100.0 B: contact 1\n"
            "100.0 B.1 low\n");
}

TEST(PushButton, BouncesEverFasterAndEndsInTime) {
  std::set<std::size_t> counts;
  for (int seed = 0; seed < 40; ++seed) {
    Bench bench = with_pull_up("", seed);
    const std::vector<Stamp> times = bounce(bench, "pressed");
    counts.insert(times.size());
    EXPECT_EQ(times.front(), 0);
    EXPECT_EQ(times.back(), 4 * 3'000);  // 3 ms
    for (std::size_t i = 2; i < times.size(); ++i) {
      // Three quarters of the gap before, but for the rounding to quarter cycles.
      EXPECT_NEAR(static_cast<double>(times[i] - times[i - 1]), 0.75 * static_cast<double>(times[i - 1] - times[i - 2]),
                  2);
    }
  }
  EXPECT_GE(*counts.begin(), 3U);
  EXPECT_LE(*counts.rbegin(), 20U);
  EXPECT_GE(counts.size(), 7U);  // of nine odd numbers
}

TEST(PushButton, ReleasesInHalfTheTime) {
  Bench bench = with_pull_up();
  bounce(bench, "pressed");
  const std::vector<Stamp> times = bounce(bench, "released");
  EXPECT_EQ(times.front(), 0);
  EXPECT_EQ(times.back(), 4 * 1'500);
}

TEST(PushButton, RepeatsItselfWithTheSameSeed) {
  const auto presses = [](int seed) {
    Bench bench = with_pull_up("", seed);
    std::vector<std::vector<Stamp>> all;
    for (int i = 0; i < 5; ++i) {
      all.push_back(bounce(bench, "pressed"));
      all.push_back(bounce(bench, "released"));
    }
    return all;
  };
  const auto first = presses(1);
  EXPECT_EQ(first, presses(1));
  EXPECT_NE(first, presses(2));
  std::set<std::size_t> counts;
  for (const auto& times : first) counts.insert(times.size());
  EXPECT_GT(counts.size(), 1U) << "no press is like the other";
}

TEST(PushButton, IsCountedManyTimesByAProgramThatDoesNotDebounce) {
  // Bounce of 3 ms, polled every 100 us, no debouncing: more than one edge (summary of contact measurements).
  Bench bench = with_pull_up();
  bool before = bench.level("B.1") == "low";
  bench.machine.set("B", "pressed");
  int edges = 0;
  for (int poll = 0; poll < 50; ++poll) {
    const bool now = bench.level("B.1") == "low";
    edges += now && !before ? 1 : 0;
    before = now;
    bench.machine.run_for(100);
  }
  EXPECT_GT(edges, 1);
}

TEST(PushButton, ReleasedWhileItBouncesEndsOpen) {
  for (Cycle after = 50; after < 3'200; after += 150) {
    Bench bench = with_pull_up();
    bench.machine.set("B", "pressed");
    bench.machine.run_for(after);
    const bool closed = bench.level("B.1") == "low";
    const std::vector<Stamp> times = bounce(bench, "released");
    EXPECT_EQ(times.back(), 4 * 1'500);
    EXPECT_EQ(times.size() % 2 == 1, closed);
    EXPECT_GE(times.size(), 3U);
    EXPECT_LE(times.size(), 20U);
  }
}

TEST(PushButton, PressedTwiceIsPressedOnce) {
  Bench bench = with_pull_up();
  EXPECT_FALSE(bounce(bench, "pressed").empty());
  EXPECT_TRUE(bounce(bench, "pressed").empty());
}

TEST(PushButton, CanBeClean) {
  Bench bench = with_pull_up(R"("bounce": "0 ms")");
  EXPECT_EQ(bounce(bench, "pressed"), std::vector<Stamp>{0});
  EXPECT_EQ(bounce(bench, "released"), std::vector<Stamp>{0});
}

TEST(PushButton, IsSavedWhileItBounces) {
  const auto half_way = [](Bench& bench) {
    bench.machine.set("B", "pressed");
    bench.machine.run_for(500);
  };
  const auto rest = [](Bench& bench) {
    History history;
    bench.machine.watch(history);
    bench.machine.run_for(3'000);
    bench.machine.set("B", "released");
    bench.machine.run_for(3'000);
    bench.machine.unwatch(history);
    return history.take();
  };
  Bench straight = with_pull_up(), detour = with_pull_up();
  half_way(straight);
  half_way(detour);
  const Snapshot saved = detour.machine.save();
  detour.machine.run_for(400);
  for (const std::string_view what : {"released", "pressed", "released"}) {
    detour.machine.set("B", what);
    detour.machine.run_for(700);
  }
  detour.machine.run_for(2'000);
  EXPECT_NE(detour.level("B.1"), straight.level("B.1"));
  detour.machine.restore(saved);
  EXPECT_EQ(rest(detour), rest(straight));
}

TEST(PushButton, RefusesOtherWords) {
  Bench bench = with_pull_up();
  for (const std::string_view text : {"closed", "1", "press"}) {
    EXPECT_THROW(bench.machine.set("B", text), InputError) << text;
  }
}

}  // namespace
}  // namespace prewire::testing
