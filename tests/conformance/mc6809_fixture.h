// An MC6809 with handlers for all its interrupts, registers that are easy to recognise, and NMI armed.
#pragma once

#include <algorithm>
#include <map>
#include <string>
#include <vector>

#include "conformance/bus_log.h"
#include "conformance/mc6809_tables.h"
#include "cpu_fixture.h"

namespace prewire::testing {

constexpr std::uint8_t kMc6809Nop = 0x12, kMc6809Rti = 0x3B;

class Mc6809Test : public ::testing::Test {
 protected:
  static constexpr std::uint16_t kNmi = 0x2000, kSwi = 0x2100, kIrq = 0x2200, kFirq = 0x2300, kSwi2 = 0x2400,
                                 kSwi3 = 0x2500;
  static constexpr std::uint16_t kPc = CpuBench::kStart, kS = 0x01FF;
  static constexpr int kE = 0x80, kF = 0x40, kI = 0x10;
  static constexpr CpuRegisters kBefore{0xA1, 0xB2, 0xC3D4, kS, kPc, 0x2F, 0x5E6F, 0x7089, 0x9A};  // E, F and I clear

  explicit Mc6809Test(const CpuBench::Parts& parts = CpuBench::mc6809()) : bench(parts) {
    // LDS #kS, which arms NMI.
    bench.poke(kPc, {0x10, 0xCE, kS >> 8, kS & 0xFF});
    machine().step_instruction();
    for (const std::uint16_t handler : {kNmi, kSwi, kIrq, kFirq, kSwi2, kSwi3, kPc}) {
      bench.poke(handler, std::vector<std::uint8_t>(64, kMc6809Nop));
      bench.poke(handler + 64, {0x20, 0xBE});  // BRA to the handler
    }
    bench.poke(0xFFF2, {kSwi3 >> 8, 0, kSwi2 >> 8, 0, kFirq >> 8, 0, kIrq >> 8, 0, kSwi >> 8, 0, kNmi >> 8, 0});
    bench.set(kBefore);
    start = machine().now();
  }

  Machine& machine() { return bench.machine; }

  static CpuRegisters with_cc(int cc) {
    CpuRegisters r = kBefore;
    r.cc = static_cast<std::uint8_t>(cc);
    return r;
  }

  /// In the first half of a cycle of a log that begins at `start`, and before Q falls in it.
  Stamp early_in(Cycle cycle) const { return stamp_of(start + cycle) + 2; }

  /// Compares the cycles from `at` on with a sequence of the table, or with its rows from `first` on; `r` are the
  /// registers before it, `open_flags` those of CC that nobody knows.
  static void expect_sequence(const std::vector<BusCycle>& log, std::size_t at, const std::string& name,
                              const CpuRegisters& r, std::size_t first = 0, int open_flags = 0) {
    const std::vector<Mc6809Cycle>& rows = mc6809_cycles(name);
    ASSERT_LE(at + rows.size() - first, log.size());
    const int cc = name == "seq_firq" ? r.cc & ~kE : r.cc | kE;
    const std::map<std::string, int> bytes{
        {"PC low", r.pc},     {"PC high", r.pc >> 8}, {"U low", r.u},       {"U high", r.u >> 8}, {"Y low", r.y},
        {"Y high", r.y >> 8}, {"X low", r.x},         {"X high", r.x >> 8}, {"DP", r.dp},         {"B", r.b},
        {"A", r.a},           {"CC (E=1)", cc},       {"CC (E=0)", cc}};
    for (std::size_t i = first; i < rows.size(); ++i) {
      SCOPED_TRACE(fmt::format("{} cycle {}: {} {} ({})", name, i + 1, rows[i].address, rows[i].data, rows[i].source));
      const BusCycle& seen = log[at + i - first];
      EXPECT_EQ(seen.address, evaluate(rows[i].address, {{"PC", r.pc}, {"S", r.s}}));
      EXPECT_TRUE(seen.vma);
      EXPECT_EQ(seen.rw, rows[i].read);
      EXPECT_EQ(seen.ba, rows[i].ba);
      EXPECT_EQ(seen.bs, rows[i].bs);
      EXPECT_EQ(seen.fetch, i == 0);
      if (const auto byte = bytes.find(rows[i].data); byte != bytes.end() && !rows[i].read) {
        const int settled = byte->first.substr(0, 2) == "CC" ? 0xFF & ~open_flags : 0xFF;
        EXPECT_EQ(seen.data & settled, byte->second & settled);
      }
    }
  }

  /// The stack picture of M6809PM figure 3-2 below `r.s`, E set; or the short one of FIRQ.
  void expect_stacked(const CpuRegisters& r, bool everything) {
    std::vector<int> picture{r.pc & 0xFF, r.pc >> 8};
    if (everything) {
      for (const int byte : {r.u & 0xFF, r.u >> 8, r.y & 0xFF, r.y >> 8, r.x & 0xFF, r.x >> 8, +r.dp, +r.b, +r.a}) {
        picture.push_back(byte);
      }
    }
    picture.push_back(everything ? r.cc | kE : r.cc & ~kE);
    for (std::size_t i = 0; i < picture.size(); ++i) {
      EXPECT_EQ(machine().peek(static_cast<std::uint16_t>(r.s - 1 - i)), picture[i]) << "at S-" << i + 1;
    }
  }

  /// One letter a cycle: F fetch, r read, w write, - dead, v vector, s sync acknowledge, h grant, x nobody's.
  static std::string picture(const std::vector<BusCycle>& log) {
    std::string text;
    for (const BusCycle& c : log) {
      text += c.ba      ? (c.bs ? 'h' : 's')
              : !c.vma  ? 'x'
              : c.bs    ? 'v'
              : c.fetch ? 'F'
              : !c.rw   ? 'w'
                        : (c.address == 0xFFFF ? '-' : 'r');
    }
    return text;
  }

  CpuBench bench;
  Cycle start = 0;
};

}  // namespace prewire::testing
