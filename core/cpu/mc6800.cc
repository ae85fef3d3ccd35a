// MC6800, MC6802, MC6808. References are to the MC6800 data sheet unless another is named; docs/accuracy.md says which
// details no source settles, and what was chosen.
#include <array>

#include "bus/mix.h"
#include "cpu/alu.h"
#include "cpu/cpus.h"
#include "cpu/parts.h"

namespace prewire {

namespace {

using namespace flags;

// Above the flags, where no instruction looks:
constexpr Word kLag = 0x100;   // I was cleared by CLI or TAP; the next instruction runs before an interrupt can
constexpr Word kWait = 0x200;  // WAI has stacked the registers
constexpr Word kCodes = 0x3F;

/// As the inner loop keeps them: wider than the chip's, so that leaving it for a moment is plain stores.
struct Registers {
  Word a = 0, b = 0, x = 0, s = 0, pc = 0, cc = kI;

  void archive(Archive& archive) {
    for (Word* byte : {&a, &b}) archive.within(*byte, 0, 0xFF);
    for (Word* word : {&x, &s, &pc}) archive.within(*word, 0, 0xFFFF);
    archive.within(cc, 0, kLag | kWait | kCodes);
  }
};

constexpr std::array<RegisterInfo, 6> kRegisters{{
    {"A", 8, ""},
    {"B", 8, ""},
    {"X", 16, ""},
    {"S", 16, ""},
    {"PC", 16, ""},
    {"CC", 8, "11HINZVC"},
}};

class Mc6800 final : public RegisterProcessor<Registers> {
 public:
  Mc6800(Socket& socket, Surroundings surroundings, Part part)
      : RegisterProcessor(socket, surroundings, part, {.quarter = 2, .cycles = 1}) {}

  std::span<const RegisterInfo> registers() const override { return kRegisters; }
  std::uint16_t get(std::size_t index) const override;
  bool set(std::size_t index, std::uint16_t value) override;
  void power_on() override;

 private:
  void execute() override;
  Begin boundary(const Lines& sampled) override;
  // The address bus of the MC6802 and MC6808 has no high-impedance state (MC6802 data sheet).
  std::uint16_t released_address() const override { return pins().tsc < 0 ? pc() : 0xFFFF; }
};

/// The inner loop. Each group below is one block of table "Operations Summary", read top to bottom.
class Exec : public Alu<Exec> {
 public:
  using Self = Exec;
  static constexpr bool kReadsInDeadCycles = false;
  explicit PREWIRE_INLINE Exec(Mc6800& cpu) : Alu(cpu), cpu_(cpu) { reload(); }

  PREWIRE_INLINE void spill() { cpu_.now() = {a, b, x, s, pc, cc}; }
  PREWIRE_INLINE void reload() {
    const Registers& r = cpu_.now();
    a = r.a, b = r.b, x = r.x, s = r.s, pc = r.pc, cc = r.cc;
  }
  PREWIRE_INLINE void refill() {}

  /// An opcode, or false and something else to do.
  PREWIRE_INLINE bool begin(Word& op) { return fetch(pc, op); }
#define OP(opcode, mnemonic, mode, bytes, cycles, group, ...) \
  PREWIRE_INLINE void run_##opcode() {                        \
    next = pc + (bytes);                                      \
    __VA_ARGS__;                                              \
    pc = next & 0xFFFF;                                       \
  }
#include "cpu/mc6800.def"
#undef OP
  using Alu::undefined;

  /// In the cycle before an instruction on memory writes, VMA is low.
  PREWIRE_INLINE void pause(Word ea) { idle(ea); }
  /// V is N exclusive-or C after any shift (note 6).
  PREWIRE_INLINE Word shifted_right(Word r, Word carry) { return shifted(r, carry); }

  /// False: the run is over.
  PREWIRE_INLINE bool pseudo(Word op) {
    switch (op & 0x1FF) {
      case kPass: break;
      case kResetEntry:
        next = (op >> 16 & 0xFF) << 8;
        pc = next | read(0xFFFF);
        cc = (cc & kCodes) | kI;
        break;
      case kIrqEntry: enter(0xFFF8); break;
      case kNmiEntry: enter(0xFFFC); break;
      case kIrqWake: wake(0xFFF8); break;
      case kNmiWake: wake(0xFFFC); break;
      default: return false;
    }
    return true;
  }

 private:
  // Operands and effective addresses.
  PREWIRE_INLINE Word imm8() { return read(pc + 1); }
  PREWIRE_INLINE Word imm16() { return pair(pc + 1); }
  PREWIRE_INLINE Word direct() { return read(pc + 1); }
  PREWIRE_INLINE Word extended() { return imm16(); }
  PREWIRE_INLINE Word indexed() {
    const Word offset = read(pc + 1);
    idle(x);
    idle(without_carry(offset));
    return (x + offset) & 0xFFFF;
  }
  PREWIRE_INLINE Word without_carry(Word offset) { return (x & 0xFF00) | ((x + offset) & 0xFF); }
  PREWIRE_INLINE Word target(Word offset) {
    return (pc + 2 + static_cast<Word>(static_cast<std::int8_t>(offset))) & 0xFFFF;
  }

  PREWIRE_INLINE Word dir8() { return read(direct()); }
  PREWIRE_INLINE Word ext8() { return read(extended()); }
  PREWIRE_INLINE Word idx8() { return read(indexed()); }
  PREWIRE_INLINE Word dir16() { return pair(direct()); }
  PREWIRE_INLINE Word ext16() { return pair(extended()); }
  PREWIRE_INLINE Word idx16() { return pair(indexed()); }
  PREWIRE_INLINE void inh2() { ignore(pc + 1); }

  // Stores.
  PREWIRE_INLINE void store8(Word ea, Word value) {
    idle(ea);
    write(ea, value);
    load8(value);
  }
  PREWIRE_INLINE void store16(Word ea, Word value) {
    idle(ea);
    write(ea, value >> 8);
    write(ea + 1, value);
    load16(value);
  }
  PREWIRE_INLINE void dir_sta(Word value) { store8(direct(), value); }
  PREWIRE_INLINE void ext_sta(Word value) { store8(extended(), value); }
  PREWIRE_INLINE void idx_sta(Word value) { store8(indexed(), value); }
  PREWIRE_INLINE void dir_st16(Word value) { store16(direct(), value); }
  PREWIRE_INLINE void ext_st16(Word value) { store16(extended(), value); }
  PREWIRE_INLINE void idx_st16(Word value) { store16(indexed(), value); }

  // Read, modify, write.
  template <auto Operation>
  PREWIRE_INLINE void ext_rmw() {
    modify<Operation>(extended());
  }
  template <auto Operation>
  PREWIRE_INLINE void idx_rmw() {
    modify<Operation>(indexed());
  }
  PREWIRE_INLINE Word ext_tst() { return test(extended()); }
  PREWIRE_INLINE Word idx_tst() { return test(indexed()); }

  // Jumps, branches, subroutines.
  PREWIRE_INLINE void bcc(bool taken) {
    const Word to = target(read(pc + 1));
    idle(pc + 2);
    idle(to);
    if (taken) [[likely]] {
      asm volatile("");  // keeps it a branch: a predicted one costs nothing, a select would wait for the flags
      next = to;
    }
  }
  PREWIRE_INLINE void ext_jmp() { next = extended(); }
  PREWIRE_INLINE void idx_jmp() { next = indexed(); }
  PREWIRE_INLINE void push_address(Word address) {
    write(s, address);
    write(s - 1, address >> 8);
  }
  PREWIRE_INLINE void bsr() {
    const Word to = target(read(pc + 1));
    idle(pc + 2);
    push_address(pc + 2);
    idle(s - 2);
    idle(pc + 2);
    idle(to);
    s = (s - 2) & 0xFFFF;
    next = to;
  }
  PREWIRE_INLINE void ext_jsr() {
    const Word to = extended();
    ignore(to);
    push_address(pc + 3);
    idle(s - 2);
    idle(pc + 2);
    ignore(pc + 2);
    s = (s - 2) & 0xFFFF;
    next = to;
  }
  PREWIRE_INLINE void idx_jsr() {
    const Word offset = read(pc + 1);
    idle(x);
    push_address(pc + 2);
    idle(s - 2);
    idle(x);
    idle(without_carry(offset));
    s = (s - 2) & 0xFFFF;
    next = x + offset;
  }
  PREWIRE_INLINE void rts() {
    ignore(pc + 1);
    idle(s);
    next = pair(s + 1);
    s = (s + 2) & 0xFFFF;
  }

  // Stack and index register.
  PREWIRE_INLINE void psh(Word value) {
    ignore(pc + 1);
    write(s, value);
    idle(s - 1);
    s = (s - 1) & 0xFFFF;
  }
  PREWIRE_INLINE Word pul() {
    ignore(pc + 1);
    idle(s);
    const Word value = read(s + 1);
    s = (s + 1) & 0xFFFF;
    return value;
  }
  PREWIRE_INLINE Word step(Word value, int by) {
    ignore(pc + 1);
    idle(value);
    const Word stepped = (value + static_cast<Word>(by)) & 0xFFFF;
    idle(stepped);
    return stepped;
  }
  PREWIRE_INLINE Word inx_dex(int by) {
    const Word stepped = step(x, by);
    cc = (cc & ~kZ) | (stepped == 0 ? kZ : 0);
    return stepped;
  }
  PREWIRE_INLINE Word ins_des(int by) { return step(s, by); }
  PREWIRE_INLINE void tsx() { x = step(s, +1); }
  PREWIRE_INLINE void txs() { s = step(x, -1); }

  // Interrupts.
  PREWIRE_INLINE void stack(Word address) {
    push_address(address);
    write(s - 2, x);
    write(s - 3, x >> 8);
    write(s - 4, a);
    write(s - 5, b);
    write(s - 6, (cc & kCodes) | 0xC0);
  }
  PREWIRE_INLINE void vector(Word at, Word stacked) {
    next = pair(at);
    s = stacked & 0xFFFF;
    cc = (cc & kCodes) | kI;
  }
  PREWIRE_INLINE void swi() {
    ignore(pc + 1);
    stack(pc + 1);
    idle(s - 7);
    vector(0xFFFA, s - 7);
  }
  PREWIRE_INLINE void enter(Word at) {
    ignore(pc);
    stack(pc);
    idle(s - 7);
    vector(at, s - 7);
    pc = next;
  }
  PREWIRE_INLINE void wai() {
    ignore(pc + 1);
    stack(pc + 1);
    s = (s - 7) & 0xFFFF;
    cc |= kWait;
    attend_boundary();
  }
  PREWIRE_INLINE void wake(Word at) {
    vector(at, s);
    pc = next;
  }
  PREWIRE_INLINE void rti() {
    ignore(pc + 1);
    idle(s);
    const Word new_cc = read(s + 1), new_b = read(s + 2), new_a = read(s + 3);
    const Word new_x = pair(s + 4);
    next = pair(s + 6);
    s = (s + 7) & 0xFFFF;
    a = new_a, b = new_b, x = new_x;
    cc = new_cc & kCodes;
    if (!(cc & kI) && interrupt_seen()) attend_boundary();
  }
  PREWIRE_INLINE void set_cc(Word value) {
    const bool opens = (cc & kI) && !(value & kI);
    cc = value & kCodes;
    if (opens && interrupt_seen()) {
      cc |= kLag;
      attend_boundary();
    }
  }

  // Operations on bytes and words; notes are those under the data sheet's instruction tables.
  PREWIRE_INLINE void tst(Word m) { change(kNzvc, nz8(m)); }
  /// The bytes are compared apart: N and V belong to the high ones, without a borrow (notes 7, 8); C is not touched.
  PREWIRE_INLINE void cpx(Word m) {
    const Word r = (x >> 8) - (m >> 8);
    cc = (cc & (kH | kI | kC)) | (r >> 4 & kN) | (x == m ? kZ : 0) | (vc8(x >> 8, m >> 8, r) & kV);
  }

  Mc6800& cpu_;
  Word a = 0, b = 0, x = 0, s = 0, pc = 0;
  Word next = 0;
};

#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wpedantic"  // labels as values
void Mc6800::execute() {
  static const auto ways = ({
    std::array<const void*, 256> of;
    of.fill(&&none);
#define OP(opcode, ...) of[opcode] = &&at_##opcode;
#include "cpu/mc6800.def"
#undef OP
    of;
  });
  Exec exec(*this);
  Word op = 0;
#define GO_ON PREWIRE_GO_ON(exec, op, ways);

  GO_ON
#define OP(opcode, ...)              \
  at_##opcode : exec.run_##opcode(); \
  GO_ON
#include "cpu/mc6800.def"
#undef OP
none:
  exec.undefined();
  GO_ON
special:
  if (!exec.pseudo(op)) return;
  GO_ON
#undef GO_ON
}
#pragma GCC diagnostic pop

Processor::Begin Mc6800::boundary(const Lines& sampled) {
  const bool lag = (registers_.cc & kLag) != 0;
  const bool waits = (registers_.cc & kWait) != 0;
  registers_.cc &= ~kLag;
  const bool masked = (registers_.cc & kI) != 0;

  const auto decide = [&]() -> Begin {
    if (lines().reset || (state() == CpuState::reset && sampled.reset)) {
      set_doing(CpuState::reset);
      registers_.cc = (registers_.cc & kCodes) | kI;
      return {kPass, Kind::idle, 0xFFFE};
    }
    if (state() == CpuState::reset) {
      set_doing(CpuState::running);
      return {kResetEntry, Kind::read, 0xFFFE};
    }
    if (sampled.halt) {
      set_doing(CpuState::halted, true);
      return {kPass, Kind::idle, released_address()};
    }
    if (waits) {
      if (sampled.nmi) {
        set_doing(CpuState::running);
        take_nmi();
        return {kNmiWake, Kind::idle, static_cast<std::uint16_t>(registers_.s)};
      }
      if (sampled.irq && !masked) {
        set_doing(CpuState::running);
        return {kIrqWake, Kind::idle, static_cast<std::uint16_t>(registers_.s)};
      }
      set_doing(CpuState::waiting, true);
      return {kPass, Kind::idle, released_address()};
    }
    set_doing(CpuState::running);
    if (sampled.nmi) {
      take_nmi();
      return {kNmiEntry, Kind::fetch, pc()};
    }
    if (sampled.irq && !masked && !lag) return {kIrqEntry, Kind::fetch, pc()};
    return {0, Kind::fetch, pc()};
  };
  const Begin begin = decide();
  // An interrupt that is masked must not keep the slow path busy: CLI, TAP and RTI look for it themselves.
  keep_attention(state() != CpuState::running || lines().nmi || lines().halt || (lines().irq && !masked));
  return begin;
}

std::uint16_t Mc6800::get(std::size_t index) const {
  switch (index) {
    case 0: return static_cast<std::uint16_t>(registers_.a);
    case 1: return static_cast<std::uint16_t>(registers_.b);
    case 2: return static_cast<std::uint16_t>(registers_.x);
    case 3: return static_cast<std::uint16_t>(registers_.s);
    case 4: return pc();
    default: return static_cast<std::uint16_t>((registers_.cc & kCodes) | 0xC0);
  }
}

bool Mc6800::set(std::size_t index, std::uint16_t value) {
  if (!settable()) return false;
  switch (index) {
    case 0: registers_.a = value & 0xFF; break;
    case 1: registers_.b = value & 0xFF; break;
    case 2: registers_.x = value; break;
    case 3: registers_.s = value; break;
    case 4: registers_.pc = value; break;
    default: registers_.cc = (registers_.cc & ~kCodes) | (value & kCodes); break;
  }
  changed(index, value);
  return true;
}

void Mc6800::power_on() {
  // A, B, X, S and the flags but I are undefined after power-on (MC6800 data sheet; from memory).
  const std::uint64_t noise = mix(socket().seed(), 0x6800);
  const auto some = [&](int shift, Word bits) { return static_cast<Word>(noise >> shift) & bits; };
  registers_ = {some(0, 0xFF), some(8, 0xFF), some(16, 0xFFFF), some(32, 0xFFFF), 0xFFFE, some(48, kCodes) | kI};
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

/// VSS sits between A11 and A12.
constexpr std::uint8_t address_pin(int line) { return static_cast<std::uint8_t>(line < 12 ? 9 + line : 10 + line); }
constexpr std::uint8_t data_pin(int line) { return static_cast<std::uint8_t>(33 - line); }

CpuType make_type(std::string name, std::string title, std::string summary, std::vector<PinSpec> pins, int divisor,
                  bool ram) {
  parts::add_buses(pins, address_pin, data_pin);
  CpuType type = make_part<Mc6800>(std::move(name), std::move(title), std::move(summary), std::move(pins), divisor,
                                   mc6800_instructions());
  type.internal_ram = ram;
  return type;
}

}  // namespace

std::vector<CpuType> mc6800_types() {
  std::vector<CpuType> types;
  types.push_back(make_type(
      "mc6800", "MC6800 microprocessor",
      "8-bit processor with a 16-bit address bus; two-phase clock from outside, which runs at the bus frequency.",
      {halt(2), request("IRQ", 4), nmi(6), reset(40), bus_request("TSC", 39, false), input("DBE", 36, true),
       output("VMA", 5), output("R/W", 34), output("BA", 7), output("PHI2", 37), supply("VCC", 8, kLogicHigh),
       supply("VSS", 1, 0)},
      1, false));
  const std::string crystal = " The oscillator is on the chip and E runs at a quarter of the crystal.";
  types.push_back(make_type(
      "mc6802", "MC6802 microprocessor with clock and RAM", "An MC6800 with 128 bytes of RAM at $0000-$007F." + crystal,
      {halt(2), request("IRQ", 4), nmi(6), reset(40), input("MR", 3, true), input("RE", 36, true), output("VMA", 5),
       output("R/W", 34), output("BA", 7), output("E", 37), supply("VCC", 8, kLogicHigh), supply("VSS", 1, 0)},
      4, true));
  types.push_back(make_type(
      "mc6808", "MC6808 microprocessor with clock", "An MC6800 without RAM of its own." + crystal,
      {halt(2), request("IRQ", 4), nmi(6), reset(40), input("MR", 3, true), output("VMA", 5), output("R/W", 34),
       output("BA", 7), output("E", 37), supply("VCC", 8, kLogicHigh), supply("VSS", 1, 0)},
      4, false));
  return types;
}

}  // namespace prewire
