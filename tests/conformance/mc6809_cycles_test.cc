// Every opcode and every indexed postbyte, cycle by cycle: MC6809E data sheet, figure "Cycle-by-cycle performance"
// (read in a transcription), as in tests/data/cpu/mc6809-cycles.csv; totals M6809PM tables C-1, D-1 and F-2 (read). The
// symbolic addresses of the table are worked out for many register and operand values, with page crossings and
// wrap-around. Left out: flags that the manual leaves undefined.
#include <gtest/gtest.h>

#include <optional>
#include <set>

#include "bus/mix.h"
#include "conformance/mc6809_model.h"
#include "conformance/mc6809_tables.h"
#include "cpu/cpus.h"
#include "cpu_fixture.h"

namespace prewire::testing {
namespace {

/// One place, register set and operand for an instruction.
struct Case {
  CpuRegisters before;
  std::array<std::uint8_t, 3> rest{};  ///< what follows the opcode
};

void PrintTo(const Case& c, std::ostream* out) {
  PrintTo(c.before, out);
  *out << fmt::format(" operand {:02X}", fmt::join(c.rest, " "));
}

std::uint8_t low(int value) { return static_cast<std::uint8_t>(value); }
std::uint8_t high(int value) { return static_cast<std::uint8_t>(value >> 8); }

CpuRegisters noise(std::uint64_t number) {
  const std::uint64_t n = mix(0x6809, number), more = mix(0x6809E, number);
  const auto bits = [](std::uint64_t from, int shift) { return static_cast<std::uint16_t>(from >> shift); };
  return {low(bits(n, 0)),  low(bits(n, 4)), bits(n, 8),     bits(n, 24),        bits(n, 40),
          low(bits(n, 48)), bits(more, 0),   bits(more, 16), low(bits(more, 32))};
}

std::vector<Case> cases(const Mc6809Row& row) {
  const CpuRegisters plain{0x3C, 0xA5, 0x2040, 0x3080, 0x1200, 0x00, 0x4060, 0x50F0, 0x17};
  // An indexed operand that is `,X`, so that X is the address; anything else for the other modes.
  const std::array<std::uint8_t, 3> rest = row.indexed() ? std::array<std::uint8_t, 3>{0x84, 0x12, 0x34}
                                           : row.mnemonic == "TFR" || row.mnemonic == "EXG"
                                               ? std::array<std::uint8_t, 3>{0x89, 0x12, 0x34}
                                               : std::array<std::uint8_t, 3>{0x12, 0x34, 0x56};
  std::vector<Case> list{{plain, rest}};
  const auto add = [&](auto change) {
    Case c{plain, rest};
    change(c);
    list.push_back(c);
  };
  const bool free_operand = !row.indexed() && rest[0] == 0x12;
  // Effective addresses: the last byte of a page and of memory, and the first; EA + 1 in the next page and at 0.
  for (const int ea : {0x0000, 0x00FF, 0x20FF, 0xFFFF, 0xFFFE}) {
    add([&](Case& c) {
      c.before.x = static_cast<std::uint16_t>(ea);
      c.before.dp = high(ea);
      if (free_operand) c.rest = {row.mode == "direct" ? low(ea) : high(ea), low(ea), 0};
    });
  }
  // Branches: to themselves, backward and forward as far as they go.
  for (const int offset : {-4, -3, -2, -128, 127, -32768, 32767}) {
    add([&](Case& c) {
      const bool long_offset = row.bytes > 2;
      if (row.mode == "relative") c.rest = {long_offset ? high(offset) : low(offset), low(offset), 0};
    });
  }
  // The program counter: instruction across a page, across the end of memory.
  for (const int pc : {0x10FD, 0x10FE, 0x10FF, 0xFFFD, 0xFFFE, 0xFFFF, 0x0000}) {
    add([&](Case& c) { c.before.pc = static_cast<std::uint16_t>(pc); });
  }
  // The stacks: around both ends of memory, over the vectors, over the instruction itself.
  for (const int s : {0x0000, 0x0001, 0x0003, 0x000C, 0xFFFF, 0xFFFE, 0xFFFC, 0xFFFB, 0x11FF, 0x1200, 0x1201, 0x1202,
                      0x1203, 0x1204, 0x120C}) {
    add([&](Case& c) {
      c.before.s = c.before.u = static_cast<std::uint16_t>(s);
      if (row.group[0] == 'p' && free_operand) c.rest[0] = 0xFF;  // all registers
    });
  }
  // Stores into the instruction itself.
  for (const int to : {0x1200, 0x1201, 0x1202, 0x1203}) {
    add([&](Case& c) {
      c.before.x = static_cast<std::uint16_t>(to);
      c.before.dp = high(to);
      if (free_operand) c.rest = {row.mode == "direct" ? low(to) : high(to), low(to), 0};
    });
  }
  // Other postbytes: all that push and pull, one of each kind that transfers, some that index.
  static constexpr std::array<std::uint8_t, 20> kIndexed{0x00, 0x1F, 0x30, 0x4F, 0x6E, 0x80, 0xA1, 0xC2, 0xE3, 0x91,
                                                         0xF3, 0xA6, 0xC5, 0xEB, 0x88, 0xB9, 0x8C, 0x9D, 0xDB, 0x9F};
  static constexpr std::array<std::uint8_t, 10> kPairs{0x01, 0x12, 0x23, 0x34, 0x40, 0x51, 0x15, 0x98, 0xA9, 0xBA};
  const bool stacks = row.plus == "bytes";
  for (int i = 0; i < (stacks ? 256 : row.indexed() ? 20 : free_operand ? 0 : 10); ++i) {
    add([&](Case& c) { c.rest[0] = stacks ? low(i) : row.indexed() ? kIndexed[i] : kPairs[i]; });
  }
  // All conditions of the branches, and whatever else.
  for (std::uint64_t i = 0; i < 32; ++i) {
    add([&](Case& c) {
      c.before = noise(i);
      c.before.cc = static_cast<std::uint8_t>((c.before.cc & 0xD0) | (i & 15) | (i & 16) << 1);
      const std::uint64_t bytes = mix(0x0DD, i);
      for (std::size_t at = free_operand ? 0 : 1; at < 3; ++at) c.rest[at] = static_cast<std::uint8_t>(bytes >> at * 8);
    });
  }
  return list;
}

/// A cycle that the table asks for.
struct Expected {
  std::optional<std::uint16_t> address;  ///< none while the buses are free
  Mc6809Cycle row;
};

/// The rows of a group with loops, blocks and conditions worked out.
std::vector<Expected> expected_cycles(const Mc6809Row& row, const CpuRegisters& before, const Mc6809Model& model) {
  const int at = before.pc + static_cast<int>(row.code().size());
  const int stack = row.group.substr(0, 3) == "psh" || row.group.substr(0, 3) == "pul"
                        ? (row.mnemonic.back() == 'S' ? before.s : before.u)
                        : model.base;
  const Symbols symbols{{"op", before.pc},
                        {"pb", at},
                        {"EA", model.ea},
                        {"IA", model.ia},
                        {"S", stack},
                        {"U", stack},
                        {"target", model.ea},
                        {"S+n", stack + model.moved_bytes},
                        {"U+n", stack + model.moved_bytes}};
  std::vector<Expected> list;
  const auto add = [&](const Mc6809Cycle& cycle) {
    if (cycle.data == "- (only if taken)" && !model.taken) return;
    if (cycle.address == "Z") return list.push_back({std::nullopt, cycle});
    list.push_back({evaluate(cycle.address, symbols), cycle});
  };
  for (const Mc6809Cycle& cycle : mc6809_cycles(model.everything ? "rti_e1" : row.group)) {
    if (cycle.address == "(indexed block)") {
      for (const Mc6809Cycle& each : mc6809_cycles(model.postbyte->block)) add(each);
    } else if (cycle.address == "r-1, r-2, ...") {
      for (int n = 1; n <= model.moved_bytes; ++n) list.push_back({static_cast<std::uint16_t>(stack - n), cycle});
    } else if (cycle.address == "r, r+1, ...") {
      for (int n = 0; n < model.moved_bytes; ++n) list.push_back({static_cast<std::uint16_t>(stack + n), cycle});
    } else {
      add(cycle);
      // What comes after a wait has no place in the instruction.
      if (cycle.cycle == "*" && row.plus == "wait") break;
    }
  }
  return list;
}

/// Cycles of the instruction; for one that waits, those before it does.
int total_cycles(const Mc6809Row& row, const Mc6809Model& model) {
  if (row.mnemonic == "CWAI") return 16;  // of at least 20: the wait, the vector and a dead cycle come with the request
  if (row.mnemonic == "SYNC") return 2;   // of at least 4
  int total = row.cycles;
  if (row.plus == "indexed") total += model.postbyte->extra_cycles;
  if (row.plus == "bytes") total += model.moved_bytes;
  if (row.plus == "taken") total += model.taken;
  if (row.plus == "E:+9" && model.everything) total += 9;
  return total;
}

class Mc6809Bench {
 public:
  using Memory = std::array<std::uint8_t, 65536>;

  /// A bench whose memory is full of noise, and that state for every case to start from.
  static Mc6809Bench& shared() {
    static Mc6809Bench shared;
    return shared;
  }

  Memory memory;
  CpuBench bench{CpuBench::mc6809()};
  Snapshot base;

  void place(const Mc6809Row& row, const Case& c) {
    std::vector<std::uint8_t> code = row.code();
    code.insert(code.end(), c.rest.begin(), c.rest.end());
    for (std::size_t i = 0; i < code.size(); ++i) {
      const auto at = static_cast<std::uint16_t>(c.before.pc + i);
      put(at, code[i]);
    }
    bench.set(c.before);
  }
  /// Back to the noise, where the instruction and what it wrote stand.
  void tidy(const Mc6809Row& row, const Case& c, const Mc6809Model& model) {
    for (std::size_t i = 0; i < row.code().size() + 3; ++i) put_back(static_cast<std::uint16_t>(c.before.pc + i));
    for (const Store::Write& write : model.writes) put_back(write.address);
  }
  /// What stands in memory when the instruction begins.
  std::uint8_t memory_with(const Mc6809Row& row, const Case& c, std::uint16_t at) const {
    std::vector<std::uint8_t> code = row.code();
    const auto index = static_cast<std::uint16_t>(at - c.before.pc);
    if (index < code.size()) return code[index];
    return index < code.size() + 3 ? c.rest[index - code.size()] : memory[at];
  }

 private:
  Mc6809Bench() {
    for (std::size_t at = 0; at < memory.size(); ++at) {
      memory[at] = static_cast<std::uint8_t>(mix(0xCA5E09, at) >> 13);
      put(static_cast<std::uint16_t>(at), memory[at]);
    }
    base = bench.machine.save();
  }
  void put(std::uint16_t at, std::uint8_t value) { ASSERT_TRUE(bench.machine.poke(at, value)); }
  void put_back(std::uint16_t at) { put(at, memory[at]); }
};

class Mc6809Cycles {
 public:
  explicit Mc6809Cycles(const Mc6809Row& row) : row_(row), action_(Mc6809Model::action(row)) {}

  void check(const Case& c, bool thorough) {
    SCOPED_TRACE(row_.name() + " " + ::testing::PrintToString(c));
    Mc6809Model model([&](std::uint16_t at) { return shared_.memory_with(row_, c, at); });
    model.load(c.before);
    action_(model);
    const std::vector<Expected> expected = expected_cycles(row_, c.before, model);
    const int cycles = total_cycles(row_, model);
    const bool waits = row_.plus == "wait";
    if (!waits) {
      ASSERT_EQ(static_cast<int>(expected.size()), cycles) << "the tables are at odds";
    }

    // Observed, in one go.
    shared_.place(row_, c);
    const Cycle start = machine().now();
    const std::vector<BusCycle> log = bench().log([&] {
      if (waits) {
        machine().run_for(static_cast<Cycle>(expected.size()) + 5);
        return;
      }
      const Stop stop = machine().step_instruction();
      EXPECT_EQ(stop.reason, StopReason::limit);
      EXPECT_FALSE(stop.mid_instruction);
      EXPECT_EQ(stop.pc, model.registers().pc);
      EXPECT_EQ(machine().now() - start, cycles);
    });
    check_log(log, expected, c, model);
    check_result(model);
    if (waits) {
      EXPECT_EQ(machine().cpu().state(), CpuState::waiting);
      for (std::size_t i = expected.size(); i < log.size(); ++i) check_cycle(log[i], expected.back());
      machine().restore(shared_.base);
      return;
    }
    shared_.tidy(row_, c, model);
    if (!thorough || ::testing::Test::HasFailure()) return;

    // Observed, one bus cycle at a time: registers change with the last one.
    machine().restore(shared_.base);
    shared_.place(row_, c);
    std::vector<BusCycle> stepped = bench().log([&] {
      for (int i = 1; i <= cycles; ++i) {
        const Stop stop = machine().step_cycle();
        const bool last = i == cycles;
        EXPECT_EQ(stop.mid_instruction, !last) << i;
        EXPECT_EQ(machine().cpu().cycles_into_instruction(), last ? 0 : i);
        if (last) continue;
        EXPECT_EQ(bench().registers(), c.before) << "after cycle " << i;
        EXPECT_FALSE(machine().cpu().set(0, 0)) << "a register changed within an instruction";
      }
    });
    for (std::size_t i = 0; i < stepped.size(); ++i) stepped[i].cycle = log[0].cycle + static_cast<Cycle>(i);
    EXPECT_EQ(stepped, log);
    check_result(model);

    // Unobserved, for the second time, so that plain memory answers without a detour; stopped after each cycle in turn.
    for (int stop = 1; stop <= cycles; ++stop) {
      shared_.tidy(row_, c, model);
      shared_.place(row_, c);
      const Cycle second = machine().now();
      machine().run_until(second + stop);
      EXPECT_EQ(machine().cpu().cycles_into_instruction(), stop % cycles);
      machine().run_until(second + cycles);
      EXPECT_EQ(machine().cpu().cycles_into_instruction(), 0);
      check_result(model);
    }
    shared_.tidy(row_, c, model);
  }

 private:
  CpuBench& bench() { return shared_.bench; }
  Machine& machine() { return shared_.bench.machine; }

  static void check_cycle(const BusCycle& seen, const Expected& expected) {
    SCOPED_TRACE(fmt::format("cycle {}: {} {} ({})", expected.row.cycle, expected.row.address, expected.row.data,
                             expected.row.source));
    const bool on_the_bus = expected.address.has_value();
    if (on_the_bus) {
      EXPECT_EQ(seen.address, *expected.address);
    }
    EXPECT_EQ(seen.vma, on_the_bus);
    EXPECT_EQ(seen.driven, on_the_bus);
    EXPECT_EQ(seen.rw, expected.row.read);
    EXPECT_EQ(seen.ba, expected.row.ba);
    EXPECT_EQ(seen.bs, expected.row.bs);
  }

  /// Compares a log with the table, what was read with what then stood in memory, and what was written with the model.
  void check_log(const std::vector<BusCycle>& log, const std::vector<Expected>& expected, const Case& c,
                 const Mc6809Model& model) const {
    ASSERT_GE(log.size(), expected.size());
    std::map<std::uint16_t, std::uint8_t> written;
    std::size_t writes = 0;
    for (std::size_t i = 0; i < expected.size(); ++i) {
      SCOPED_TRACE(i + 1);
      const BusCycle& seen = log[i];
      check_cycle(seen, expected[i]);
      EXPECT_EQ(seen.cycle, log[0].cycle + static_cast<Cycle>(i));
      EXPECT_EQ(seen.fetch, i == 0);
      if (!seen.rw) {
        ASSERT_LT(writes, model.writes.size());
        EXPECT_EQ((Store::Write{seen.address, seen.data}), model.writes[writes++]);
        if (const auto byte = named(expected[i].row.data, c, model)) {
          EXPECT_EQ(seen.data, *byte & 0xFF);
        }
        written[seen.address] = seen.data;
      } else if (seen.vma) {
        const auto changed = written.find(seen.address);
        EXPECT_EQ(seen.data, changed == written.end() ? shared_.memory_with(row_, c, seen.address) : changed->second);
      }
    }
    EXPECT_EQ(writes, model.writes.size());
  }

  /// The byte that the table's data column names, if that is more than the model's word.
  std::optional<int> named(const std::string& words, const Case& c, const Mc6809Model& model) const {
    const CpuRegisters& r = c.before;
    int extra = 0;
    if (model.postbyte != nullptr) extra = model.postbyte->extra_bytes;
    const int back = r.pc + row_.bytes + extra;
    const std::map<std::string, int> table{{"PC low", back},
                                           {"PC high", back >> 8},
                                           {"return low", back},
                                           {"return high", back >> 8},
                                           {"U low", r.u},
                                           {"U high", r.u >> 8},
                                           {"Y low", r.y},
                                           {"Y high", r.y >> 8},
                                           {"X low", r.x},
                                           {"X high", r.x >> 8},
                                           {"DP", r.dp},
                                           {"B", r.b},
                                           {"A", r.a},
                                           {"register", row_.accumulator() == 'A' ? r.a : r.b},
                                           {"operand (new)", model.result}};
    const auto place = table.find(words);
    if (place != table.end()) return place->second;
    if (words == "CC (E=1)" && row_.mnemonic != "CWAI") return r.cc | 0x80;
    return std::nullopt;
  }

  /// Compares registers and memory with what the model says.
  void check_result(const Mc6809Model& model) {
    CpuRegisters ours = bench().registers(), theirs = model.registers();
    ours.cc = static_cast<std::uint8_t>(ours.cc & ~row_.open_flags());
    theirs.cc = static_cast<std::uint8_t>(theirs.cc & ~row_.open_flags());
    EXPECT_EQ(ours, theirs);
    std::map<std::uint16_t, std::uint8_t> last;
    for (const Store::Write& write : model.writes) last[write.address] = write.value;
    for (const auto& [address, value] : last) EXPECT_EQ(machine().peek(address), value) << address;
  }

  const Mc6809Row& row_;
  const Mc6809Model::Action action_;
  Mc6809Bench& shared_ = Mc6809Bench::shared();
};

class Mc6809Opcode : public ::testing::TestWithParam<Mc6809Row> {};

TEST_P(Mc6809Opcode, FollowsTheTable) {
  Mc6809Cycles cycles(GetParam());
  for (const Case& c : cases(GetParam())) {
    cycles.check(c, true);
    if (HasFailure()) return;
  }
}

INSTANTIATE_TEST_SUITE_P(Table, Mc6809Opcode, ::testing::ValuesIn(mc6809_rows()),
                         [](const auto& test) { return test.param.name(); });

std::vector<Mc6809Postbyte> legal_postbytes() {
  std::vector<Mc6809Postbyte> rows = mc6809_postbyte_rows();
  std::erase_if(rows, [](const Mc6809Postbyte& row) { return !row.legal; });
  return rows;
}

class Mc6809Indexed : public ::testing::TestWithParam<Mc6809Postbyte> {};

// Every postbyte with every indexed opcode, from registers full of noise.
TEST_P(Mc6809Indexed, FollowsTheTable) {
  std::uint64_t number = 0;
  for (const Mc6809Row& row : mc6809_rows()) {
    if (!row.indexed()) continue;
    Mc6809Cycles cycles(row);
    for (const std::uint8_t postbyte : GetParam().postbytes()) {
      for (int i = 0; i < 3; ++i) {
        const std::uint64_t bytes = mix(0x1D, number);
        cycles.check({noise(1000 + number++), {postbyte, low(static_cast<int>(bytes)), high(static_cast<int>(bytes))}},
                     i == 0 && postbyte % 4 == 1);
        if (HasFailure()) return;
      }
    }
  }
}

INSTANTIATE_TEST_SUITE_P(Table, Mc6809Indexed, ::testing::ValuesIn(legal_postbytes()),
                         [](const auto& test) { return test.param.name(); });

TEST(Mc6809Tables, AreComplete) {
  EXPECT_EQ(mc6809_rows().size(), 268U);
  std::set<std::pair<int, int>> all;
  for (const Mc6809Row& row : mc6809_rows()) EXPECT_TRUE(all.insert({row.page, row.opcode}).second) << row.name();
  for (const Mc6809Undefined& row : mc6809_undefined_rows()) {
    for (const int opcode : row.opcodes()) EXPECT_TRUE(all.insert({row.page, opcode}).second) << row.name();
  }
  // $10 and $11 are no opcodes of page 1, but the way to the other pages.
  EXPECT_EQ(all.size(), 3 * 256U - 2);
  for (int postbyte = 0; postbyte < 256; ++postbyte) EXPECT_TRUE(mc6809_postbyte(postbyte).matches(postbyte));
}

TEST(Mc6809Tables, AreTheProcessorsOwn) {
  const std::map<Mode, std::string> modes{{Mode::inherent, "inherent"}, {Mode::imm8, "immediate"},
                                          {Mode::imm16, "immediate"},   {Mode::direct, "direct"},
                                          {Mode::indexed, "indexed"},   {Mode::extended, "extended"},
                                          {Mode::relative, "relative"}, {Mode::relative16, "relative"},
                                          {Mode::pair, "immediate"},    {Mode::stack, "immediate"}};
  EXPECT_EQ(mc6809_instructions().rows().size(), mc6809_rows().size());
  for (const Mc6809Row& row : mc6809_rows()) {
    SCOPED_TRACE(row.name());
    const std::vector<std::uint8_t> code = row.code();
    const Instruction* own = mc6809_instructions().find(code.size() == 1 ? 0 : code[0], code.back());
    ASSERT_NE(own, nullptr);
    EXPECT_EQ(own->mnemonic, row.mnemonic);
    EXPECT_EQ(modes.at(own->mode), row.mode);
    EXPECT_EQ(own->bytes, row.bytes);
    EXPECT_EQ(own->cycles, row.cycles);
    EXPECT_EQ(own->group, row.group);
  }
  for (const Mc6809Undefined& row : mc6809_undefined_rows()) {
    const auto prefix = static_cast<std::uint8_t>(row.page == 1 ? 0 : row.page == 2 ? 0x10 : 0x11);
    for (const int opcode : row.opcodes()) {
      EXPECT_EQ(mc6809_instructions().find(prefix, static_cast<std::uint8_t>(opcode)), nullptr) << row.name();
    }
  }
  for (int byte = 0; byte < 256; ++byte) {
    const Mc6809Postbyte& row = mc6809_postbyte(byte);
    const Postbyte own = postbyte(static_cast<std::uint8_t>(byte));
    EXPECT_EQ(own.form != Postbyte::Form::illegal, row.legal) << byte;
    if (!row.legal) continue;
    EXPECT_EQ(own.bytes, row.extra_bytes) << byte;
    EXPECT_EQ(own.cycles, row.extra_cycles) << byte;
    EXPECT_EQ(own.indirect, row.indirect) << byte;
  }
}

}  // namespace
}  // namespace prewire::testing
