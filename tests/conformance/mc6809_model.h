// A slow MC6809 that does one instruction with plain integer arithmetic, to compare the real one with.
//
// Written from the operation lines and flag rules of M6809PM appendix A (as in tests/data/cpu/mc6809-opcodes.csv) and
// from its tables 2-1 and F-2 (mc6809-indexed.csv), not from the processor's source.
#pragma once

#include <functional>
#include <stdexcept>
#include <string>
#include <vector>

#include "conformance/mc6809_tables.h"
#include "conformance/slow_model.h"

namespace prewire::testing {

class Mc6809Model final : public SlowModel {
 public:
  using SlowModel::SlowModel;

  int y = 0, u = 0, dp = 0;
  bool e = false, f = false;

  // What the last instruction worked out on its way.
  int ea = 0;                                ///< effective address
  int ia = 0;                                ///< where an indirect mode found it
  int base = 0;                              ///< S before it was used as a stack pointer
  int moved_bytes = 0;                       ///< pushed or pulled
  bool taken = false;                        ///< a long branch
  bool everything = false;                   ///< RTI has pulled a CC with E = 1
  const Mc6809Postbyte* postbyte = nullptr;  ///< null for any mode but indexed

  void load(const CpuRegisters& r) {
    a = r.a, b = r.b, x = r.x, y = r.y, u = r.u, s = r.s, pc = r.pc, dp = r.dp;
    set_cc(r.cc);
  }
  CpuRegisters registers() const {
    return {byte(a), byte(b), word(x), word(s), word(pc), byte(cc()), word(y), word(u), byte(dp)};
  }
  int d() const { return a * 256 + b; }
  int cc() const { return 128 * e + 64 * f + 32 * h + 16 * i + 8 * n + 4 * z + 2 * v + c; }
  void set_cc(int cc) {
    e = cc & 128, f = cc & 64, h = cc & 32, i = cc & 16, n = cc & 8, z = cc & 4, v = cc & 2, c = cc & 1;
  }

  using Action = std::function<void(Mc6809Model&)>;
  /// What an instruction does; throws for one that the model does not know. CWAI and SYNC end where they begin to wait.
  static Action action(const Mc6809Row& row);

 private:
  void set_d(int value) {
    a = word(value) / 256;
    b = word(value) % 256;
  }

  // Registers by name, and by their codes in postbytes
  // -----------------------------------------------------------------
  int get(const std::string& name) const {
    if (name == "D") return d();
    if (name == "CC") return cc();
    return const_cast<Mc6809Model*>(this)->plain(name);
  }
  void set(const std::string& name, int value) {
    if (name == "D") {
      set_d(value);
    } else if (name == "CC") {
      set_cc(value);
    } else {
      plain(name) = value;
    }
  }
  int& plain(const std::string& name) {
    if (name == "A") return a;
    if (name == "B") return b;
    if (name == "X") return x;
    if (name == "Y") return y;
    if (name == "U") return u;
    if (name == "S") return s;
    if (name == "PC") return pc;
    if (name == "DP") return dp;
    throw std::runtime_error("no register " + name);
  }
  /// TFR and EXG, M6809PM appendix A.
  static std::string pair_register(int code) {
    static const std::vector<std::string> kNames{"D", "X", "Y", "U", "S", "PC", "", "", "A", "B", "CC", "DP"};
    return kNames.at(static_cast<std::size_t>(code));
  }

  // Effective addresses; `at` is the address of the byte after the opcode
  // ------------------------------------------------
  int address(const std::string& mode, int at) {
    if (mode == "immediate") return ea = at;
    if (mode == "direct") return ea = dp * 256 + read(at);
    if (mode == "extended") return ea = read_word(at);
    if (mode == "indexed") return ea = indexed(at);
    throw std::runtime_error("no address in mode " + mode);
  }
  int indexed(int at) {
    const int post = read(at);
    postbyte = &mc6809_postbyte(post);
    if (!postbyte->legal) throw std::runtime_error("illegal postbyte");
    const int after = at + 1 + postbyte->extra_bytes;
    // "n5,R" or "[,R++]": an offset, a comma, a place.
    const std::string form = postbyte->indirect ? postbyte->form.substr(1, postbyte->form.size() - 2) : postbyte->form;
    const auto comma = form.find(',');
    const std::string offset_name = form.substr(0, comma);
    const std::string place = comma == std::string::npos ? "" : form.substr(comma + 1);
    int offset = 0;
    if (offset_name == "n5") offset = as_signed(post % 32, 5);
    if (offset_name == "n8") offset = as_signed(read(at + 1));
    if (offset_name == "n16") offset = as_signed(read_word(at + 1), 16);
    if (offset_name == "A") offset = as_signed(a);
    if (offset_name == "B") offset = as_signed(b);
    if (offset_name == "D") offset = as_signed(d(), 16);
    int where = offset;  // "n16" alone
    if (place == "PCR") {
      where = after + offset;
    } else if (!place.empty()) {
      int& r = plain(std::vector<std::string>{"X", "Y", "U", "S"}[static_cast<std::size_t>(post / 32 % 4)]);
      if (place == "-R" || place == "--R") r = word(r - (place == "-R" ? 1 : 2));
      where = r + offset;
      if (place == "R+" || place == "R++") r = word(r + (place == "R+" ? 1 : 2));
    }
    if (!postbyte->indirect) return word(where);
    ia = word(where);
    return read_word(ia);
  }

  // Stacks ------------------------------------------------------------------------------------------------------------
  void push_byte(int& pointer, int value) { write(--pointer, value); }
  void push_word(int& pointer, int value) {
    push_byte(pointer, word(value) % 256);
    push_byte(pointer, word(value) / 256);
  }
  int pull_byte(int& pointer) { return read(pointer++); }
  int pull_word(int& pointer) {
    const int high = pull_byte(pointer);
    return high * 256 + pull_byte(pointer);
  }
  /// What a PSH or PUL postbyte names, from bit 0 up.
  static std::vector<std::string> stacked(const std::string& other) {
    return {"CC", "A", "B", "DP", "X", "Y", other, "PC"};
  }
  void stack_everything(int return_address) {
    base = s;
    e = true;
    push_word(s, return_address);
    for (const int value : {u, y, x}) push_word(s, value);
    for (const int value : {dp, b, a, cc()}) push_byte(s, value);
  }

  int tested(int m) override {
    const bool carry = c;
    moved(m);
    c = carry;
    return m;
  }
  int shifted_right(int value, bool carry_out) override {
    set_nz(value, 8);
    c = carry_out;
    return value;
  }
};

inline Mc6809Model::Action Mc6809Model::action(const Mc6809Row& row) {
  using Model = Mc6809Model;
  const std::string name = row.mnemonic, stem = row.stem(), mode = row.mode, reg(1, row.word_register());
  const char acc = row.accumulator();
  const bool wide = row.group.find("16") != std::string::npos;
  const int opcode_bytes = row.page == 1 ? 1 : 2;
  // Wraps what an instruction does in what all of them do. PC is that of the next instruction while it works; the
  // argument is the address of the byte after the opcode.
  const auto act = [opcode_bytes, bytes = row.bytes,
                    indexed = row.indexed()](std::function<void(Model&, int at)> body) -> Action {
    return [=](Model& m) {
      m.writes.clear();
      m.postbyte = nullptr;
      m.taken = m.everything = false;
      m.moved_bytes = 0;
      const int at = m.pc + opcode_bytes;
      m.pc += bytes;
      if (indexed) m.pc += mc6809_postbyte(m.read(at)).extra_bytes;
      m.pc = word(m.pc);
      m.base = m.s;
      body(m, at);
      for (int* r : {&m.x, &m.y, &m.u, &m.s, &m.pc}) *r = word(*r);
    };
  };

  if (acc != 0 && !wide && one_of(stem, {"ADD", "ADC", "SUB", "SBC", "AND", "OR", "EOR", "LD"})) {
    return act([=](Model& m, int at) {
      const int where = m.address(mode, at);
      m.accumulator(acc) = m.two_operands(stem, m.accumulator(acc), m.read(where));
    });
  }
  if (acc != 0 && one_of(stem, {"CMP", "BIT"})) {
    return act([=](Model& m, int at) {
      const int where = m.address(mode, at);
      m.two_operands(stem, m.accumulator(acc), m.read(where));
    });
  }
  if (acc != 0 && stem == "ST") {
    return act([=](Model& m, int at) { m.write(m.address(mode, at), m.moved(m.accumulator(acc))); });
  }
  if (one_of(stem, {"NEG", "COM", "CLR", "INC", "DEC", "LSR", "ASR", "ROR", "ASL", "ROL", "TST"})) {
    if (acc != 0) {
      return act([=](Model& m, int) { m.accumulator(acc) = m.one_operand(stem, m.accumulator(acc)); });
    }
    return act([=](Model& m, int at) {
      const int where = m.address(mode, at);
      const int after = m.one_operand(stem, m.read(where));
      if (stem != "TST") m.write(where, after);
    });
  }
  if (wide) {
    return act([=](Model& m, int at) {
      const int where = m.address(mode, at);
      if (stem == "ST") return m.write_word(where, m.moved_word(m.get(reg)));
      const int memory = m.read_word(where);
      if (stem == "LD") return m.set(reg, m.moved_word(memory));
      if (stem == "ADD") {
        m.sum(m.get(reg), memory, 0, 16);
        return m.set(reg, m.result);
      }
      m.difference(m.get(reg), memory, 0, 16);
      if (stem == "SUB") m.set(reg, m.result);
    });
  }

  if (name == "NOP") return act([](Model&, int) {});
  if (name == "DAA") return act([](Model& m, int) { m.decimal_adjust(); });
  if (name == "ORCC") return act([](Model& m, int at) { m.set_cc(m.cc() | m.read(at)); });
  if (name == "ANDCC") return act([](Model& m, int at) { m.set_cc(m.cc() & m.read(at)); });
  if (name == "SEX") {
    return act([](Model& m, int) {
      m.a = m.b >= 128 ? 255 : 0;
      m.set_nz(m.d(), 16);  // V as before; M6809PM is at odds with itself
    });
  }
  if (name == "ABX") return act([](Model& m, int) { m.x += m.b; });
  if (name == "MUL") {
    return act([](Model& m, int) {
      m.result = m.a * m.b;
      m.set_d(m.result);
      m.z = m.result == 0;
      m.c = m.b >= 128;
    });
  }
  if (name.substr(0, 3) == "LEA") {
    return act([=](Model& m, int at) {
      const int where = m.address(mode, at);
      m.set(reg, where);
      m.result = where;
      if (reg == "X" || reg == "Y") m.z = where == 0;
    });
  }
  if (name == "TFR" || name == "EXG") {
    return act([=](Model& m, int at) {
      const std::string from = pair_register(m.read(at) / 16), to = pair_register(m.read(at) % 16);
      const int first = m.get(from), second = m.get(to);
      m.set(to, first);
      if (name == "EXG") m.set(from, second);
    });
  }
  if (name.substr(0, 3) == "PSH") {
    return act([=](Model& m, int at) {
      const int post = m.read(at);
      int& pointer = m.plain(reg);
      const std::vector<std::string> names = stacked(reg == "S" ? "U" : "S");
      for (int bit = 7; bit >= 0; --bit) {
        if (!(post >> bit & 1)) continue;
        const int value = m.get(names[static_cast<std::size_t>(bit)]);
        bit >= 4 ? m.push_word(pointer, value) : m.push_byte(pointer, value);
      }
      m.moved_bytes = static_cast<int>(m.writes.size());
    });
  }
  if (name.substr(0, 3) == "PUL") {
    return act([=](Model& m, int at) {
      const int post = m.read(at);
      int pointer = m.get(reg);
      const int before = pointer;
      const std::vector<std::string> names = stacked(reg == "S" ? "U" : "S");
      for (int bit = 0; bit < 8; ++bit) {
        if (!(post >> bit & 1)) continue;
        m.set(names[static_cast<std::size_t>(bit)], bit >= 4 ? m.pull_word(pointer) : m.pull_byte(pointer));
      }
      m.set(reg, pointer);
      m.moved_bytes = pointer - before;
    });
  }

  const auto target = [](Model& m, int at, bool long_offset) {
    return word(m.pc + (long_offset ? as_signed(m.read_word(at), 16) : as_signed(m.read(at))));
  };
  if (name == "BSR" || name == "LBSR") {
    return act([=](Model& m, int at) {
      m.ea = target(m, at, name == "LBSR");
      m.push_word(m.s, m.pc);
      m.pc = m.ea;
    });
  }
  if (mode == "relative") {
    const bool long_offset = name[0] == 'L';
    return act([=, branch = long_offset ? name.substr(1) : name](Model& m, int at) {
      m.ea = target(m, at, long_offset);
      m.taken = m.condition(branch);
      if (m.taken) m.pc = m.ea;
    });
  }
  if (name == "JMP") return act([=](Model& m, int at) { m.pc = m.address(mode, at); });
  if (name == "JSR") {
    return act([=](Model& m, int at) {
      const int to = m.address(mode, at);
      m.base = m.s;  // which an indexed mode may have moved
      m.push_word(m.s, m.pc);
      m.pc = to;
    });
  }
  if (name == "RTS") return act([](Model& m, int) { m.pc = m.pull_word(m.s); });
  if (name == "RTI") {
    return act([](Model& m, int) {
      m.set_cc(m.pull_byte(m.s));
      m.everything = m.e;
      if (m.e) {
        for (const char* r : {"A", "B", "DP"}) m.set(r, m.pull_byte(m.s));
        for (const char* r : {"X", "Y", "U"}) m.set(r, m.pull_word(m.s));
      }
      m.pc = m.pull_word(m.s);
    });
  }
  if (name == "CWAI") {
    return act([](Model& m, int at) {
      m.set_cc(m.cc() & m.read(at));
      m.stack_everything(m.pc);
    });
  }
  if (name == "SYNC") return act([](Model&, int) {});
  if (name == "SWI" || name == "SWI2" || name == "SWI3") {
    return act([=](Model& m, int) {
      m.stack_everything(m.pc);
      if (name == "SWI") m.i = m.f = true;
      m.pc = m.read_word(name == "SWI" ? 0xFFFA : name == "SWI2" ? 0xFFF4 : 0xFFF2);
    });
  }
  throw std::runtime_error("no instruction " + name);
}

}  // namespace prewire::testing
