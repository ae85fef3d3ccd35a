// A slow MC6800 that does one instruction with plain integer arithmetic, to compare the real one with.
//
// Written from the operation column of the MC6800 data sheet's instruction tables and the flag rules in
// tests/data/cpu/mc6800-opcodes.csv, not from the processor's source.
#pragma once

#include <functional>
#include <stdexcept>
#include <string>
#include <vector>

#include "conformance/mc6800_tables.h"
#include "conformance/slow_model.h"

namespace prewire::testing {

class Mc6800Model final : public SlowModel {
 public:
  using SlowModel::SlowModel;

  void load(const CpuRegisters& r) {
    a = r.a, b = r.b, x = r.x, s = r.s, pc = r.pc;
    set_cc(r.cc);
  }
  CpuRegisters registers() const { return {byte(a), byte(b), word(x), word(s), word(pc), byte(cc())}; }
  int cc() const { return 0xC0 + 32 * h + 16 * i + 8 * n + 4 * z + 2 * v + c; }
  void set_cc(int cc) { h = cc & 32, i = cc & 16, n = cc & 8, z = cc & 4, v = cc & 2, c = cc & 1; }

  using Action = std::function<void(Mc6800Model&)>;
  /// What an instruction does; throws for one that the model does not know.
  static Action action(const OpcodeRow& row);

 private:
  void push(int value) { write(s--, value); }
  int pull() { return read(++s); }
  void push_word(int value) {
    push(word(value) % 256);
    push(word(value) / 256);
  }
  int pull_word() {
    const int high = pull();
    return high * 256 + pull();
  }

  int address(const std::string& mode) const {
    if (mode == "immediate") return pc + 1;
    if (mode == "direct") return read(pc + 1);
    if (mode == "extended") return read_word(pc + 1);
    if (mode == "indexed") return word(x + read(pc + 1));
    throw std::runtime_error("no address in mode " + mode);
  }

  int tested(int m) override {
    c = false;
    return moved(m);
  }
  int shifted_right(int value, bool carry_out) override {
    set_nz(value, 8);
    c = carry_out;
    v = n != c;
    return value;
  }
  void compare_x(int m) {
    operand = m;
    const int high = as_signed(x / 256) - as_signed(m / 256);
    n = (x / 256 - m / 256 + 256) % 256 >= 128;
    v = high < -128 || high > 127;
    z = x == m;
    result = (x / 256 - m / 256 + 256) % 256;  // RH
  }
  void stack_all() {
    push_word(pc + 1);
    push_word(x);
    push(a);
    push(b);
    push(cc());
  }
};

inline Mc6800Model::Action Mc6800Model::action(const OpcodeRow& row) {
  using Model = Mc6800Model;
  const std::string name = row.mnemonic, stem = row.stem(), mode = row.mode;
  const char acc = row.accumulator();
  // Wraps what an instruction does in what all of them do.
  const auto plain = [bytes = row.bytes](Action body) -> Action {
    return [=](Model& m) {
      m.writes.clear();
      body(m);
      m.pc = word(m.pc + bytes);
      m.x = word(m.x);
      m.s = word(m.s);
    };
  };
  const auto jump = [](std::function<int(Model&)> where) -> Action {
    return [=](Model& m) {
      m.writes.clear();
      m.pc = word(where(m));
      m.s = word(m.s);
    };
  };
  const auto relative = [](const Model& m) { return m.pc + 2 + as_signed(m.read(m.pc + 1)); };

  if (acc != 0 && one_of(stem, {"ADD", "ADC", "SUB", "SBC", "AND", "ORA", "EOR", "LDA"})) {
    return plain(
        [=](Model& m) { m.accumulator(acc) = m.two_operands(stem, m.accumulator(acc), m.read(m.address(mode))); });
  }
  if (acc != 0 && one_of(stem, {"CMP", "BIT"})) {
    return plain([=](Model& m) { m.two_operands(stem, m.accumulator(acc), m.read(m.address(mode))); });
  }
  if (one_of(name, {"ABA", "SBA"})) return plain([=](Model& m) { m.a = m.two_operands(name, m.a, m.b); });
  if (name == "CBA") return plain([=](Model& m) { m.two_operands(name, m.a, m.b); });
  if (one_of(stem, {"NEG", "COM", "CLR", "INC", "DEC", "LSR", "ASR", "ROR", "ASL", "ROL"})) {
    if (acc != 0) return plain([=](Model& m) { m.accumulator(acc) = m.one_operand(stem, m.accumulator(acc)); });
    return plain([=](Model& m) {
      const int ea = m.address(mode);
      m.write(ea, m.one_operand(stem, m.read(ea)));
    });
  }
  if (stem == "TST") {
    if (acc != 0) return plain([=](Model& m) { m.one_operand(stem, m.accumulator(acc)); });
    return plain([=](Model& m) { m.one_operand(stem, m.read(m.address(mode))); });
  }
  if (stem == "STA") {
    return plain([=](Model& m) { m.write(m.address(mode), m.moved(m.accumulator(acc))); });
  }
  if (stem == "PSH") return plain([=](Model& m) { m.push(m.accumulator(acc)); });
  if (stem == "PUL") return plain([=](Model& m) { m.accumulator(acc) = m.pull(); });
  if (name == "TAB") return plain([](Model& m) { m.b = m.moved(m.a); });
  if (name == "TBA") return plain([](Model& m) { m.a = m.moved(m.b); });
  if (name == "DAA") return plain([](Model& m) { m.decimal_adjust(); });

  if (name == "LDX") return plain([=](Model& m) { m.x = m.moved_word(m.read_word(m.address(mode))); });
  if (name == "LDS") return plain([=](Model& m) { m.s = m.moved_word(m.read_word(m.address(mode))); });
  if (name == "STX") return plain([=](Model& m) { m.write_word(m.address(mode), m.moved_word(m.x)); });
  if (name == "STS") return plain([=](Model& m) { m.write_word(m.address(mode), m.moved_word(m.s)); });
  if (name == "CPX") return plain([=](Model& m) { m.compare_x(m.read_word(m.address(mode))); });
  if (name == "INX" || name == "DEX") {
    const int by = name == "INX" ? 1 : -1;
    return plain([=](Model& m) {
      m.x = word(m.x + by);
      m.z = m.x == 0;
    });
  }
  if (name == "INS") return plain([](Model& m) { ++m.s; });
  if (name == "DES") return plain([](Model& m) { --m.s; });
  if (name == "TSX") return plain([](Model& m) { m.x = m.s + 1; });
  if (name == "TXS") return plain([](Model& m) { m.s = m.x - 1; });

  if (name == "NOP") return plain([](Model&) {});
  if (name == "CLC") return plain([](Model& m) { m.c = false; });
  if (name == "SEC") return plain([](Model& m) { m.c = true; });
  if (name == "CLV") return plain([](Model& m) { m.v = false; });
  if (name == "SEV") return plain([](Model& m) { m.v = true; });
  if (name == "CLI") return plain([](Model& m) { m.i = false; });
  if (name == "SEI") return plain([](Model& m) { m.i = true; });
  if (name == "TAP") return plain([](Model& m) { m.set_cc(m.a); });
  if (name == "TPA") return plain([](Model& m) { m.a = m.cc(); });

  if (name == "BSR") {
    return jump([=](Model& m) {
      const int to = relative(m);
      m.push_word(m.pc + 2);
      return to;
    });
  }
  if (mode == "relative") {
    return jump([=](Model& m) { return m.condition(name) ? relative(m) : m.pc + 2; });
  }
  if (name == "JMP") return jump([=](Model& m) { return m.address(mode); });
  if (name == "JSR") {
    return jump([=, bytes = row.bytes](Model& m) {
      const int to = m.address(mode);
      m.push_word(m.pc + bytes);
      return to;
    });
  }
  if (name == "RTS") return jump([](Model& m) { return m.pull_word(); });
  if (name == "RTI") {
    return jump([](Model& m) {
      m.set_cc(m.pull());
      m.b = m.pull();
      m.a = m.pull();
      m.x = m.pull_word();
      return m.pull_word();
    });
  }
  if (name == "WAI") {
    return jump([](Model& m) {
      m.stack_all();
      return m.pc + 1;
    });
  }
  if (name == "SWI") {
    return jump([](Model& m) {
      m.stack_all();
      m.i = true;
      return m.read_word(0xFFFA);
    });
  }
  throw std::runtime_error("no instruction " + name);
}

}  // namespace prewire::testing
