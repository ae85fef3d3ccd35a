// What every opcode does to registers, memory and condition codes: over all operands of 8 bits, over chosen and random
// ones of 16.
//
// Three judges: the flag columns of tests/data/cpu/mc6809-opcodes.csv (M6809PM appendix A, read), the Boolean equations
// of its appendix A (read), and a slow model that calculates with integers. Flags that the manual leaves undefined, and
// V after SEX, are not looked at.
#include "conformance/mc6809_model.h"
#include "conformance/mc6809_tables.h"
#include "conformance/opcode_bench.h"

namespace prewire::testing {
namespace {

class Mc6809Flags : public OpcodeBench<Mc6809Row, Mc6809Model> {
 protected:
  static constexpr std::uint16_t kEa = 0x2145, kS = 0x3000;

  Mc6809Flags() : OpcodeBench(CpuBench::mc6809(), Mc6809Row::kFlags, GetParam().open_flags(), 0) {
    std::uint16_t at = kPc;
    for (const std::uint8_t each : row_.code()) store_.bytes[at++] = each;
    rest_ = at;
  }

  /// Puts an 8- or 16-bit operand where the mode looks for it.
  void place(int operand, int bytes) {
    std::uint16_t at = rest_;
    if (row_.mode == "direct") store_.bytes[rest_] = byte(kEa);
    if (row_.mode == "extended") store_.bytes[rest_] = kEa >> 8, store_.bytes[word(rest_ + 1U)] = byte(kEa);
    if (row_.mode == "indexed") store_.bytes[rest_] = 0x84;  // ,X
    if (row_.mode != "immediate" && row_.mode != "inherent") at = kEa;
    if (bytes == 2) store_.bytes[at++] = byte(operand >> 8);
    if (bytes > 0) store_.bytes[at] = byte(operand);
  }

  /// Registers full of noise, but for those that say where the instruction and its operand are.
  static CpuRegisters noise(std::uint64_t number) {
    const std::uint64_t n = mix(0x5EED09, number), more = mix(0x5EED9, number);
    return {byte(n),       byte(n >> 8),    word(n >> 16),    word(n >> 32), kPc,
            byte(n >> 48), word(more >> 8), word(more >> 24), byte(more)};
  }
  static CpuRegisters in_place(int a, int b, int cc) {
    return {byte(a), byte(b), kEa, kS, kPc, byte(cc), 0x5000, 0x6000, kEa >> 8};
  }
  static std::uint16_t& word_register(CpuRegisters& r, char name) {
    return name == 'X' ? r.x : name == 'Y' ? r.y : name == 'U' ? r.u : r.s;
  }

  void two_operands();
  void one_operand();
  void moves();
  void words();
  void codes();
  void multiply();
  void registers();
  void addresses();
  void transfers_of_control();

  std::uint16_t rest_ = 0;  ///< address of what follows the opcode
};

/// All pairs of operands, each from some flags and from their complement, so that each flag is met in both states. In
/// the modes that reach the operand by another way a sixteenth of the pairs, and those whose sum or difference is zero.
void Mc6809Flags::two_operands() {
  has_h_ = is({"ADD", "ADC"});
  if (has_h_) equations_ = of_sum;
  if (is({"SUB", "SBC", "CMP"})) equations_ = of_difference;
  const bool all = row_.mode == "immediate";
  for (int m = 0; m < 256; ++m) {
    place(m, 1);
    for (int p = 0; p < 256; ++p) {
      const std::uint64_t chance = mix(m * 256 + p, row_.opcode);
      if (!all && chance % 16 != 0 && p != m && (p + m) % 256 != 0) continue;
      const int codes = static_cast<int>(chance >> 8 & 255);
      for (const int cc : {codes, codes ^ 255}) {
        CpuRegisters r = in_place(p, p ^ 0x5A, cc);
        if (row_.accumulator() == 'B') std::swap(r.a, r.b);
        execute(r, p);
        if (HasFatalFailure()) return;
      }
    }
  }
}

void Mc6809Flags::one_operand() {
  for (int m = 0; m < 256; ++m) {
    place(m, row_.mode == "inherent" ? 0 : 1);
    for (int cc = 0; cc < 256; cc += 1 + m % 3) {
      execute(in_place(m, row_.accumulator() == 'B' ? m : m ^ 0x5A, cc));
      if (HasFatalFailure()) return;
    }
  }
}

/// Loads and stores of a byte.
void Mc6809Flags::moves() {
  for (int m = 0; m < 256; ++m) {
    place(m, 1);
    for (int cc = 0; cc < 256; cc += 1 + m % 3) {
      execute(in_place(m, 255 - m, cc));
      if (HasFatalFailure()) return;
    }
  }
}

/// 16-bit operands: pairs of interesting ones.
void Mc6809Flags::words() {
  const std::vector<int> values = interesting_words();
  const char name = row_.word_register();
  const bool pairs = is({"ADD", "SUB", "CMP"});
  if (row_.stem() == "ADD") equations_ = of_sum;
  if (is({"SUB", "CMP"})) equations_ = of_difference;
  sign_ = 15;
  const bool addressed = row_.indexed() && name == 'X';  // X holds the address, and is the operand as well
  for (const int value : values) {
    for (const int other : pairs && !addressed ? values : std::vector<int>{value, value ^ 0x8001, 0}) {
      place(pairs || row_.stem() == "LD" ? value : 0x1234, 2);
      const int first = pairs ? other : value;
      const int codes = static_cast<int>(mix(value, other) & 255);
      for (const int cc : {codes, codes ^ 255}) {
        CpuRegisters r = in_place(0x12, 0x34, cc);
        if (name == 'D') {
          r.a = byte(first >> 8), r.b = byte(first);
        } else if (!addressed) {
          word_register(r, name) = word(first);
        }
        execute(r, name == 'D' || !addressed ? first : kEa);
        if (HasFatalFailure()) return;
      }
    }
  }
  if (!addressed) return;
  // Move the operand to where all those values of X point.
  for (const int value : values) {
    if (word(value - kPc + 4) < 8) continue;  // not over the instruction
    for (const int operand : {value, value + 1, value ^ 0x8000, 0, 0x7FFF}) {
      store_.bytes[word(value)] = byte(operand >> 8);
      store_.bytes[word(value + 1)] = byte(operand);
      for (const int cc : {0, 255}) {
        CpuRegisters r = in_place(0x12, 0x34, cc);
        r.x = word(value);
        execute(r, value);
        if (HasFatalFailure()) return;
      }
    }
  }
}

/// Instructions on accumulators and flags alone: DAA and SEX in all states, ANDCC and ORCC with all masks.
void Mc6809Flags::codes() {
  for (int m = 0; m < 256; ++m) {
    place(m, row_.mode == "immediate" ? 1 : 0);
    for (int cc = 0; cc < 256; ++cc) {
      execute(in_place(m, m ^ static_cast<int>(mix(m, cc) & 1), cc));
      if (HasFatalFailure()) return;
    }
  }
}

/// All pairs of A and B; for ABX all of B with every X there is to be interested in.
void Mc6809Flags::multiply() {
  const std::vector<int> values = interesting_words();
  for (int a = 0; a < 256; ++a) {
    for (int b = 0; b < 256; ++b) {
      CpuRegisters r = in_place(a, b, static_cast<int>(mix(a, b) & 255));
      r.x = word(values[static_cast<std::size_t>(a) % values.size()]);
      execute(r);
      r.cc ^= 0xFF;
      execute(r);
      if (HasFatalFailure()) return;
    }
  }
}

/// TFR and EXG with every legal pair, PSH and PUL with every postbyte.
void Mc6809Flags::registers() {
  const bool pairs = row_.plus != "bytes";
  std::uint64_t number = 0;
  for (int postbyte = 0; postbyte < 256; ++postbyte) {
    const int from = postbyte >> 4, to = postbyte & 15;
    const bool legal = (from < 6 && to < 6) || (from >= 8 && from < 12 && to >= 8 && to < 12);
    if (pairs && !legal) continue;
    for (int i = 0; i < (pairs ? 300 : 40); ++i) {
      const CpuRegisters r = noise(number++);
      store_.bytes[rest_] = byte(postbyte);
      store_.bytes[r.pc] = byte(row_.opcode);  // a stack may have run over it
      execute(r);
      if (HasFatalFailure()) return;
    }
  }
}

/// LEA with every legal postbyte, and with sums that are zero.
void Mc6809Flags::addresses() {
  std::uint64_t number = 0;
  for (int postbyte = 0; postbyte < 256; ++postbyte) {
    if (!mc6809_postbyte(postbyte).legal) continue;
    for (int i = 0; i < 60; ++i) {
      CpuRegisters r = noise(number++);
      const std::uint64_t offset = mix(0x1EA, number);
      store_.bytes[rest_] = byte(postbyte);
      store_.bytes[word(rest_ + 1U)] = byte(offset);
      store_.bytes[word(rest_ + 2U)] = byte(offset >> 8);
      if (i % 4 == 0 && postbyte < 0x80) {
        const int zero = -((postbyte & 31) ^ 16) + 16;
        r.x = r.y = r.u = r.s = word(zero);
      }
      execute(r);
      if (HasFatalFailure()) return;
    }
  }
}

/// Branches with all offsets and flags, jumps, subroutines, interrupts by instruction: noise everywhere else.
void Mc6809Flags::transfers_of_control() {
  const bool waits = row_.plus == "wait";
  for (std::uint64_t i = 0; i < (waits ? 2048 : 256 * 64); ++i) {
    CpuRegisters r = noise(i);
    const std::uint64_t more = mix(0xFACE09, i);
    r.pc = i % 3 == 0 ? kPc : word(more);
    r.cc = byte(i * (waits ? 37 : 1) % 256);
    std::uint16_t at = r.pc;
    for (const std::uint8_t each : row_.code()) store_.bytes[at++] = each;
    store_.bytes[at] = byte(row_.indexed() ? 0x84 : row_.bytes == 2 ? i / 64 : more >> 24);
    store_.bytes[word(at + 1U)] = byte(more >> 16);
    execute(r);
    if (HasFatalFailure()) return;
    if (waits) bench_.machine.restore(start_);
  }
}

TEST_P(Mc6809Flags, AreAsTheTablesSay) {
  const bool wide = row_.group.find("16") != std::string::npos;
  if (wide) {
    words();
  } else if (is({"ADD", "ADC", "SUB", "SBC", "CMP", "AND", "OR", "EOR", "BIT"})) {
    two_operands();
  } else if (is({"NEG", "COM", "CLR", "INC", "DEC", "LSR", "ASR", "ROR", "ASL", "ROL", "TST"})) {
    one_operand();
  } else if (is({"LD", "ST"})) {
    moves();
  } else if (is({"NOP", "DAA", "SEX", "ANDCC", "ORCC"})) {
    codes();
  } else if (is({"MUL", "ABX"})) {
    multiply();
  } else if (is({"TFR", "EXG"}) || row_.plus == "bytes") {
    registers();
  } else if (is({"LEAX", "LEAY", "LEAS", "LEAU"})) {
    addresses();
  } else {
    transfers_of_control();
  }
  if (HasFatalFailure()) return;
  expect_enough_cases();
}

INSTANTIATE_TEST_SUITE_P(Table, Mc6809Flags, ::testing::ValuesIn(mc6809_rows()),
                         [](const auto& test) { return test.param.name(); });

// What DAA is for: ADDA and ADCA of two-digit decimal numbers.
TEST(Mc6809Daa, MakesDecimalSums) {
  Store store;
  CpuBench bench(store, CpuBench::mc6809());
  constexpr std::uint16_t kPc = 0x4000;
  const auto bcd = [](int value) { return static_cast<std::uint8_t>(value / 10 % 10 * 16 + value % 10); };
  for (int first = 0; first < 100; ++first) {
    for (int second = 0; second < 100; ++second) {
      for (const int carry : {0, 1}) {
        store.bytes[kPc] = carry ? 0x89 : 0x8B;  // ADCA or ADDA
        store.bytes[kPc + 1] = bcd(second);
        store.bytes[kPc + 2] = 0x19;
        bench.set({bcd(first), 0, 0, 0, kPc, static_cast<std::uint8_t>(carry)});
        bench.machine.step_instruction();
        bench.machine.step_instruction();
        const CpuRegisters after = bench.registers();
        ASSERT_EQ(after.a, bcd(first + second + carry)) << first << " " << second;
        ASSERT_EQ(after.cc & 1, first + second + carry > 99);
      }
    }
  }
}

}  // namespace
}  // namespace prewire::testing
