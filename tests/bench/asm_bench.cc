// How fast the assembler is: a source of 10,000 lines, beside GNU as for the m68hc11 (Debian binutils-m68hc1x) on the
// same program in its notation, in the same run.
#include <benchmark/benchmark.h>
#include <fmt/format.h>
#include <sys/resource.h>
#include <unistd.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>

#include "prewire/assembler.h"

namespace {

constexpr int kLines = 10'000;

enum class Notation { ours, gnu };

/// Loops of ten lines: labels, comments, all common addressing modes, branches back and calls ahead.
std::string source(Notation notation) {
  const bool ours = notation == Notation::ours;
  const std::string_view hex = ours ? "$" : "0x", direct = ours ? "$" : "*0x", colon = ours ? "" : ":";
  const std::string_view comment = ";", x = ours ? "X" : "x";
  std::string text = ours ? "        ORG $1000\n" : "        .text\n";
  const int loops = (kLines - 2) / 10;
  for (int i = 0; i < loops; ++i) {
    const int low = i % 200, high = 0x4000 + i;
    const int ahead = i + 1 < loops ? i + 1 : i;
    text += fmt::format("loop{}{}  ldx #{}{:x}       {} barrel {}\n", i, colon, hex, high, comment, i);
    text += fmt::format("again{}{}\n", i, colon);
    text += fmt::format("        ldaa {},{}\n", low, x);
    text += fmt::format("        adda #{}{:x}\n", hex, low);
    text += fmt::format("        staa {}{:x}\n", direct, low);
    text += fmt::format("        ldab {}{:x}\n", hex, high);
    text += "        inx\n";
    text += "        decb            " + std::string(comment) + " one less to go\n";
    text += fmt::format("        bne again{}\n", i);
    text += fmt::format("        jsr loop{}\n", ahead);
  }
  return text + (ours ? "        END\n" : "        .end\n");
}

void lines_per_second(benchmark::State& state) {
  state.counters["lines_per_second"] =
      benchmark::Counter(static_cast<double>(state.iterations()) * kLines, benchmark::Counter::kIsRate);
}

void assemble(benchmark::State& state) {
  const std::string text = source(Notation::ours);
  for (auto _ : state) benchmark::DoNotOptimize(prewire::assemble(text, "bench.asm", {"mc6800", {}, {}}));
  lines_per_second(state);
}
BENCHMARK(assemble)->Unit(benchmark::kMillisecond);

/// Processor time of the children so far, in seconds.
double children_seconds() {
  rusage used{};
  getrusage(RUSAGE_CHILDREN, &used);
  const auto seconds = [](const timeval& time) {
    return static_cast<double>(time.tv_sec) + 1e-6 * static_cast<double>(time.tv_usec);
  };
  return seconds(used.ru_utime) + seconds(used.ru_stime);
}

void assemble_gnu_as(benchmark::State& state) {
  const std::filesystem::path folder = std::filesystem::temp_directory_path();
  const std::string file = folder / fmt::format("prewire-bench-{}.s", getpid());
  std::ofstream(file) << source(Notation::gnu);
  const std::string command = fmt::format("m68hc11-as -m68hc11 -mshort {} -o {}.o", file, file);
  for (auto _ : state) {
    const double before = children_seconds();
    if (std::system(command.c_str()) != 0) {
      state.SkipWithError("m68hc11-as does not run, or does not take the source");
      break;
    }
    state.SetIterationTime(children_seconds() - before);
  }
  std::filesystem::remove(file);
  std::filesystem::remove(file + ".o");
  lines_per_second(state);
}
BENCHMARK(assemble_gnu_as)->UseManualTime()->Unit(benchmark::kMillisecond);

}  // namespace
