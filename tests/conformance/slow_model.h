// What the slow models of both processors share: memory, flags and integer arithmetic. Sums and differences are signed
// and unsigned numbers here; a flag says whether they fit.
#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

#include "cpu_fixture.h"

namespace prewire::testing {

class SlowModel {
 public:
  using Read = std::function<std::uint8_t(std::uint16_t)>;
  explicit SlowModel(Read read) : memory_(std::move(read)) {}

  int a = 0, b = 0, x = 0, s = 0, pc = 0;
  bool h = false, i = false, n = false, z = false, v = false, c = false;
  std::vector<Store::Write> writes;  ///< of the last instruction, in order
  int operand = 0;                   ///< M: what the last instruction worked on, before it did
  int result = 0;                    ///< R: what came out

 protected:
  ~SlowModel() = default;

  static std::uint8_t byte(int value) { return static_cast<std::uint8_t>(value); }
  static std::uint16_t word(int value) { return static_cast<std::uint16_t>(value); }
  static int as_signed(int value, int bits = 8) { return value >= 1 << (bits - 1) ? value - (1 << bits) : value; }

  // Memory ------------------------------------------------------------------------------------------------------------
  int read(int address) const {
    for (auto write = writes.rbegin(); write != writes.rend(); ++write) {
      if (write->address == word(address)) return write->value;
    }
    return memory_(word(address));
  }
  int read_word(int address) const { return read(address) * 256 + read(address + 1); }
  void write(int address, int value) { writes.push_back({word(address), byte(value)}); }
  void write_word(int address, int value) {
    write(address, value / 256);
    write(address + 1, value % 256);
  }
  int& accumulator(char name) { return name == 'A' ? a : b; }

  // Flags -------------------------------------------------------------------------------------------------------------
  void set_nz(int value, int bits) {
    result = value;
    n = value >= 1 << (bits - 1);
    z = value == 0;
  }

  // Arithmetic and logic ----------------------------------------------------------------------------------------------
  void sum(int p, int m, int carry, int bits) {
    operand = m;
    const int range = 1 << bits, exact = as_signed(p, bits) + as_signed(m, bits) + carry;
    c = p + m + carry >= range;
    v = exact < -range / 2 || exact >= range / 2;
    set_nz((p + m + carry) % range, bits);
  }
  int difference(int p, int m, int borrow, int bits) {
    operand = m;
    const int range = 1 << bits, exact = as_signed(p, bits) - as_signed(m, bits) - borrow;
    c = p < m + borrow;
    v = exact < -range / 2 || exact >= range / 2;
    set_nz((p - m - borrow + 2 * range) % range, bits);
    return result;
  }
  int add(int p, int m, int carry) {
    h = p % 16 + m % 16 + carry > 15;
    sum(p, m, carry, 8);
    return result;
  }
  int subtract(int p, int m, int borrow) { return difference(p, m, borrow, 8); }
  int moved(int value) {  // and the logic operations
    set_nz(value, 8);
    v = false;
    return value;
  }
  int moved_word(int value) {
    set_nz(value, 16);
    v = false;
    return value;
  }
  /// By stem: `ADD` for both `ADDA` and `ADDB`.
  int two_operands(const std::string& stem, int p, int m) {
    operand = m;
    if (stem == "ADD" || stem == "ABA") return add(p, m, 0);
    if (stem == "ADC") return add(p, m, c);
    if (stem == "SUB" || stem == "CMP" || stem == "SBA" || stem == "CBA") return subtract(p, m, 0);
    if (stem == "SBC") return subtract(p, m, c);
    if (stem == "AND" || stem == "BIT") return moved(p & m);
    if (stem == "ORA" || stem == "OR") return moved(p | m);
    if (stem == "EOR") return moved(p ^ m);
    if (stem == "LDA" || stem == "LD") return moved(m);
    throw std::runtime_error("no operation " + stem);
  }
  int one_operand(const std::string& stem, int m) {
    operand = m;
    if (stem == "NEG") return subtract(0, m, 0);
    if (stem == "COM") {
      c = true;
      return moved(255 - m);
    }
    if (stem == "CLR") {
      c = false;
      return moved(0);
    }
    if (stem == "TST") return tested(m);
    if (stem == "INC") {
      set_nz((m + 1) % 256, 8);
      v = as_signed(m) + 1 > 127;
      return result;
    }
    if (stem == "DEC") {
      set_nz((m + 255) % 256, 8);
      v = as_signed(m) - 1 < -128;
      return result;
    }
    if (stem == "LSR") return shifted_right(m / 2, m % 2);
    if (stem == "ASR") return shifted_right(m / 2 + (m >= 128 ? 128 : 0), m % 2);
    if (stem == "ROR") return shifted_right(m / 2 + (c ? 128 : 0), m % 2);
    if (stem == "ASL") return shifted_left(m * 2 % 256, m >= 128);
    if (stem == "ROL") return shifted_left(m * 2 % 256 + c, m >= 128);
    throw std::runtime_error("no operation " + stem);
  }
  /// The rule of DAA: M6809PM appendix A with its erratum (the low nibble tests H), valid for both processors.
  void decimal_adjust() {
    const int high = a / 16, low = a % 16;
    const int add_low = h || low > 9 ? 0x06 : 0;
    const int add_high = c || high > 9 || (high > 8 && low > 9) ? 0x60 : 0;
    operand = a;
    c = c || a + add_low + add_high > 255;
    a = (a + add_low + add_high) % 256;
    set_nz(a, 8);  // V is not defined; left as it was, as docs/accuracy.md says
  }
  /// By the name of the short branch.
  bool condition(const std::string& branch) const {
    const std::map<std::string, bool> table{
        {"BRA", true},   {"BRN", false},  {"BHI", !c && !z},     {"BLS", c || z},     {"BCC", !c}, {"BCS", c},
        {"BNE", !z},     {"BEQ", z},      {"BVC", !v},           {"BVS", v},          {"BPL", !n}, {"BMI", n},
        {"BGE", n == v}, {"BLT", n != v}, {"BGT", !z && n == v}, {"BLE", z || n != v}};
    return table.at(branch);
  }

  // What the processors do differently.
  virtual int tested(int m) = 0;
  virtual int shifted_right(int value, bool carry_out) = 0;

 private:
  int shifted_left(int value, bool carry_out) {
    set_nz(value, 8);
    c = carry_out;
    v = n != c;
    return value;
  }

  Read memory_;
};

/// Whether a list has a name in it.
inline bool one_of(const std::string& what, const std::vector<std::string>& list) {
  for (const std::string& item : list) {
    if (what == item) return true;
  }
  return false;
}

}  // namespace prewire::testing
