// MC6809. References are to the MC6809-MC6809E Programming Manual, M6809PM/AD, unless another source is named;
// docs/accuracy.md says which details no source settles, and what was chosen.
#include <algorithm>
#include <array>

#include "bus/mix.h"
#include "cpu/alu.h"
#include "cpu/cpus.h"
#include "cpu/parts.h"

namespace prewire {

namespace {

using namespace flags;

constexpr Word kF = 0x40;  // FIRQ mask
constexpr Word kE = 0x80;  // the entire state is stacked

// Above the flags, where no instruction looks:
constexpr Word kArmed = 0x100;     // an instruction has written S: NMI may interrupt (figure 3-1)
constexpr Word kWait = 0x200;      // CWAI has stacked the registers
constexpr Word kSync = 0x400;      // in SYNC
constexpr Word kSyncEnd = 0x800;   // ...and a line has ended it
constexpr Word kGranted = 0x1000;  // HALT has been answered
constexpr Word kRestart = 0x2000;  // RESET has been low: its sequence is to come
constexpr Word kCodes = 0xFF;

struct Registers {
  Word a = 0, b = 0, x = 0, y = 0, u = 0, s = 0, pc = 0, dp = 0, cc = kI | kF;

  void archive(Archive& archive) {
    for (Word* byte : {&a, &b, &dp}) archive.within(*byte, 0, 0xFF);
    for (Word* word : {&x, &y, &u, &s, &pc}) archive.within(*word, 0, 0xFFFF);
    archive.within(cc, 0, 2 * kRestart - 1);
  }
};

constexpr std::array<RegisterInfo, 9> kRegisters{{
    {"A", 8, ""},
    {"B", 8, ""},
    {"X", 16, ""},
    {"Y", 16, ""},
    {"U", 16, ""},
    {"S", 16, ""},
    {"PC", 16, ""},
    {"DP", 8, ""},
    {"CC", 8, "EFHINZVC"},
}};

class Mc6809 final : public RegisterProcessor<Registers> {
 public:
  // Inputs are latched at the fall of Q, and recognised one bus cycle later at the earliest (section 1.11.10).
  Mc6809(Socket& socket, Surroundings surroundings, Part part)
      : RegisterProcessor(socket, surroundings, part, {.quarter = 3, .cycles = 2, .edges = true}) {}

  std::span<const RegisterInfo> registers() const override { return kRegisters; }
  std::uint16_t get(std::size_t index) const override;
  bool set(std::size_t index, std::uint16_t value) override;
  void power_on() override;

 private:
  void execute() override;
  Begin boundary(const Lines& sampled) override;
  std::uint32_t busy_cycles(std::span<const Coming> cycles, std::span<const std::uint8_t> code) const override;
};

/// The inner loop. Each group below is one column of the cycle-by-cycle figure, read top to bottom.
class Exec : public Alu<Exec> {
 public:
  using Self = Exec;
  static constexpr bool kReadsInDeadCycles = true;
  explicit PREWIRE_INLINE Exec(Mc6809& cpu) : Alu(cpu), kept(cpu.now()) { reload(); }

  PREWIRE_INLINE void spill() {
    kept.a = a, kept.b = b, kept.x = x, kept.pc = pc, kept.cc = cc;
    if (bump != 0) shift_base(0 - bump);
  }
  PREWIRE_INLINE void reload() { a = kept.a, b = kept.b, x = kept.x, pc = kept.pc, cc = kept.cc; }
  PREWIRE_INLINE void refill() {
    if (bump != 0) shift_base(bump);
  }

  /// An opcode, or false and something else to do.
  PREWIRE_INLINE bool begin(Word& op) {
    const bool opcode = fetch(pc, op);
    at = pc + 1;
    return opcode;
  }
  /// The opcode after a byte $10 or $11, page and all.
  PREWIRE_INLINE Word other_page(Word first) {
    at = pc + 2;
    return (first - 0x0F) << 8 | read(pc + 1);
  }
  PREWIRE_INLINE void begin_pointed() {
    next = at + 1;  // and more, if the postbyte says so
    pointed = indexed();
  }
  PREWIRE_INLINE void end_pointed() {
    bump = 0;
    pc = next & 0xFFFF;
  }
#define OP(page, opcode, mnemonic, mode, bytes, cycles, group, ...) \
  PREWIRE_INLINE void run_##page##_##opcode() {                     \
    if constexpr (Mode::mode == Mode::indexed) {                    \
      __VA_ARGS__;                                                  \
      end_pointed();                                                \
    } else {                                                        \
      next = pc + (bytes);                                          \
      __VA_ARGS__;                                                  \
      pc = next & 0xFFFF;                                           \
    }                                                               \
  }
#include "cpu/mc6809.def"
#undef OP
  using Alu::undefined;

  PREWIRE_INLINE void pause(Word) { dead(); }
  /// Right shifts leave V alone.
  PREWIRE_INLINE Word shifted_right(Word r, Word carry) {
    change(kN | kZ | kC, nz8(r) | carry);
    return r & 0xFF;
  }

  /// False: the run is over.
  PREWIRE_INLINE bool pseudo(Word op) {
    switch (op & 0x1FF) {
      case kPass: break;
      case kResetEntry: reset(); break;
      case kNmiEntry: enter(0xFFFC, kI | kF); break;
      case kIrqEntry: enter(0xFFF8, kI); break;
      case kFirqEntry: enter_fast(); break;
      case kNmiWake: wake(op, 0xFFFC, kI | kF); break;
      case kIrqWake: wake(op, 0xFFF8, kI); break;
      case kFirqWake: wake(op, 0xFFF6, kI | kF); break;
      default: return false;
    }
    return true;
  }

 private:
  PREWIRE_INLINE void dead() { dead_read(); }

  // Operands and effective addresses. `at` is the address of the first byte after the opcode.
  PREWIRE_INLINE Word imm8() { return read(at); }
  PREWIRE_INLINE Word imm16() { return pair(at); }
  PREWIRE_INLINE Word direct() {
    const Word low = read(at);
    dead();
    return dp << 8 | low;
  }
  PREWIRE_INLINE Word extended() {
    const Word ea = imm16();
    dead();
    return ea;
  }
  static PREWIRE_INLINE Word signed8(Word byte) { return static_cast<Word>(static_cast<std::int8_t>(byte)); }

  // The register that an indexed postbyte names: X, Y, U or S.
  PREWIRE_INLINE Word base(Word post) const {
    switch (post >> 5 & 3) {
      case 0: return x;
      case 1: return y;
      case 2: return u;
      default: return s;
    }
  }
  /// Moves that register by auto increment or decrement. The operation sees the new value; a run that ends within the
  /// instruction takes it back.
  PREWIRE_INLINE void move_base(Word post, Word by) {
    bump = by;
    bumped = post >> 5 & 3;
    switch (bumped) {
      case 0: x = (x + by) & 0xFFFF; break;
      case 1: y = (y + by) & 0xFFFF; break;
      case 2: u = (u + by) & 0xFFFF; break;
      default: s = (s + by) & 0xFFFF; break;
    }
  }
  /// The same where the processor object keeps it.
  PREWIRE_INLINE void shift_base(Word by) {
    Word& moved = bumped == 0 ? kept.x : bumped == 1 ? y : bumped == 2 ? u : s;
    moved = (moved + by) & 0xFFFF;
  }

  /// Tables 2-1 and F-2.
  PREWIRE_INLINE Word indexed() {
    const Word post = read(at);
    if (!(post & 0x80)) {
      ignore(at + 1);
      dead();
      return (base(post) + (((post & 0x1F) ^ 0x10) - 0x10)) & 0xFFFF;
    }
    const bool indirect = (post & 0x10) != 0;
    Word ea = 0;
    switch (post & 0x0F) {
      case 0x0:
      case 0x2:
        if (indirect) return illegal();
        ignore(at + 1);
        dead();
        dead();
        if (post & 2) {
          move_base(post, ~Word{0});
          ea = base(post);
        } else {
          ea = base(post);
          move_base(post, 1);
        }
        break;
      case 0x1:
      case 0x3:
        ignore(at + 1);
        dead();
        dead();
        dead();
        if (post & 2) {
          move_base(post, ~Word{1});
          ea = base(post);
        } else {
          ea = base(post);
          move_base(post, 2);
        }
        break;
      case 0x4:
        ignore(at + 1);
        ea = base(post);
        break;
      case 0x5:
      case 0x6:
        ignore(at + 1);
        dead();
        ea = base(post) + signed8(post & 1 ? b : a);
        break;
      case 0x8:
        ea = base(post) + signed8(read(at + 1));
        dead();
        next += 1;
        break;
      case 0x9:
        ea = base(post) + pair(at + 1);
        ignore(at + 3);
        dead();
        dead();
        next += 2;
        break;
      case 0xB:
        ignore(at + 1);
        ignore(at + 2);
        ignore(at + 3);
        dead();
        dead();
        ea = base(post) + d();
        break;
      case 0xC:
        ea = at + 2 + signed8(read(at + 1));
        dead();
        next += 1;
        break;
      case 0xD:
        ea = at + 3 + pair(at + 1);
        ignore(at + 3);
        dead();
        dead();
        dead();
        next += 2;
        break;
      case 0xF:
        if (post != 0x9F) return illegal();
        ea = pair(at + 1);
        ignore(at + 3);
        next += 2;
        break;
      default: return illegal();
    }
    if (!indirect) return ea & 0xFFFF;
    ea = pair(ea);
    dead();
    return ea;
  }
  /// The rest of the instruction does not happen.
  PREWIRE_INLINE Word illegal() {
    undefined();
    return 0;
  }

  PREWIRE_INLINE Word dir8() { return read(direct()); }
  PREWIRE_INLINE Word ext8() { return read(extended()); }
  PREWIRE_INLINE Word idx8() { return read(pointed); }
  PREWIRE_INLINE Word imm_ld16() { return imm16(); }
  PREWIRE_INLINE Word dir_ld16() { return pair(direct()); }
  PREWIRE_INLINE Word ext_ld16() { return pair(extended()); }
  PREWIRE_INLINE Word idx_ld16() { return pair(pointed); }
  PREWIRE_INLINE Word then_dead(Word operand) {
    dead();
    return operand;
  }
  PREWIRE_INLINE Word imm_ar16() { return then_dead(imm16()); }
  PREWIRE_INLINE Word dir_ar16() { return then_dead(dir_ld16()); }
  PREWIRE_INLINE Word ext_ar16() { return then_dead(ext_ld16()); }
  PREWIRE_INLINE Word idx_ar16() { return then_dead(idx_ld16()); }
  PREWIRE_INLINE Word imm_cc() { return then_dead(read(at)); }
  PREWIRE_INLINE Word idx_lea() { return then_dead(pointed); }
  PREWIRE_INLINE void inh2() { ignore(at); }

  // Stores. The register is looked at when its byte is written, after an increment of it.
  PREWIRE_INLINE void store8(Word ea, const Word& value) {
    write(ea, value);
    load8(value);
  }
  PREWIRE_INLINE void store16(Word ea, const Word& value) {
    write(ea, value >> 8);
    write(ea + 1, value);
    load16(value);
  }
  PREWIRE_INLINE void dir_st8(const Word& value) { store8(direct(), value); }
  PREWIRE_INLINE void ext_st8(const Word& value) { store8(extended(), value); }
  PREWIRE_INLINE void idx_st8(const Word& value) { store8(pointed, value); }
  PREWIRE_INLINE void dir_st16(const Word& value) { store16(direct(), value); }
  PREWIRE_INLINE void ext_st16(const Word& value) { store16(extended(), value); }
  PREWIRE_INLINE void idx_st16(const Word& value) { store16(pointed, value); }

  // Read, modify, write.
  template <auto Operation>
  PREWIRE_INLINE void dir_rmw() {
    modify<Operation>(direct());
  }
  template <auto Operation>
  PREWIRE_INLINE void ext_rmw() {
    modify<Operation>(extended());
  }
  template <auto Operation>
  PREWIRE_INLINE void idx_rmw() {
    modify<Operation>(pointed);
  }
  PREWIRE_INLINE Word dir_tst() { return test(direct()); }
  PREWIRE_INLINE Word ext_tst() { return test(extended()); }
  PREWIRE_INLINE Word idx_tst() { return test(pointed); }

  // Jumps, branches, subroutines.
  PREWIRE_INLINE void bcc(bool taken) {
    const Word to = at + 1 + signed8(read(at));
    dead();
    if (taken) [[likely]] {
      asm volatile("");  // keeps it a branch: a predicted one costs nothing, a select would wait for the flags
      next = to;
    }
  }
  PREWIRE_INLINE void lbcc(bool taken) {
    const Word to = at + 2 + imm16();
    dead();
    if (__builtin_expect_with_probability(taken, 1, 0.995)) {
      dead();
      next = to;
    }
  }
  PREWIRE_INLINE void lbrn() {
    imm16();
    dead();
  }
  PREWIRE_INLINE void lbra() {
    next = at + 2 + imm16();
    dead();
    dead();
  }
  PREWIRE_INLINE void dir_jmp() { next = direct(); }
  PREWIRE_INLINE void ext_jmp() { next = extended(); }
  PREWIRE_INLINE void idx_jmp() { next = pointed; }
  PREWIRE_INLINE void call(Word to) {
    ignore(to);
    dead();
    write(s - 1, next);
    write(s - 2, next >> 8);
    s = (s - 2) & 0xFFFF;
    next = to;
  }
  PREWIRE_INLINE void dir_jsr() { call(direct()); }
  PREWIRE_INLINE void ext_jsr() { call(extended()); }
  PREWIRE_INLINE void idx_jsr() { call(pointed); }
  PREWIRE_INLINE void bsr() {
    const Word to = at + 1 + signed8(read(at));
    dead();
    call(to);
  }
  PREWIRE_INLINE void lbsr() {
    const Word to = at + 2 + imm16();
    dead();
    dead();
    call(to);
  }
  PREWIRE_INLINE void rts() {
    ignore(at);
    next = pair(s);
    dead();
    s = (s + 2) & 0xFFFF;
  }

  // Stacks. The postbyte names, from bit 7 down: PC, the other stack pointer, Y, X, DP, B, A, CC.
  PREWIRE_INLINE Word push(Word to, Word post, Word other) {
    dead();
    dead();
    ignore(to);
    if (post & 0x80) to = push_word(to, next);
    if (post & 0x40) to = push_word(to, other);
    if (post & 0x20) to = push_word(to, y);
    if (post & 0x10) to = push_word(to, x);
    if (post & 0x08) write(--to, dp);
    if (post & 0x04) write(--to, b);
    if (post & 0x02) write(--to, a);
    if (post & 0x01) write(--to, cc);
    return to & 0xFFFF;
  }
  PREWIRE_INLINE Word push_word(Word to, Word value) {
    write(to - 1, value);
    write(to - 2, value >> 8);
    return to - 2;
  }
  PREWIRE_INLINE void pshs() { s = push(s, read(at), u); }
  PREWIRE_INLINE void pshu() { u = push(u, read(at), s); }

  /// All pulls first, then the registers. Returns the pointer after them.
  PREWIRE_INLINE Word pull(Word from, Word post, Word& other) {
    dead();
    dead();
    Word new_cc = cc, new_a = a, new_b = b, new_dp = dp, new_x = x, new_y = y, new_other = other, new_pc = next;
    if (post & 0x01) new_cc = (cc & ~kCodes) | read(from++);
    if (post & 0x02) new_a = read(from++);
    if (post & 0x04) new_b = read(from++);
    if (post & 0x08) new_dp = read(from++);
    if (post & 0x10) new_x = pair(from), from += 2;
    if (post & 0x20) new_y = pair(from), from += 2;
    if (post & 0x40) new_other = pair(from), from += 2;
    if (post & 0x80) new_pc = pair(from), from += 2;
    ignore(from);
    a = new_a, b = new_b, dp = new_dp, x = new_x, y = new_y, other = new_other, next = new_pc;
    set_cc(new_cc);
    return from & 0xFFFF;
  }
  PREWIRE_INLINE void puls() { s = pull(s, read(at), u); }
  PREWIRE_INLINE void pulu() {
    const Word post = read(at);
    Word other = s;
    u = pull(u, post, other);
    if (post & 0x40) set_s(other);
  }

  // Transfers between registers.
  PREWIRE_INLINE Word named(Word code) const {
    switch (code) {
      case 0: return d();
      case 1: return x;
      case 2: return y;
      case 3: return u;
      case 4: return s;
      case 5: return next;
      case 8: return a;
      case 9: return b;
      case 10: return cc;
      default: return dp;
    }
  }
  PREWIRE_INLINE void name(Word code, Word value) {
    switch (code) {
      case 0: set_d(value); break;
      case 1: x = value; break;
      case 2: y = value; break;
      case 3: u = value; break;
      case 4: set_s(value); break;
      case 5: next = value; break;
      case 8: a = value & 0xFF; break;
      case 9: b = value & 0xFF; break;
      case 10: set_cc((cc & ~kCodes) | (value & kCodes)); break;
      default: dp = value & 0xFF; break;
    }
  }
  PREWIRE_INLINE void tfr() {
    const Word post = read(at);
    if (!may_pair(static_cast<std::uint8_t>(post))) {
      undefined();
      return;
    }
    for (int i = 0; i < 4; ++i) dead();
    name(post & 15, named(post >> 4));
  }
  PREWIRE_INLINE void exg() {
    const Word post = read(at);
    if (!may_pair(static_cast<std::uint8_t>(post))) {
      undefined();
      return;
    }
    for (int i = 0; i < 6; ++i) dead();
    const Word first = named(post >> 4), second = named(post & 15);
    name(post >> 4, second);
    name(post & 15, first);
  }

  // Interrupts.
  PREWIRE_INLINE void stack(Word address, Word codes) {
    push_word(s, address);
    push_word(s - 2, u);
    push_word(s - 4, y);
    push_word(s - 6, x);
    write(s - 9, dp);
    write(s - 10, b);
    write(s - 11, a);
    write(s - 12, codes & kCodes);
  }
  PREWIRE_INLINE Word vector(Word from) {
    const Word high = read_vector(from);
    return high << 8 | read_vector(from + 1);
  }
  PREWIRE_INLINE void software(Word address, Word from, Word masks) {
    ignore(at);
    dead();
    stack(address, cc | kE);
    dead();
    next = vector(from);
    dead();
    s = (s - 12) & 0xFFFF;
    cc |= kE | masks;
  }
  PREWIRE_INLINE void swi() { software(next, 0xFFFA, kI | kF); }
  PREWIRE_INLINE void swi2() { software(next, 0xFFF4, 0); }
  PREWIRE_INLINE void swi3() { software(next, 0xFFF2, 0); }
  PREWIRE_INLINE void enter(Word from, Word masks) {
    ignore(pc);
    dead();
    stack(pc, cc | kE);
    dead();
    const Word to = vector(from);
    dead();
    s = (s - 12) & 0xFFFF;
    cc |= kE | masks;
    pc = to;
  }
  PREWIRE_INLINE void enter_fast() {
    ignore(pc);
    dead();
    push_word(s, pc);
    write(s - 3, cc & kCodes & ~kE);
    dead();
    const Word to = vector(0xFFF6);
    dead();
    s = (s - 3) & 0xFFFF;
    cc = (cc & ~kE) | kI | kF;
    pc = to;
  }
  PREWIRE_INLINE void cwai() {
    const Word mask = read(at);
    ignore(at + 1);
    dead();
    const Word codes = (cc & mask) | kE;
    stack(next, codes);
    s = (s - 12) & 0xFFFF;
    cc = (cc & ~kCodes) | codes | kWait;
    attend_boundary();
  }
  /// The high byte of the vector has been read.
  PREWIRE_INLINE void wake(Word op, Word from, Word masks) {
    const Word to = (op >> 16 & 0xFF) << 8 | read_vector(from + 1);
    dead();
    cc = (cc & ~kWait) | masks;
    pc = to;
  }
  PREWIRE_INLINE void sync() {
    ignore(at);
    cc |= kSync;
    attend_boundary();
  }
  PREWIRE_INLINE void rti() {
    ignore(at);
    const Word new_cc = read(s);
    if (new_cc & kE) {
      const Word new_a = read(s + 1), new_b = read(s + 2), new_dp = read(s + 3);
      const Word new_x = pair(s + 4), new_y = pair(s + 6), new_u = pair(s + 8);
      next = pair(s + 10);
      dead();
      a = new_a, b = new_b, dp = new_dp, x = new_x, y = new_y, u = new_u;
      s = (s + 12) & 0xFFFF;
    } else {
      next = pair(s + 1);
      dead();
      s = (s + 3) & 0xFFFF;
    }
    set_cc((cc & ~kCodes) | new_cc);
  }
  /// The first of three cycles that show the vector's address has passed.
  PREWIRE_INLINE void reset() {
    ignore(0xFFFE);
    ignore(0xFFFE);
    const Word to = vector(0xFFFE);
    dead();
    dp = 0;
    cc = (cc & kCodes) | kI | kF;
    pc = to;
  }
  /// Takes effect for interrupts at the boundary after this instruction.
  PREWIRE_INLINE void set_cc(Word value) {
    const Word opened = cc & ~value & (kI | kF);
    cc = (cc & ~kCodes) | (value & kCodes);
    if (opened != 0 && interrupt_seen()) attend_boundary();
  }
  PREWIRE_INLINE void set_s(Word value) {
    s = value & 0xFFFF;
    if (cc & kArmed) return;
    cc |= kArmed;
    if (interrupt_seen()) attend_boundary();
  }

  // Operations on bytes and words (appendix A).
  PREWIRE_INLINE Word d() const { return a << 8 | b; }
  PREWIRE_INLINE void set_d(Word value) {
    a = value >> 8 & 0xFF;
    b = value & 0xFF;
  }
  PREWIRE_INLINE Word add16(Word p, Word m) {
    const Word r = p + m;
    change(kNzvc, nz16(r) | vc16(p, m, r));
    return r & 0xFFFF;
  }
  PREWIRE_INLINE Word sub16(Word p, Word m) {
    const Word r = p - m;
    change(kNzvc, nz16(r) | vc16(p, m, r));
    return r & 0xFFFF;
  }
  PREWIRE_INLINE void cmp16(const Word& p, Word m) { sub16(p, m); }
  PREWIRE_INLINE void tst(Word m) { change(kN | kZ | kV, nz8(m)); }
  PREWIRE_INLINE void sex() {
    a = b & 0x80 ? 0xFF : 0;
    change(kN | kZ, nz16(d()));
  }
  PREWIRE_INLINE void abx() {
    ignore(at);
    dead();
    x = (x + b) & 0xFFFF;
  }
  PREWIRE_INLINE void mul() {
    ignore(at);
    for (int i = 0; i < 9; ++i) dead();
    const Word product = a * b;
    set_d(product);
    change(kZ | kC, (product == 0 ? kZ : 0) | (product >> 7 & kC));
  }
  PREWIRE_INLINE Word lea_xy(Word ea) {
    change(kZ, ea == 0 ? kZ : 0);
    return ea;
  }

  Registers& kept;
  // Those that most instructions use live here, the others in the processor object: what need not be handed over at
  // each slow cycle makes polling quicker.
  Word a = 0, b = 0, x = 0, pc = 0;
  Word &y = kept.y, &u = kept.u, &s = kept.s, &dp = kept.dp;
  Word next = 0, at = 0;
  Word pointed = 0;  // what the indexed postbyte made
  Word bump = 0, bumped = 0;
};

#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wpedantic"  // labels as values
void Mc6809::execute() {
  // By page and opcode: pages 2 and 3 stand at $100 and $200. Those that take an indexed postbyte go on after it.
  struct Ways {
    std::array<const void*, 0x300> first, pointed;
  };
  static const Ways ways = ({
    Ways of;
    of.first.fill(&&none);
    of.pointed.fill(&&none);
    of.first[0x10] = of.first[0x11] = &&other_page;
#define OP(page, opcode, mnemonic, mode, ...)                         \
  if constexpr (prewire::Mode::mode == prewire::Mode::indexed) {      \
    of.first[(page - 1) * 0x100 + opcode] = &&indexed;                \
    of.pointed[(page - 1) * 0x100 + opcode] = &&at_##page##_##opcode; \
  } else {                                                            \
    of.first[(page - 1) * 0x100 + opcode] = &&at_##page##_##opcode;   \
  }
#include "cpu/mc6809.def"
#undef OP
    of;
  });
  Exec exec(*this);
  Word op = 0;
#define GO_ON PREWIRE_GO_ON(exec, op, ways.first);

  GO_ON
#define OP(page, opcode, ...)                          \
  at_##page##_##opcode : exec.run_##page##_##opcode(); \
  GO_ON
#include "cpu/mc6809.def"
#undef OP
indexed:  // one copy of all those postbytes, and then the operation
  exec.begin_pointed();
  goto* ways.pointed[op];
other_page:
  op = exec.other_page(op);
  goto* ways.first[op];
none:
  exec.undefined();
  GO_ON
special:
  if (!exec.pseudo(op)) return;
  GO_ON
#undef GO_ON
}
#pragma GCC diagnostic pop

Processor::Begin Mc6809::boundary(const Lines& sampled) {
  Word& cc = registers_.cc;
  const bool nmi = sampled.nmi && (cc & kArmed) != 0;
  // Out of SYNC a request must last three cycles to be served (appendix A).
  const bool lasts = (cc & kSyncEnd) == 0;
  const bool firq = sampled.firq && (cc & kF) == 0 && (lasts || just_latched().firq);
  const bool irq = sampled.irq && (cc & kI) == 0 && (lasts || just_latched().irq);

  const auto dead_cycle = [](bool steady) -> Begin { return {kPass, Kind::ignored, kDeadAddress, steady}; };
  const auto let_go = [](bool steady) -> Begin { return {kPass, Kind::idle, kDeadAddress, steady}; };
  const auto decide = [&]() -> Begin {
    if (lines().reset || (state() == CpuState::reset && !(cc & kRestart) && sampled.reset)) {
      take_nmi();
      cc = (cc & kCodes) | kI | kF | kRestart;
    }
    if (cc & kRestart) {
      const bool held = lines().reset || sampled.reset;
      // Halted within the reset sequence the buses are free (figure 3-1).
      set_doing(CpuState::reset, sampled.halt, sampled.halt);
      if (sampled.halt) return let_go(true);
      if (held) return {kPass, Kind::ignored, 0xFFFE, true};
      cc &= ~kRestart;
      set_doing(CpuState::running);
      return {kResetEntry, Kind::ignored, 0xFFFE};
    }
    // A dead cycle stands before and after a halt; in SYNC the buses are free already.
    if (sampled.halt) {
      if (!(cc & (kGranted | kSync))) {
        cc |= kGranted;
        return dead_cycle(false);
      }
      cc |= kGranted;
      set_doing(CpuState::halted, true, true);
      return let_go(true);
    }
    if (cc & kGranted) {
      cc &= ~kGranted;
      if (!(cc & kSync)) {
        set_doing(CpuState::running);
        return dead_cycle(false);
      }
    }
    if (cc & kSyncEnd) cc &= ~(kSync | kSyncEnd);
    if (cc & kSync) {
      // At least one cycle of waiting, and one more after any line has become active, masked or not.
      const bool waited = state() == CpuState::waiting;
      const bool over = sampled.nmi || sampled.firq || sampled.irq;
      set_doing(CpuState::waiting, true);
      if (waited && over) cc |= kSyncEnd;
      return let_go(!over);
    }
    if (cc & kWait) {
      const bool waited = state() == CpuState::waiting;
      set_doing(CpuState::waiting);
      if (!waited || !(nmi || firq || irq)) return dead_cycle(!(nmi || firq || irq));
      set_doing(CpuState::running);
      if (nmi) {
        take_nmi();
        return {kNmiWake, Kind::vector, 0xFFFC};
      }
      if (firq) return {kFirqWake, Kind::vector, 0xFFF6};
      return {kIrqWake, Kind::vector, 0xFFF8};
    }
    set_doing(CpuState::running);
    if (nmi) {
      take_nmi();
      return {kNmiEntry, Kind::fetch, pc()};
    }
    if (firq) return {kFirqEntry, Kind::fetch, pc()};
    if (irq) return {kIrqEntry, Kind::fetch, pc()};
    return {0, Kind::fetch, pc()};
  };
  const Begin begin = decide();
  const bool asked =
      lines().halt || (lines().nmi && (cc & kArmed)) || (lines().firq && !(cc & kF)) || (lines().irq && !(cc & kI));
  keep_attention(asked || state() != CpuState::running || (cc & (kRestart | kGranted | kSync | kWait)) != 0);
  return begin;
}

/// Section 1.11: BUSY is high in the read and the next cycle of a read-modify-write, in the first byte of a double-byte
/// operand in memory, and in that of an indirect address and of a vector.
std::uint32_t Mc6809::busy_cycles(std::span<const Coming> cycles, std::span<const std::uint8_t> code) const {
  std::uint32_t busy = 0;
  const auto mark = [&](std::size_t cycle) { busy |= std::uint32_t{1} << cycle; };
  for (std::size_t i = 0; i < cycles.size(); ++i) {
    if (cycles[i].kind == Kind::vector && cycles[i].address % 2 == 0) mark(i);
  }
  const Instruction* instruction = code.empty() ? nullptr : mc6809_instructions().find(code);
  if (instruction == nullptr) return busy;
  const std::string_view group = instruction->group;
  const bool memory = instruction->mode != prewire::Mode::imm16;
  const std::size_t end = cycles.size();
  if (group.ends_with("_rmw")) mark(end - 3), mark(end - 2);
  if (memory && (group.ends_with("_ld16") || group.ends_with("_st16"))) mark(end - 2);
  if (memory && group.ends_with("_ar16")) mark(end - 3);
  if (instruction->mode != prewire::Mode::indexed) return busy;
  const std::size_t before = instruction->prefix == 0 ? 1 : 2;  // bytes before the postbyte
  if (!postbyte(code[before]).indirect) return busy;
  // Two bytes and a dead cycle make the address; what follows are the operation's own cycles.
  const std::size_t own = static_cast<std::size_t>(instruction->cycles) - before - 2;
  mark(end - own - 3);
  return busy;
}

std::uint16_t Mc6809::get(std::size_t index) const {
  const Registers& r = registers_;
  const std::array<Word, kRegisters.size()> values{r.a, r.b, r.x, r.y, r.u, r.s, r.pc, r.dp, r.cc & kCodes};
  return static_cast<std::uint16_t>(values[std::min(index, values.size() - 1)]);
}

bool Mc6809::set(std::size_t index, std::uint16_t value) {
  if (!settable()) return false;
  Registers& r = registers_;
  switch (index) {
    case 0: r.a = value & 0xFF; break;
    case 1: r.b = value & 0xFF; break;
    case 2: r.x = value; break;
    case 3: r.y = value; break;
    case 4: r.u = value; break;
    case 5: r.s = value; break;
    case 6: r.pc = value; break;
    case 7: r.dp = value & 0xFF; break;
    default: r.cc = (r.cc & ~kCodes) | (value & kCodes); break;
  }
  changed(index, value);
  return true;
}

void Mc6809::power_on() {
  // All but DP, I and F are undefined after power-on (section 3.2).
  const std::uint64_t noise = mix(socket().seed(), 0x6809), more = mix(socket().seed(), 0x6809E);
  const auto some = [](std::uint64_t from, int shift, Word bits) { return static_cast<Word>(from >> shift) & bits; };
  registers_ = {some(noise, 0, 0xFF),
                some(noise, 8, 0xFF),
                some(noise, 16, 0xFFFF),
                some(noise, 32, 0xFFFF),
                some(more, 0, 0xFFFF),
                some(more, 16, 0xFFFF),
                0xFFFE,
                0,
                some(noise, 48, kCodes) | kI | kF};
  Processor::power_on();
}

// ---------------------------------------------------------------------------------------------------------------------
// Parts

using parts::bus_request;
using parts::halt;
using parts::input;
using parts::make_part;
using parts::nmi;
using parts::output;
using parts::request;
using parts::reset;
using parts::supply;

constexpr std::uint8_t address_pin(int line) { return static_cast<std::uint8_t>(8 + line); }
constexpr std::uint8_t data_pin(int line) { return static_cast<std::uint8_t>(31 - line); }

CpuType make_type(std::string name, std::string title, std::string summary, const std::vector<PinSpec>& own,
                  int divisor) {
  std::vector<PinSpec> pins{halt(40),  request("IRQ", 3), request("FIRQ", 4), nmi(2),
                            reset(37), output("R/W", 32), output("BA", 6),    output("BS", 5)};
  for (const PinSpec& special : own) pins.push_back(special);
  pins.push_back(supply("VCC", 7, kLogicHigh));
  pins.push_back(supply("VSS", 1, 0));
  parts::add_buses(pins, address_pin, data_pin);
  return make_part<Mc6809>(std::move(name), std::move(title), std::move(summary), std::move(pins), divisor,
                           mc6809_instructions());
}

}  // namespace

std::vector<CpuType> mc6809_types() {
  std::vector<CpuType> types;
  types.push_back(
      make_type("mc6809", "MC6809 microprocessor",
                "8-bit processor with 16-bit operations, two stacks and two index registers. The oscillator "
                "is on the chip and E runs at a quarter of the crystal.",
                {bus_request("DMA/BREQ", 33, true), input("MRDY", 36, true), output("E", 34), output("Q", 35)}, 4));
  types.push_back(make_type("mc6809e", "MC6809E microprocessor",
                            "An MC6809 whose clocks E and Q come from outside; they run at the bus frequency.",
                            {bus_request("TSC", 39, false), output("E", 34), output("Q", 35), output("AVMA", 36),
                             output("BUSY", 33), output("LIC", 38)},
                            1));
  return types;
}

}  // namespace prewire
