// What goes into a trace, and what it looks like. Quoting: RFC 4180 and RFC 8259.
#include "prewire/trace.h"

#include <nlohmann/json.hpp>

#include "cpu_fixture.h"

namespace prewire::testing {
namespace {

class Traced {
 public:
  Traced() {
    // $1000 LDAA #2; STAA $10; DECA; BNE $1002; JMP $1000
    bench.poke(CpuBench::kStart, {0x86, 0x02, 0x97, 0x10, 0x4A, 0x26, 0xFB, 0x7E, 0x10, 0x00});
    CpuRegisters r = bench.registers();
    r.a = r.b = 0;
    r.x = 0x1234;
    r.s = 0x01FF;
    r.cc = 0xD0;
    bench.set(r);
    start = bench.machine.now();
  }
  std::string trace(const TracePlan& plan, Cycle cycles) {
    std::string text;
    Trace trace(bench.machine, plan, [&](std::string_view line) { text += line; });
    bench.machine.watch(trace);
    bench.machine.run_for(cycles);
    bench.machine.unwatch(trace);
    trace.finish();
    return text;
  }
  CpuBench bench;
  Cycle start = 0;
};

std::size_t count_lines(const std::string& text) {
  return static_cast<std::size_t>(std::count(text.begin(), text.end(), '\n'));
}

TEST(Trace, OfInstructionsShowsRegistersBeforeThem) {
  Traced lab;
  const std::string text = lab.trace({.of = TraceOf::instructions}, 6);
  EXPECT_EQ(text, fmt::format("#    cycle address bytes           instruction\n"
                              "{:>10}   $1000  86 02           LDAA #$02            A=00 B=00 X=1234 S=01FF PC=1000 "
                              "CC=11hInzvc\n"
                              "{:>10}   $1002  97 10           STAA $10             A=02 B=00 X=1234 S=01FF PC=1002 "
                              "CC=11hInzvc\n",
                              lab.start, lab.start + 2));
}

TEST(Trace, OfInstructionsAsATableAndAsJson) {
  Traced lab;
  const Snapshot begin = lab.bench.machine.save();
  const std::string csv = lab.trace({.of = TraceOf::instructions, .format = TraceFormat::csv}, 2);
  EXPECT_EQ(csv, fmt::format("cycle,address,bytes,instruction,registers,label,source\n"
                             "{},$1000,86 02,LDAA #$02,A=00 B=00 X=1234 S=01FF PC=1000 CC=11hInzvc,,\n",
                             lab.start));
  lab.bench.machine.restore(begin);
  const std::string json = lab.trace({.of = TraceOf::instructions, .format = TraceFormat::json_lines}, 2);
  const auto line = nlohmann::json::parse(json);
  EXPECT_EQ(line["cycle"], lab.start);
  EXPECT_EQ(line["address"], 0x1000);
  EXPECT_EQ(line["instruction"], "LDAA #$02");
  EXPECT_EQ(line["registers"]["X"], 0x1234);
}

TEST(Trace, OfCyclesIsOfTheKindsAskedFor) {
  Traced lab;
  const Snapshot begin = lab.bench.machine.save();
  const auto count = [&](unsigned kinds) {
    lab.bench.machine.restore(begin);
    return count_lines(lab.trace({.format = TraceFormat::json_lines, .kinds = kinds}, 12));
  };
  // LDAA # two cycles, STAA direct four, DECA two, BNE four: MC6800 data sheet, table "Operations Summary".
  EXPECT_EQ(count(TracePlan::kAll), 12U);
  EXPECT_EQ(count(TracePlan::kFetch), 4U);
  EXPECT_EQ(count(TracePlan::kWrite), 1U);
  EXPECT_EQ(count(TracePlan::kIdle), 3U);
  EXPECT_EQ(count(TracePlan::kRead), 8U);
  EXPECT_EQ(count(TracePlan::kNobody), 0U);
}

TEST(Trace, MayBeOfSomeAddressesOnly) {
  Traced lab;
  const std::string text = lab.trace({.first = 0x0010, .last = 0x001F}, 36);
  EXPECT_EQ(count_lines(text), 1U + 2 * 2 + 2);  // STAA shows its address twice
  EXPECT_EQ(text.find("$1000"), std::string::npos);
}

TEST(Trace, BeginsAndEndsWhereItIsTold) {
  Traced lab;
  const Snapshot begin = lab.bench.machine.save();
  TracePlan plan{.of = TraceOf::instructions, .format = TraceFormat::json_lines};
  plan.from = TraceMoment{.address = 0x1004};
  plan.until = TraceMoment{.address = 0x1007};
  // DECA, BNE, STAA, DECA, BNE, and again in the next round.
  const std::string twice = lab.trace(plan, 2 * (2 + 2 * 10 + 3));
  EXPECT_EQ(count_lines(twice), 10U) << twice;

  lab.bench.machine.restore(begin);
  plan.from = TraceMoment{.cycle = lab.start + 2};
  plan.until = TraceMoment{.cycle = lab.start + 8};
  EXPECT_EQ(count_lines(lab.trace(plan, 60)), 2U);

  lab.bench.machine.restore(begin);
  plan.of = TraceOf::cycles;
  EXPECT_EQ(count_lines(lab.trace(plan, 60)), 6U);

  lab.bench.machine.restore(begin);
  plan.from = TraceMoment{.address = 0x1007};
  plan.until = std::nullopt;
  EXPECT_EQ(count_lines(lab.trace(plan, 2 + 20 + 3)), 3U);  // JMP extended
}

TEST(Trace, MayKeepTheLastLinesOnly) {
  Traced lab;
  const Snapshot begin = lab.bench.machine.save();
  const std::string all = lab.trace({.format = TraceFormat::json_lines}, 50);
  lab.bench.machine.restore(begin);
  const std::string last = lab.trace({.format = TraceFormat::json_lines, .keep = 3}, 50);
  EXPECT_EQ(count_lines(last), 3U);
  EXPECT_TRUE(all.ends_with(last));
}

}  // namespace
}  // namespace prewire::testing
