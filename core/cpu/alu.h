// Operations that the MC6800 and the MC6809 compute alike, flags and all.
#pragma once

#include "cpu/exec.h"
#include "cpu/flags.h"

namespace prewire {

/// Between the bus and a processor's own instructions. `Self` adds what differs: `pause(ea)`, the cycle of an
/// instruction on memory in which the result is made, and `shifted_right`, as V after a right shift is not the same.
/// Bits of `cc` above the condition codes are left alone.
template <class Self>
class Alu : public BusSide<Self> {
 protected:
  using BusSide<Self>::BusSide;

  PREWIRE_INLINE Word pair(Word ea) {
    const Word high = this->read(ea);
    return high << 8 | this->read(ea + 1);
  }

  // Instructions on memory.
  template <auto Operation>
  PREWIRE_INLINE void modify(Word ea) {
    Word old = 0;
    if constexpr (Operation == &Alu::clr) {
      this->ignore(ea);  // the byte does not matter: CLR may well be the first to touch it
    } else {
      old = this->read(ea);
    }
    self().pause(ea);
    const Word before = cc;
    const Word result = (this->*Operation)(old);
    const Word after = cc;
    cc = before;  // the flags change after the write
    this->write(ea, result);
    cc = after;
  }
  /// TST has the same shape, and nothing is written.
  PREWIRE_INLINE Word test(Word ea) {
    const Word value = this->read(ea);
    self().pause(ea);
    self().pause(ea);
    return value;
  }

  PREWIRE_INLINE Word load8(Word value) {
    change(flags::kN | flags::kZ | flags::kV, flags::nz8(value));
    return value & 0xFF;
  }
  PREWIRE_INLINE Word load16(Word value) {
    change(flags::kN | flags::kZ | flags::kV, flags::nz16(value));
    return value & 0xFFFF;
  }
  PREWIRE_INLINE Word and_(Word p, Word m) { return load8(p & m); }
  PREWIRE_INLINE Word or_(Word p, Word m) { return load8(p | m); }
  PREWIRE_INLINE Word eor(Word p, Word m) { return load8(p ^ m); }
  PREWIRE_INLINE void bit(Word p, Word m) { load8(p & m); }

  PREWIRE_INLINE Word sum(Word p, Word m, Word carry) {
    const Word r = p + m + carry;
    change(flags::kH | kNzvc, flags::h8(p, m, r) | flags::nz8(r) | flags::vc8(p, m, r));
    return r & 0xFF;
  }
  /// The MC6800 leaves H as it was; with the MC6809 it is undefined, and left as it was.
  PREWIRE_INLINE Word difference(Word p, Word m, Word borrow) {
    const Word r = p - m - borrow;
    change(kNzvc, flags::nz8(r) | flags::vc8(p, m, r));
    return r & 0xFF;
  }
  PREWIRE_INLINE Word add(Word p, Word m) { return sum(p, m, 0); }
  PREWIRE_INLINE Word adc(Word p, Word m) { return sum(p, m, cc & flags::kC); }
  PREWIRE_INLINE Word sub(Word p, Word m) { return difference(p, m, 0); }
  PREWIRE_INLINE Word sbc(Word p, Word m) { return difference(p, m, cc & flags::kC); }
  PREWIRE_INLINE void cmp(Word p, Word m) { difference(p, m, 0); }
  PREWIRE_INLINE Word neg(Word m) { return difference(0, m, 0); }
  PREWIRE_INLINE Word com(Word m) {
    const Word r = ~m & 0xFF;
    change(kNzvc, flags::nz8(r) | flags::kC);
    return r;
  }
  PREWIRE_INLINE Word clr(Word) {
    change(kNzvc, flags::kZ);
    return 0;
  }
  PREWIRE_INLINE Word inc(Word m) {
    const Word r = (m + 1) & 0xFF;
    change(flags::kN | flags::kZ | flags::kV, flags::nz8(r) | (m == 0x7F ? flags::kV : 0));
    return r;
  }
  PREWIRE_INLINE Word dec(Word m) {
    const Word r = (m - 1) & 0xFF;
    change(flags::kN | flags::kZ | flags::kV, flags::nz8(r) | (m == 0x80 ? flags::kV : 0));
    return r;
  }

  /// V becomes N exclusive-or C.
  PREWIRE_INLINE Word shifted(Word r, Word carry) {
    const Word codes = flags::nz8(r) | carry;
    change(kNzvc, codes | ((codes >> 2 ^ codes << 1) & flags::kV));
    return r & 0xFF;
  }
  PREWIRE_INLINE Word asl(Word m) { return shifted(m << 1, m >> 7); }
  PREWIRE_INLINE Word rol(Word m) { return shifted(m << 1 | (cc & flags::kC), m >> 7); }
  PREWIRE_INLINE Word lsr(Word m) { return self().shifted_right(m >> 1, m & 1); }
  PREWIRE_INLINE Word asr(Word m) { return self().shifted_right(m >> 1 | (m & 0x80), m & 1); }
  PREWIRE_INLINE Word ror(Word m) { return self().shifted_right(m >> 1 | (cc & flags::kC) << 7, m & 1); }

  /// V is undefined afterwards; it is left as it was.
  PREWIRE_INLINE Word daa(Word p) {
    const Word r = p + flags::decimal_correction(p, cc);
    change(flags::kN | flags::kZ, flags::nz8(r) | (r >> 8 & flags::kC));
    return r & 0xFF;
  }

  PREWIRE_INLINE void change(Word codes, Word to) { cc = (cc & ~codes) | to; }
  PREWIRE_INLINE bool n_xor_v() const { return ((cc >> 3 ^ cc >> 1) & 1) != 0; }

  static constexpr Word kNzvc = flags::kN | flags::kZ | flags::kV | flags::kC;
  Word cc = 0;

 private:
  PREWIRE_INLINE Self& self() { return static_cast<Self&>(*this); }
};

}  // namespace prewire
