// What every opcode does to registers, memory and condition codes, over all operands where that is possible.
//
// Three judges: the flag columns of tests/data/cpu/mc6800-opcodes.csv (which flags: read in Summary-6800; formulas:
// MC6800 data sheet notes 1-12 and M68PRM appendix A, from memory), the Boolean equations of M68PRM appendix A (from
// memory, proved equal to the arithmetic by this enumeration), and a slow model that calculates with integers.
#include <gtest/gtest.h>

#include "conformance/mc6800_model.h"
#include "conformance/mc6800_tables.h"
#include "conformance/opcode_bench.h"

namespace prewire::testing {
namespace {

class Mc6800Opcode : public OpcodeBench<OpcodeRow, Mc6800Model> {
 protected:
  static constexpr std::uint16_t kX = 0x2000, kS = 0x3000;
  static constexpr std::uint8_t kOperand = 0x21;  ///< direct address, offset, or both bytes of an extended address

  Mc6800Opcode() : OpcodeBench(CpuBench::Parts{}, "HINZVC", 0, 1) {}

  /// Puts the instruction at `kPc` with an 8- or 16-bit operand where its mode looks for it.
  void place(int operand, int bytes) {
    store_.bytes[kPc] = static_cast<std::uint8_t>(row_.opcode);
    std::uint16_t at = kPc + 1;
    if (row_.mode != "immediate" && row_.mode != "inherent") {
      store_.bytes[kPc + 1] = store_.bytes[kPc + 2] = kOperand;
      if (row_.mode == "direct") at = kOperand;
      if (row_.mode == "indexed") at = kX + kOperand;
      if (row_.mode == "extended") at = kOperand << 8 | kOperand;
    }
    if (bytes == 2) store_.bytes[at++] = static_cast<std::uint8_t>(operand >> 8);
    store_.bytes[at] = static_cast<std::uint8_t>(operand);
  }

  int first_of_two(const CpuRegisters& r) const { return row_.accumulator() == 'B' ? r.b : r.a; }
  /// Registers full of noise, the same for the same number.
  static CpuRegisters noise(std::uint64_t number) {
    const std::uint64_t n = mix(0x5EED, number);
    return {byte(n), byte(n >> 8), word(n >> 16), word(n >> 32), kPc, byte(0xC0 | n >> 48)};
  }

  void two_operands();
  void one_operand();
  void moves();
  void words();
  void codes();
  void transfers_of_control();
};

/// All pairs of operands; each from some flags and from their complement, so that each flag is met in both states.
void Mc6800Opcode::two_operands() {
  const bool inherent = row_.mode == "inherent";  // ABA, SBA, CBA
  has_h_ = is({"ADD", "ADC", "ABA"});
  if (has_h_) equations_ = of_sum;
  if (is({"SUB", "SBC", "CMP", "SBA", "CBA"})) equations_ = of_difference;
  for (int m = 0; m < 256; ++m) {
    place(m, inherent ? 0 : 1);
    for (int p = 0; p < 256; ++p) {
      const int codes = static_cast<int>(mix(p, m) & 63);
      for (const int cc : {codes, codes ^ 63}) {
        CpuRegisters r{byte(p), byte(inherent ? m : p ^ 0x5A), kX, kS, kPc, byte(0xC0 | cc)};
        if (row_.accumulator() == 'B') std::swap(r.a, r.b);
        execute(r, first_of_two(r));
        if (HasFatalFailure()) return;
      }
    }
  }
}

void Mc6800Opcode::one_operand() {
  for (int m = 0; m < 256; ++m) {
    for (int cc = 0; cc < 64; ++cc) {
      place(m, row_.mode == "inherent" ? 0 : 1);
      execute({byte(m), byte(row_.accumulator() == 'B' ? m : m ^ 0x5A), kX, kS, kPc, byte(0xC0 | cc)});
      if (HasFatalFailure()) return;
    }
  }
}

/// Loads, stores and transfers of a byte; pushes and pulls.
void Mc6800Opcode::moves() {
  for (int m = 0; m < 256; ++m) {
    place(m, row_.mode == "inherent" ? 0 : 1);
    store_.bytes[kS + 1] = byte(m);
    for (int cc = 0; cc < 64; ++cc) {
      execute({byte(m), byte(255 - m), kX, kS, kPc, byte(0xC0 | cc)});
      execute({byte(m ^ 0x81), byte(m), kX, kS, kPc, byte(0xC0 | cc)});
      if (HasFatalFailure()) return;
    }
  }
}

/// 16-bit values; pairs of them for CPX.
void Mc6800Opcode::words() {
  const std::vector<int> values = interesting_words();
  const bool addressed = row_.mode == "indexed";  // X has to hold the address
  const bool pairs = row_.mnemonic == "CPX" && !addressed;
  for (const int value : values) {
    place(value, row_.mode == "inherent" ? 0 : 2);
    for (const int other : pairs ? values : std::vector<int>{value ^ 0x8001, 0, 0xFFFF}) {
      const int codes = static_cast<int>(mix(value, other) & 63);
      for (const int cc : {codes, codes ^ 63}) {
        CpuRegisters r{0x12, 0x34, word(pairs ? other : value), word(pairs ? value : other), kPc, byte(0xC0 | cc)};
        if (row_.mnemonic == "STS") r.s = word(value);
        if (addressed) r.x = kX;
        execute(r);
        if (row_.mode == "inherent") {
          r.s = word(value);
          r.x = word(other);
          execute(r);
        }
        if (HasFatalFailure()) return;
      }
    }
  }
  if (!addressed) return;
  // Indexed: move the operand to where all those values of X point.
  for (const int value : values) {
    const int offset = value & 0x7F;
    if (word(value + offset) - kPc + 4U < 8) continue;  // not over the instruction
    store_.bytes[kPc + 1] = byte(offset);
    const std::uint64_t operand = mix(value, 5) % 4 == 0 ? word(value) : mix(value, 7);
    store_.bytes[word(value + offset)] = byte(operand >> 8);
    store_.bytes[word(value + offset + 1)] = byte(operand);
    for (const int cc : {0, 63}) {
      execute({0x12, 0x34, word(value), word(value ^ 0x8001), kPc, byte(0xC0 | cc)});
      if (HasFatalFailure()) return;
    }
  }
}

/// Instructions on A and the flags alone.
void Mc6800Opcode::codes() {
  place(0, 0);
  for (int a = 0; a < 256; ++a) {
    for (int cc = 0; cc < 64; ++cc) {
      execute({byte(a), 0x34, kX, kS, kPc, byte(0xC0 | cc)});
      if (HasFatalFailure()) return;
    }
  }
}

/// Branches with all offsets and flags, jumps, subroutines, interrupts by instruction: noise everywhere else.
void Mc6800Opcode::transfers_of_control() {
  for (std::uint64_t i = 0; i < 256 * 64; ++i) {
    CpuRegisters r = noise(i);
    const std::uint64_t more = mix(0xFACE, i);
    r.pc = i % 3 == 0 ? kPc : word(more);
    r.cc = byte(0xC0 | i % 64);
    store_.bytes[r.pc] = byte(row_.opcode);
    store_.bytes[word(r.pc + 1U)] = byte(i / 64);
    store_.bytes[word(r.pc + 2U)] = byte(more >> 16);
    execute(r);
    if (HasFatalFailure()) return;
    if (row_.mnemonic == "WAI") bench_.machine.restore(start_);  // out of the wait
    if (row_.mnemonic == "WAI" && i == 2048) return;
  }
}

TEST_P(Mc6800Opcode, ActsAsTheTablesSay) {
  if (is({"ADD", "ADC", "SUB", "SBC", "CMP", "AND", "ORA", "EOR", "BIT", "ABA", "SBA", "CBA"})) {
    two_operands();
  } else if (is({"NEG", "COM", "CLR", "INC", "DEC", "LSR", "ASR", "ROR", "ASL", "ROL", "TST"})) {
    one_operand();
  } else if (is({"LDA", "STA", "PSH", "PUL", "TAB", "TBA"})) {
    moves();
  } else if (is({"LDX", "LDS", "STX", "STS", "CPX", "INX", "DEX", "INS", "DES", "TSX", "TXS"})) {
    words();
  } else if (is({"NOP", "CLC", "SEC", "CLV", "SEV", "CLI", "SEI", "TAP", "TPA", "DAA"})) {
    codes();
  } else {
    transfers_of_control();
  }
  if (HasFatalFailure()) return;
  expect_enough_cases();
}

INSTANTIATE_TEST_SUITE_P(Table, Mc6800Opcode, ::testing::ValuesIn(opcode_rows()),
                         [](const auto& test) { return test.param.name(); });

// ---------------------------------------------------------------------------------------------------------------------
// DAA

class Mc6800Daa : public ::testing::Test {
 protected:
  Mc6800Daa() : bench_(store_), cpu_(bench_.machine.cpu()) {
    store_.bytes[kPc] = 0x1B;      // ABA
    store_.bytes[kPc + 1] = 0x19;  // DAA
  }
  CpuRegisters run(CpuRegisters r, int instructions) {
    CpuBench::set(cpu_, r);
    for (int i = 0; i < instructions; ++i) bench_.machine.step_instruction();
    return bench_.registers();
  }
  CpuRegisters adjust(int a, bool h, bool c) {
    return run({static_cast<std::uint8_t>(a), 0, 0, 0, kPc + 1, static_cast<std::uint8_t>(0xC0 | h << 5 | c)}, 1);
  }

  static constexpr std::uint16_t kPc = 0x4000;
  Store store_;
  CpuBench bench_;
  Cpu& cpu_;
};

/// A row of the table in M68PRM appendix A, DAA (from memory).
struct DaaRow {
  int c, high_first, high_last, h, low_first, low_last, added, carry;
};

class Mc6800DaaTable : public Mc6800Daa, public ::testing::WithParamInterface<DaaRow> {};

TEST_P(Mc6800DaaTable, Row) {
  const DaaRow& row = GetParam();
  for (int high = row.high_first; high <= row.high_last; ++high) {
    for (int low = row.low_first; low <= row.low_last; ++low) {
      const int a = high * 16 + low;
      const CpuRegisters after = adjust(a, row.h != 0, row.c != 0);
      EXPECT_EQ(after.a, (a + row.added) % 256) << a;
      EXPECT_EQ(after.cc & 1, row.carry) << a;
    }
  }
}

INSTANTIATE_TEST_SUITE_P(
    M68PRM, Mc6800DaaTable,
    ::testing::Values(DaaRow{0, 0x0, 0x9, 0, 0x0, 0x9, 0x00, 0}, DaaRow{0, 0x0, 0x8, 0, 0xA, 0xF, 0x06, 0},
                      DaaRow{0, 0x0, 0x9, 1, 0x0, 0x3, 0x06, 0}, DaaRow{0, 0xA, 0xF, 0, 0x0, 0x9, 0x60, 1},
                      DaaRow{0, 0x9, 0xF, 0, 0xA, 0xF, 0x66, 1}, DaaRow{0, 0xA, 0xF, 1, 0x0, 0x3, 0x66, 1},
                      DaaRow{1, 0x0, 0x2, 0, 0x0, 0x9, 0x60, 1}, DaaRow{1, 0x0, 0x2, 0, 0xA, 0xF, 0x66, 1},
                      DaaRow{1, 0x0, 0x3, 1, 0x0, 0x3, 0x66, 1}),
    [](const auto& test) {
      const DaaRow& row = test.param;
      return fmt::format("C{}H{}High{:X}to{:X}Low{:X}to{:X}", row.c, row.h, row.high_first, row.high_last,
                         row.low_first, row.low_last);
    });

// M6809PM appendix A, DAA, with the published erratum that the low nibble tests H; C is never cleared.
TEST_F(Mc6800Daa, FollowsTheRuleForAllStates) {
  for (int a = 0; a < 256; ++a) {
    for (int hc = 0; hc < 4; ++hc) {
      const bool h = hc & 2, c = hc & 1;
      const int low = h || a % 16 > 9 ? 6 : 0;
      const int high = c || a / 16 > 9 || (a / 16 > 8 && a % 16 > 9) ? 6 : 0;
      const int sum = a + high * 16 + low;
      const CpuRegisters after = adjust(a, h, c);
      EXPECT_EQ(after.a, sum % 256);
      EXPECT_EQ(after.cc & 1, c || sum > 255);
      EXPECT_EQ((after.cc & 8) != 0, sum % 256 >= 128);
      EXPECT_EQ((after.cc & 4) != 0, sum % 256 == 0);
      EXPECT_EQ((after.cc & 32) != 0, h);
    }
  }
}

// What DAA is for: ABA and ADC of two-digit decimal numbers.
TEST_F(Mc6800Daa, MakesDecimalSums) {
  const auto bcd = [](int value) { return static_cast<std::uint8_t>(value / 10 % 10 * 16 + value % 10); };
  for (int first = 0; first < 100; ++first) {
    for (int second = 0; second < 100; ++second) {
      CpuRegisters after = run({bcd(first), bcd(second), 0, 0, kPc, 0xC0}, 2);
      EXPECT_EQ(after.a, bcd(first + second));
      EXPECT_EQ(after.cc & 1, first + second > 99);
      // ADCA #second with the carry of a lower pair of digits.
      store_.bytes[0x5000] = 0x89;
      store_.bytes[0x5001] = bcd(second);
      store_.bytes[0x5002] = 0x19;
      after = run({bcd(first), 0, 0, 0, 0x5000, 0xC1}, 2);
      EXPECT_EQ(after.a, bcd(first + second + 1));
      EXPECT_EQ(after.cc & 1, first + second + 1 > 99);
    }
  }
}

}  // namespace
}  // namespace prewire::testing
