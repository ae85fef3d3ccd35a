// Every opcode, cycle by cycle: MC6800 data sheet, table "Operations Summary", as in tests/data/cpu/mc6800-cycles.csv
// (rows from memory, totals and byte counts from the sources named there). The symbolic addresses of the table are
// worked out for many register and operand values, with page crossings and wrap-around. Left out: R/W in the last, dead
// cycle of TST, which no source settles (docs/accuracy.md).
#include <gtest/gtest.h>

#include <optional>
#include <set>

#include "bus/mix.h"
#include "conformance/mc6800_model.h"
#include "conformance/mc6800_tables.h"
#include "cpu/cpus.h"
#include "cpu_fixture.h"

namespace prewire::testing {
namespace {

/// One place, register set and operand for an instruction.
struct Case {
  CpuRegisters before;
  std::uint8_t first = 0, second = 0;  ///< operand bytes
};

void PrintTo(const Case& c, std::ostream* out) {
  PrintTo(c.before, out);
  *out << fmt::format(" operand {:02X} {:02X}", c.first, c.second);
}

std::vector<Case> cases() {
  const CpuRegisters plain{0x3C, 0xA5, 0x2040, 0x3080, 0x1200, 0xC0};
  std::vector<Case> list{{plain, 0x12, 0x34}};
  const auto add = [&](auto change, std::uint8_t first, std::uint8_t second) {
    Case c{plain, first, second};
    change(c.before);
    list.push_back(c);
  };
  const auto nothing = [](CpuRegisters&) {};
  // X plus offset: into the next page, to its first byte, around the end of memory.
  add([](CpuRegisters& r) { r.x = 0x20F0; }, 0x20, 0x00);
  add([](CpuRegisters& r) { r.x = 0x20FF; }, 0x01, 0x00);
  add([](CpuRegisters& r) { r.x = 0xFFF8; }, 0x10, 0x00);
  add([](CpuRegisters& r) { r.x = 0x0000; }, 0x00, 0x00);
  add([](CpuRegisters& r) { r.x = 0xFF00; }, 0xFF, 0xFF);  // EA = $FFFF, EA+1 = $0000
  // Direct and extended: the last byte of page zero and of memory.
  add(nothing, 0xFF, 0xFF);
  add(nothing, 0x00, 0x00);
  add(nothing, 0x40, 0xFF);
  // Branches: to themselves, backward and forward as far as they go.
  add(nothing, 0xFE, 0x00);
  add(nothing, 0x80, 0x00);
  add(nothing, 0x7F, 0x00);
  // The program counter: instruction across a page, across the end of memory.
  for (const int pc : {0x10FD, 0x10FE, 0x10FF, 0xFFFD, 0xFFFE, 0xFFFF, 0x0000}) {
    add([&](CpuRegisters& r) { r.pc = static_cast<std::uint16_t>(pc); }, 0x56, 0x78);
  }
  // The stack: around both ends of memory, over the vectors, over the instruction itself.
  for (const int s : {0x0000, 0x0001, 0x0003, 0xFFFF, 0xFFFE, 0xFFFC, 0xFFFB, 0x1200, 0x1201, 0x1202, 0x1203, 0x1207}) {
    add([&](CpuRegisters& r) { r.s = static_cast<std::uint16_t>(s); }, 0x9A, 0xBC);
  }
  // Stores into the instruction itself.
  for (const int to : {0x1200, 0x1201, 0x1202}) {
    add([&](CpuRegisters& r) { r.x = static_cast<std::uint16_t>(to - 5); }, 0x05, 0x00);
    add(nothing, static_cast<std::uint8_t>(to >> 8), static_cast<std::uint8_t>(to));
  }
  add([](CpuRegisters& r) { r.pc = 0x0040; }, 0x41, 0x00);  // direct
  add([](CpuRegisters& r) { r.x = 0xFFFF; }, 0x01, 0x23);
  // All conditions of the branches, and whatever else.
  for (std::uint64_t i = 0; i < 64; ++i) {
    const std::uint64_t noise = mix(0x6800, i);
    const auto bits = [&](int shift) { return static_cast<std::uint16_t>(noise >> shift); };
    list.push_back({{static_cast<std::uint8_t>(bits(0)), static_cast<std::uint8_t>(bits(4)), bits(8), bits(24),
                     bits(40), static_cast<std::uint8_t>(0xC0 | i)},
                    static_cast<std::uint8_t>(bits(48)),
                    static_cast<std::uint8_t>(bits(56))});
  }
  return list;
}

class Mc6800Cycles : public ::testing::TestWithParam<OpcodeRow> {
 protected:
  using Memory = std::array<std::uint8_t, 65536>;

  /// A bench whose memory is full of noise, and that state for every case to start from.
  struct Shared {
    Shared() {
      for (std::size_t at = 0; at < memory.size(); ++at) {
        memory[at] = static_cast<std::uint8_t>(mix(0xCA5E, at) >> 13);
        bench.machine.poke(static_cast<std::uint16_t>(at), memory[at]);
      }
      base = bench.machine.save();
    }
    Memory memory;
    CpuBench bench;
    Snapshot base;
  };
  static Shared& shared() {
    static Shared shared;
    return shared;
  }

  CpuBench& bench() { return shared().bench; }
  Machine& machine() { return shared().bench.machine; }

  void place(const Case& c) {
    std::vector<std::uint8_t> code{static_cast<std::uint8_t>(GetParam().opcode), c.first, c.second};
    code.resize(GetParam().bytes);
    bench().poke(c.before.pc, code);
    bench().set(c.before);
  }

  /// What the symbols of the table stand for.
  Symbols symbols(const Case& c) const {
    const OpcodeRow& row = GetParam();
    const CpuRegisters& r = c.before;
    Symbols symbols{{"op", r.pc}, {"IX", r.x}, {"IX(old)", r.x}, {"SP", r.s}, {"SP(old)", r.s}};
    if (row.mode == "direct") symbols["EA"] = c.first;
    if (row.mode == "extended") symbols["EA"] = symbols["target"] = c.first << 8 | c.second;
    if (row.mode == "indexed") {
      symbols["EA"] = symbols["target"] = r.x + c.first;
      symbols["IX+offset(nc)"] = (r.x & 0xFF00) | ((r.x + c.first) & 0x00FF);
    }
    if (row.mode == "relative") symbols["target"] = r.pc + 2 + (c.first < 128 ? c.first : c.first - 256);
    const std::map<std::string, int> new_x{{"INX", r.x + 1}, {"DEX", r.x - 1}, {"TSX", r.s + 1}};
    const std::map<std::string, int> new_s{{"INS", r.s + 1}, {"DES", r.s - 1}, {"TXS", r.x - 1}};
    if (const auto place = new_x.find(row.mnemonic); place != new_x.end()) symbols["IX(new)"] = place->second;
    if (const auto place = new_s.find(row.mnemonic); place != new_s.end()) symbols["SP(new)"] = place->second;
    return symbols;
  }

  /// The byte that the table's data column names, if it is more than what stands in memory.
  std::optional<int> data(const std::string& words, const Case& c, const Mc6800Model& model) const {
    const CpuRegisters& r = c.before;
    const OpcodeRow& row = GetParam();
    const int wide = row.mnemonic == "STS" ? r.s : r.x;
    const int back = r.pc + row.bytes;
    const std::map<std::string, int> table{{"accumulator", row.accumulator() == 'A' ? r.a : r.b},
                                           {"accumulator (residual)", row.accumulator() == 'A' ? r.a : r.b},
                                           {"register high", wide >> 8},
                                           {"register low", wide},
                                           {"return address high", back >> 8},
                                           {"return address low", back},
                                           {"PC high", (r.pc + 1) >> 8},
                                           {"PC low", r.pc + 1},
                                           {"IX high", r.x >> 8},
                                           {"IX low", r.x},
                                           {"A", r.a},
                                           {"B", r.b},
                                           {"CCR", r.cc},
                                           {"operand (new)", model.result}};
    const auto place = table.find(words);
    if (place == table.end()) return std::nullopt;
    return place->second & 0xFF;
  }

  /// Compares a log with the table, and what was read with what then stood in memory.
  void check(const std::vector<BusCycle>& log, const Case& c, const Mc6800Model& model, const Memory& memory) const {
    const OpcodeRow& row = GetParam();
    const std::vector<CycleRow>& table = cycle_rows(row.group);
    ASSERT_EQ(log.size(), table.size());
    const Symbols meaning = symbols(c);
    std::map<std::uint16_t, std::uint8_t> written;
    for (std::size_t i = 0; i < table.size(); ++i) {
      SCOPED_TRACE(fmt::format("cycle {}: {} {} ({})", i + 1, table[i].address, table[i].data, table[i].source));
      const BusCycle& seen = log[i];
      const bool open_question = row.stem() == "TST" && i + 1 == table.size();
      EXPECT_EQ(seen.address, evaluate(table[i].address, meaning));
      EXPECT_EQ(seen.vma, table[i].vma);
      EXPECT_EQ(seen.rw, open_question ? seen.rw : table[i].read);
      EXPECT_EQ(seen.cycle, log[0].cycle + static_cast<Cycle>(i));
      EXPECT_EQ(seen.fetch, i == 0);
      EXPECT_EQ(seen.driven, seen.vma);
      EXPECT_FALSE(seen.ba);
      if (seen.vma && seen.rw) {
        const auto changed = written.find(seen.address);
        EXPECT_EQ(seen.data, changed == written.end() ? memory[seen.address] : changed->second);
      } else if (const auto byte = data(table[i].data, c, model)) {
        EXPECT_EQ(seen.data, *byte);
      } else {
        EXPECT_FALSE(seen.vma) << "the table does not say what is written";
      }
      if (seen.vma && !seen.rw) written[seen.address] = seen.data;
    }
  }

  /// Compares registers and memory with what the model says.
  void check_result(const Mc6800Model& model) {
    EXPECT_EQ(bench().registers(), model.registers());
    std::map<std::uint16_t, std::uint8_t> last;
    for (const Store::Write& write : model.writes) last[write.address] = write.value;
    for (const auto& [address, value] : last) EXPECT_EQ(machine().peek(address), value) << address;
  }
};

TEST_P(Mc6800Cycles, FollowTheTable) {
  const OpcodeRow& row = GetParam();
  const Mc6800Model::Action act = Mc6800Model::action(row);
  for (const Case& c : cases()) {
    SCOPED_TRACE(::testing::PrintToString(c));
    machine().restore(shared().base);
    place(c);
    Memory memory = shared().memory;
    for (int i = 0; i < row.bytes; ++i) {
      memory[static_cast<std::uint16_t>(c.before.pc + i)] = machine().peek(static_cast<std::uint16_t>(c.before.pc + i));
    }
    Mc6800Model model([&](std::uint16_t at) { return memory[at]; });
    model.load(c.before);
    act(model);

    // Observed, in one go.
    const Cycle start = machine().now();
    const std::vector<BusCycle> log = bench().log([&] {
      const Stop stop = machine().step_instruction();
      EXPECT_EQ(stop.reason, StopReason::limit);
      EXPECT_FALSE(stop.mid_instruction);
      EXPECT_EQ(stop.pc, model.registers().pc);
    });
    EXPECT_EQ(machine().now() - start, row.cycles);
    check(log, c, model, memory);
    check_result(model);

    // Observed, one bus cycle at a time: registers change with the last one.
    machine().restore(shared().base);
    place(c);
    const std::vector<BusCycle> stepped = bench().log([&] {
      for (int i = 1; i <= row.cycles; ++i) {
        const Stop stop = machine().step_cycle();
        const bool last = i == row.cycles;
        EXPECT_EQ(stop.mid_instruction, !last) << i;
        EXPECT_EQ(machine().cpu().cycles_into_instruction(), last ? 0 : i);
        if (last) continue;
        EXPECT_EQ(bench().registers(), c.before) << "after cycle " << i;
        EXPECT_FALSE(machine().cpu().set(0, 0)) << "a register changed within an instruction";
      }
    });
    EXPECT_EQ(stepped, log);
    check_result(model);

    // Unobserved, for the second time, so that plain memory answers without a detour; stopped after each cycle in turn.
    if (row.mnemonic == "WAI") continue;  // the second time it waits already
    machine().restore(shared().base);
    place(c);
    machine().step_instruction();
    for (int stop = 1; stop <= row.cycles; ++stop) {
      for (const Store::Write& write : model.writes) machine().poke(write.address, memory[write.address]);
      bench().set(c.before);
      const Cycle second = machine().now();
      machine().run_until(second + stop);
      EXPECT_EQ(machine().cpu().cycles_into_instruction(), stop % row.cycles);
      machine().run_until(second + row.cycles);
      EXPECT_EQ(machine().cpu().cycles_into_instruction(), 0);
      check_result(model);
    }
    if (HasFailure()) return;
  }
}

INSTANTIATE_TEST_SUITE_P(Table, Mc6800Cycles, ::testing::ValuesIn(opcode_rows()),
                         [](const auto& test) { return test.param.name(); });

TEST(Mc6800Tables, AreComplete) {
  EXPECT_EQ(opcode_rows().size(), 197U);
  const std::vector<int> undefined = undefined_opcodes();
  EXPECT_EQ(undefined.size(), 59U);
  std::set<int> all(undefined.begin(), undefined.end());
  for (const OpcodeRow& row : opcode_rows()) all.insert(row.opcode);
  EXPECT_EQ(all.size(), 256U);
}

TEST(Mc6800Tables, AreTheProcessorsOwn) {
  const std::map<Mode, std::string> modes{
      {Mode::inherent, "inherent"}, {Mode::imm8, "immediate"},    {Mode::imm16, "immediate"},  {Mode::direct, "direct"},
      {Mode::offset, "indexed"},    {Mode::extended, "extended"}, {Mode::relative, "relative"}};
  for (const OpcodeRow& row : opcode_rows()) {
    SCOPED_TRACE(row.name());
    const Instruction* own = mc6800_instructions().find(0, static_cast<std::uint8_t>(row.opcode));
    ASSERT_NE(own, nullptr);
    EXPECT_EQ(own->mnemonic, row.mnemonic);
    EXPECT_EQ(modes.at(own->mode), row.mode);
    EXPECT_EQ(own->bytes, row.bytes);
    EXPECT_EQ(own->cycles, row.cycles);
    EXPECT_EQ(own->group, row.group);
    EXPECT_EQ(own->cycles, static_cast<int>(cycle_rows(row.group).size()));
  }
  for (const int opcode : undefined_opcodes()) {
    EXPECT_EQ(mc6800_instructions().find(0, static_cast<std::uint8_t>(opcode)), nullptr) << opcode;
  }
}

}  // namespace
}  // namespace prewire::testing
