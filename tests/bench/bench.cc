// How fast it is, as a ratio to a yardstick that is timed in the same process. docs/performance.md explains.
#include <benchmark/benchmark.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <cstdint>
#include <ctime>
#include <string>
#include <thread>
#include <type_traits>
#include <vector>

#include "prewire/chips.h"
#include "prewire/coverage.h"
#include "prewire/lab_check.h"
#include "prewire/machine.h"
#include "prewire/partner.h"
#include "prewire/profile.h"

namespace {

using prewire::Cycle;
using prewire::Machine;

/// Processor time of this thread in seconds: what else runs on the computer does not count.
double cpu_seconds() {
  timespec now{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
  return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

// ---------------------------------------------------------------------------------------------------------------------
// The yardstick: the lookups, stores and event test of bus cycles, with no instruction decoded. Of six cycles four
// read, one writes and one is dead, as in ordinary 6800 code; each address depends on a byte just read.

struct Store {
  std::array<std::uint8_t, 65536> cell{};
  std::array<std::uint8_t, 65536> slow{};
};

__attribute__((noinline)) std::uint8_t never(std::uint32_t address) {
  benchmark::DoNotOptimize(address);
  return 0;
}

__attribute__((noinline)) std::uint32_t light(Store& store, std::int64_t cycles) {
  std::int64_t left = cycles;
  std::uint32_t sum = 0, pc = 0x100, x = 0;
  const auto read = [&](std::uint32_t at) __attribute__((always_inline))->std::uint32_t {
    const auto address = static_cast<std::uint16_t>(at);
    if (--left < 0 || (store.slow[address] & 1)) [[unlikely]] {
      return never(address);
    }
    return store.cell[address];
  };
  const auto write = [&](std::uint32_t at, std::uint32_t value) __attribute__((always_inline)) {
    const auto address = static_cast<std::uint16_t>(at);
    if (--left < 0 || (store.slow[address] & 2)) [[unlikely]] {
      never(address);
      return;
    }
    store.cell[address] = static_cast<std::uint8_t>(value);
  };
  while (left > 0) {
    sum += read(pc);
    sum += read(pc + 1);
    sum += read(x);
    sum += read(pc + 2);
    write(0x40 + (x & 0x3F), sum);
    if (--left < 0) [[unlikely]] {
      never(x);
    }
    x = (x + 1) & 0xFF;
    pc = 0x100 + (sum & 0x3F);
  }
  return sum;
}

/// Cycles per second of the yardstick, the best of several short runs just before and after what it is compared with.
double light_rate() {
  static Store store;
  constexpr std::int64_t kCycles = 20'000'000;
  double best = 0;
  for (int i = 0; i < 5; ++i) {
    const double start = cpu_seconds();
    benchmark::DoNotOptimize(light(store, kCycles));
    best = std::max(best, static_cast<double>(kCycles) / (cpu_seconds() - start));
  }
  return best;
}

// ---------------------------------------------------------------------------------------------------------------------
// Machines

constexpr const char* kMc6800 = R"("cpu": { "type": "mc6800", "clock": "1 MHz" },
  "wires": [
    ["CPU.IRQ", "CPU.NMI", "CPU.HALT", "+5V"],
    ["CPU.TSC", "PIA.CA1", "PIA.CB1", "GND"]
  ],)";
constexpr const char* kMc6809 = R"("cpu": { "type": "mc6809", "crystal": "4 MHz" },
  "wires": [
    ["CPU.IRQ", "CPU.FIRQ", "CPU.NMI", "CPU.HALT", "CPU.DMA/BREQ", "CPU.MRDY", "+5V"],
    ["PIA.CA1", "PIA.CB1", "GND"]
  ],)";
constexpr const char* kRest = R"(
  "chips": {
    "RAM":  { "type": "6116", "at": "$0000-$07FF", "power_up": "zeros" },
    "PIA":  { "type": "mc6821", "at": "$4000-$4003" },
    "CODE": { "type": "6116", "at": "$F800-$FFFF", "power_up": "zeros" }
  }
})";

/// Puts `code` at $F800, where the processor begins.
void put(Machine& machine, const std::vector<std::uint8_t>& code) {
  std::uint16_t address = 0xF800;
  for (std::uint8_t byte : code) machine.poke(address++, byte);
  machine.poke(0xFFFE, 0xF8);
  machine.poke(0xFFFF, 0x00);
}

/// A machine with `code`, its RAM filled.
Machine prepare(const char* processor, const std::vector<std::uint8_t>& code) {
  const std::string text = std::string(R"({ "machine": "bench", )") + processor + kRest;
  Machine machine = Machine::from_text(text, "bench", prewire::standard_chips());
  put(machine, code);
  for (std::uint16_t at = 0; at < 0x100; ++at) machine.poke(at, static_cast<std::uint8_t>(at * 7));
  machine.run_for(20'000);
  return machine;
}

// Copies with an addition: LDX #0; loop: LDAA 0,X; ADDA #1; STAA $80,X; INX; CPX #$40; BNE loop; BRA start
const std::vector<std::uint8_t> kMemoryLoop{0xCE, 0x00, 0x00, 0xA6, 0x00, 0x8B, 0x01, 0xA7, 0x80,
                                            0x08, 0x8C, 0x00, 0x40, 0x26, 0xF4, 0x20, 0xEF};

// 8 by 8 bits by shift and add, 111 times 97 over and over.
const std::vector<std::uint8_t> kMultiply{0x86, 0x6F, 0x97, 0x10, 0xC6, 0x61, 0xD7, 0x11, 0x4F,
                                          0x5F, 0xCE, 0x00, 0x08, 0x74, 0x00, 0x10, 0x24, 0x02,
                                          0x9B, 0x11, 0x46, 0x56, 0x09, 0x26, 0xF4, 0x20, 0xE5};

// The same two for the MC6809, with LEAX in the place of INX and DEX.
const std::vector<std::uint8_t> kMemoryLoop09{0x8E, 0x00, 0x00, 0xA6, 0x84, 0x8B, 0x01, 0xA7, 0x88, 0x40,
                                              0x30, 0x01, 0x8C, 0x00, 0x40, 0x26, 0xF2, 0x20, 0xED};
const std::vector<std::uint8_t> kMultiply09{0x86, 0x6F, 0x97, 0x10, 0xC6, 0x61, 0xD7, 0x11, 0x4F,
                                            0x5F, 0x8E, 0x00, 0x08, 0x04, 0x10, 0x24, 0x02, 0x9B,
                                            0x11, 0x46, 0x56, 0x30, 0x1F, 0x26, 0xF4, 0x20, 0xE5};

// Waits for a PIA flag that never comes, on both: LDAA $4001; BPL back
const std::vector<std::uint8_t> kPoll{0xB6, 0x40, 0x01, 0x2A, 0xFB, 0x20, 0xF9};

constexpr Cycle kSlice = 5'000'000;

/// Runs slices against the clock, with the yardstick before and after.
void run_slices(benchmark::State& state, Machine& machine, Cycle slice) {
  double best = 0;
  const double before = light_rate();
  for (auto _ : state) {
    const double start = cpu_seconds();
    machine.run_for(slice);
    const double took = cpu_seconds() - start;
    state.SetIterationTime(took);
    best = std::max(best, static_cast<double>(slice) / took);
  }
  state.counters["bus_cycles_per_second"] = best;
  state.counters["of_light"] = best / std::max(before, light_rate());
}

void program(benchmark::State& state, const char* processor, const std::vector<std::uint8_t>& code) {
  Machine machine = prepare(processor, code);
  run_slices(state, machine, kSlice);
}
BENCHMARK_CAPTURE(program, memory_loop, kMc6800, kMemoryLoop)->Name("memory_loop")->UseManualTime();
BENCHMARK_CAPTURE(program, multiply, kMc6800, kMultiply)->Name("multiply")->UseManualTime();
BENCHMARK_CAPTURE(program, poll, kMc6800, kPoll)->Name("poll")->UseManualTime();
BENCHMARK_CAPTURE(program, memory_loop_6809, kMc6809, kMemoryLoop09)->Name("memory_loop_6809")->UseManualTime();
BENCHMARK_CAPTURE(program, multiply_6809, kMc6809, kMultiply09)->Name("multiply_6809")->UseManualTime();
BENCHMARK_CAPTURE(program, poll_6809, kMc6809, kPoll)->Name("poll_6809")->UseManualTime();

Machine rain_barrel_lab() {
  Machine machine = Machine::from_file(PREWIRE_RAIN_BARREL, prewire::standard_chips());
  machine.set("FLOAT", "2.5 V");
  machine.run_for(20'000);
  return machine;
}

void rain_barrel(benchmark::State& state) {
  Machine machine = rain_barrel_lab();
  run_slices(state, machine, kSlice / 10);
}
BENCHMARK(rain_barrel)->UseManualTime();

/// 900 buffers in chains of eight lines, driven by 50 oscillators of 1 MHz: hardly a board, but each cycle moves some
/// ten thousand nets.
Machine crowd() {
  constexpr int kOscillators = 50, kLinks = 18;
  std::string chips, wires;
  for (int chain = 0; chain < kOscillators; ++chain) {
    const std::string source = "Y" + std::to_string(chain);
    chips += "\"" + source + R"(": {"type": "oscillator", "frequency": "1 MHz"}, )";
    for (int link = 0; link < kLinks; ++link) {
      const std::string name = "B" + std::to_string(chain * kLinks + link);
      const std::string before = "B" + std::to_string(chain * kLinks + link - 1);
      chips += "\"" + name + R"(": {"type": "74ls244"}, )";
      wires += "[\"" + name + ".1G\", \"" + name + ".2G\", \"GND\"], ";
      for (const std::string line : {"11", "12", "13", "14", "21", "22", "23", "24"}) {
        const std::string pin = {line[0], 'A', line[1]};
        const std::string from = link == 0 ? source + ".OUT" : before + "." + line[0] + "Y" + line[1];
        wires += "[\"" + from + "\", \"" + name + "." + pin + "\"], ";
      }
    }
  }
  prewire::LoadOptions options;
  options.run_faulty = true;
  Machine machine = Machine::from_text(
      R"({"machine": "crowd", "cpu": {"type": "mc6800", "clock": "1 MHz"}, "chips": {)" + chips +
          R"("RAM": {"type": "6116", "at": "$0000-$07FF"}, "CODE": {"type": "6116", "at": "$F800-$FFFF"}}, "wires": [)" +
          wires + R"(["CPU.IRQ", "CPU.NMI", "CPU.HALT", "+5V"], ["CPU.TSC", "GND"]]})",
      "crowd", prewire::standard_chips(), options);
  put(machine, kMemoryLoop);
  return machine;
}

/// How long a run goes on after somebody has asked it to stop, in milliseconds, the longest of all times.
void stop_answer(benchmark::State& state, Machine (*make)()) {
  Machine machine = make();
  prewire::StopFlag flag;
  machine.heed(&flag);
  double worst = 0;
  for (auto _ : state) {
    std::chrono::steady_clock::time_point raised;
    std::thread other([&] {
      std::this_thread::sleep_for(std::chrono::milliseconds(20));
      raised = std::chrono::steady_clock::now();
      flag.raise();
    });
    machine.run_until(Cycle{1} << 50);
    const std::chrono::duration<double> took = std::chrono::steady_clock::now() - raised;
    other.join();
    flag.lower();
    state.SetIterationTime(took.count());
    worst = std::max(worst, took.count());
  }
  state.counters["worst_ms"] = 1e3 * worst;
}
BENCHMARK_CAPTURE(stop_answer, memory_loop, [] { return prepare(kMc6800, kMemoryLoop); })
    ->Name("stop_answer_memory_loop")
    ->UseManualTime()
    ->Iterations(20);
BENCHMARK_CAPTURE(stop_answer, poll, [] { return prepare(kMc6800, kPoll); })
    ->Name("stop_answer_poll")
    ->UseManualTime()
    ->Iterations(20);
BENCHMARK_CAPTURE(stop_answer, crowd, crowd)->Name("stop_answer_crowd")->UseManualTime()->Iterations(20);

/// Watches while it lives, as a partner does by itself.
template <class Watcher>
struct Watching {
  explicit Watching(Machine& the_machine) : machine(the_machine), watcher(the_machine) { machine.watch(watcher); }
  ~Watching() { machine.unwatch(watcher); }
  Watching(const Watching&) = delete;
  Watching& operator=(const Watching&) = delete;
  Machine& machine;
  Watcher watcher;
};

struct CoverageAndPartner {
  explicit CoverageAndPartner(Machine& machine) : coverage(machine), partner(machine) {}
  Watching<prewire::Coverage> coverage;
  prewire::Partner partner;
};

/// What it costs to watch that lab: slices with and without an observer in turn, the best of each.
template <class Watcher>
void watched(benchmark::State& state) {
  Machine alone = rain_barrel_lab();
  Machine machine = rain_barrel_lab();
  const Watcher watcher(machine);
  const auto time = [](Machine& of) {
    const double start = cpu_seconds();
    of.run_for(kSlice / 10);
    return cpu_seconds() - start;
  };
  double without = 1e9, with = 1e9;
  for (auto _ : state) {
    without = std::min(without, time(alone));
    const double took = time(machine);
    with = std::min(with, took);
    state.SetIterationTime(took);
  }
  state.counters["bus_cycles_per_second"] = static_cast<double>(kSlice / 10) / with;
  state.counters["times_unwatched"] = with / without;
}
BENCHMARK(watched<Watching<prewire::Coverage>>)->Name("coverage")->UseManualTime();
BENCHMARK(watched<Watching<prewire::Profile>>)->Name("profile")->UseManualTime();
BENCHMARK(watched<prewire::Partner>)->Name("partner")->UseManualTime();
BENCHMARK(watched<CoverageAndPartner>)->Name("coverage_and_partner")->UseManualTime();

/// Lab checks of the demo lab, one emulated second each, with the description read once.
void lab_checks(benchmark::State& state, const char* stimuli, const char* expect) {
  const prewire::Registry registry = prewire::standard_chips();
  const std::string text = std::string(R"({"machine": "gauge.json", "checks": [{"check": "level", "for": "1 s", )") +
                           R"("stimuli": [)" + stimuli + R"(], "expect": [)" + expect + "]}]}";
  const std::vector<prewire::LabCheck> checks = prewire::read_checks(text, "bench.check.json");
  const prewire::Description description = prewire::Description::from_file(PREWIRE_RAIN_BARREL, registry);
  constexpr std::int64_t kNoLimit = std::int64_t{1} << 60;
  double best = 0;
  const double before = light_rate();
  Cycle cycles = 0;
  for (auto _ : state) {
    const double start = cpu_seconds();
    prewire::CheckRun run(checks[0], description, {kNoLimit, kNoLimit, static_cast<std::uint64_t>(kNoLimit)});
    while (run.go_on()) {
    }
    const prewire::CheckResult result = run.take_result();
    const double took = cpu_seconds() - start;
    if (!result.passed) state.SkipWithError("the check fails");
    cycles = result.cycles;
    state.SetIterationTime(took);
    best = std::max(best, 1 / took);
  }
  state.counters["checks_per_second"] = best;
  state.counters["of_light"] = best * static_cast<double>(cycles) / std::max(before, light_rate());
}
constexpr const char* kMoves = R"({"at": "0 ms", "set": "FLOAT", "to": "2.5 V"},
                                  {"at": "500 ms", "set": "FLOAT", "to": "4.46 V"})";
constexpr const char* kSeen = R"({"at": "400 ms", "display": "LEVEL", "shows": "125"},
                                 {"from": "500 ms", "within": "50 ms", "display": "LEVEL", "shows": "223"},
                                 {"at": "900 ms", "led": "FULL", "is": "on"})";
constexpr const char* kMeasured = R"({"cycles": ["converted", "show"], "max": 30},
                                     {"net": "PIA.CA2", "pulse": "low", "max": 10},
                                     {"never": {"reached": "astray"}})";
BENCHMARK_CAPTURE(lab_checks, seen, kMoves, kSeen)->Name("lab_checks_display")->UseManualTime();
BENCHMARK_CAPTURE(lab_checks, measured, kMoves, kMeasured)->Name("lab_checks_timing")->UseManualTime();

/// A processor in WAI or CWAI with nothing to wake it.
void waiting(benchmark::State& state, const char* processor, const std::vector<std::uint8_t>& code) {
  Machine machine = prepare(processor, code);
  run_slices(state, machine, 1'000'000'000);
}
BENCHMARK_CAPTURE(waiting, waiting, kMc6800, std::vector<std::uint8_t>{0x3E})->Name("waiting")->UseManualTime();
BENCHMARK_CAPTURE(waiting, waiting_6809, kMc6809, std::vector<std::uint8_t>{0x3C, 0xFF})
    ->Name("waiting_6809")
    ->UseManualTime();

struct Count final : prewire::Observer {
  unsigned wants() const override { return kCycles; }
  void on_cycle(const prewire::BusCycle& cycle) override { sum += cycle.data; }
  std::uint64_t sum = 0;
};

void full_trace(benchmark::State& state, const char* processor, const std::vector<std::uint8_t>& code) {
  Machine machine = prepare(processor, code);
  Count count;
  machine.watch(count);
  run_slices(state, machine, kSlice / 10);
  benchmark::DoNotOptimize(count.sum);
}
BENCHMARK_CAPTURE(full_trace, full_trace, kMc6800, kMemoryLoop)->Name("full_trace")->UseManualTime();
BENCHMARK_CAPTURE(full_trace, full_trace_6809, kMc6809, kMemoryLoop09)->Name("full_trace_6809")->UseManualTime();

void save_and_restore(benchmark::State& state) {
  // 2 KiB of RAM and a PIA; the program is in ROM.
  Machine machine = Machine::from_text(R"({
    "machine": "bench",
    "cpu": { "type": "mc6800", "clock": "1 MHz" },
    "chips": { "RAM": { "type": "6116", "at": "$0000-$07FF" }, "PIA": { "type": "mc6821", "at": "$4000-$4003" },
               "ROM": { "type": "2716", "at": "$F800-$FFFF" } },
    "wires": [ ["CPU.IRQ", "CPU.NMI", "CPU.HALT", "+5V"], ["CPU.TSC", "PIA.CA1", "PIA.CB1", "GND"] ]
  })",
                                       "bench", prewire::standard_chips());
  prewire::Snapshot snapshot;
  for (auto _ : state) {
    machine.save(snapshot);
    machine.restore(snapshot);
  }
  state.counters["bytes"] = static_cast<double>(snapshot.bytes().size());
}
BENCHMARK(save_and_restore);

void yardstick(benchmark::State& state) {
  static Store store;
  for (auto _ : state) benchmark::DoNotOptimize(light(store, kSlice));
  state.counters["bus_cycles_per_second"] =
      benchmark::Counter(static_cast<double>(kSlice), benchmark::Counter::kIsIterationInvariantRate);
}
BENCHMARK(yardstick);

}  // namespace

BENCHMARK_MAIN();
