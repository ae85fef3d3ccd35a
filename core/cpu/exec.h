// The inner loop's end of the bus: every cycle of an instruction is one call of `fetch`, `read`, `write` or `idle`.
#pragma once

#include <cstdint>

#include "cpu/processor.h"

namespace prewire {

/// Registers, addresses and bytes in the inner loop; the bus takes the low 16 or 8 bits.
using Word = std::uint32_t;

/// Base of a processor's inner loop. `Self` adds the registers and copies them to and from the processor object in
/// `spill` and `reload`; what `spill` takes back of an instruction under way, `refill` does again. It says whether dead
/// cycles read, too: `kReadsInDeadCycles`.
///
/// An object of it lives in one function, with everything inlined, so that its members become machine registers. Plain
/// memory costs a countdown, an attribute and a byte; all else is one call of the slow path. Registers must not change
/// before the last cycle of an instruction: a run may end after any cycle, and the registers are then those before it.
template <class Self>
class BusSide {
 public:
  explicit PREWIRE_INLINE BusSide(Processor& processor)
      : processor_(processor),
        flat_(processor.flat()),
        last_(processor.handover.last),
        left_(processor.first_left()),
        start_(left_) {}

 protected:
  /// First cycle of an instruction at `pc`, which is below 65536: an opcode. False if it was something else, a
  /// pseudo-opcode, which is then in `opcode`.
  PREWIRE_INLINE bool fetch(Word pc, Word& opcode) {
    start_ = left_;
    if (--left_ < 0 || (flat_[Flat::kSlow + pc] & (kSlowFetch | kWatchedFetch))) [[unlikely]] {
      hand_over();
      const Slow slow = processor_.slow_fetch(static_cast<std::uint16_t>(pc), left_);
      self().reload();
      opcode = resume(slow);
      // An interrupt or wait begins with another byte or none; what the bus then holds stands above the pseudo-opcode.
      last_ = (opcode < kLeave ? opcode : opcode >> 16) & 0xFF;
      return opcode < kLeave;
    }
    opcode = flat_[pc];
    last_ = flat_[pc];
    return true;
  }

  PREWIRE_INLINE Word read(Word at) {
    const auto address = static_cast<std::uint16_t>(at);
    if (--left_ < 0 || (slow_bits(address) & kSlowRead)) [[unlikely]] {
      hand_over();
      last_ = resume(processor_.slow_read(address, left_)) & 0xFF;
      return last_;
    }
    last_ = flat_[address];
    return last_;
  }

  /// A read whose byte the processor has no use for: chips take part, but it says nothing about the program.
  PREWIRE_INLINE void ignore(Word at) {
    const auto address = static_cast<std::uint16_t>(at);
    if (--left_ < 0 || (slow_bits(address) & kSlowRead)) [[unlikely]] {
      hand_over();
      last_ = resume(processor_.slow_ignored(address, left_)) & 0xFF;
      return;
    }
    last_ = flat_[address];
  }

  /// A read of $FFFF that the processor has no use for. Where plain memory is, only what stays on the bus matters;
  /// elsewhere every cycle is slow (`kDeadReads`).
  PREWIRE_INLINE void dead_read() {
    if (--left_ < 0) [[unlikely]] {
      hand_over();
      last_ = resume(processor_.slow_ignored(kDeadAddress, left_)) & 0xFF;
      return;
    }
    last_ = kDeadByte;
  }

  /// A byte of a vector, which BS tells the world.
  PREWIRE_INLINE Word read_vector(Word at) {
    --left_;
    hand_over();
    last_ = resume(processor_.slow_vector(static_cast<std::uint16_t>(at), left_)) & 0xFF;
    return last_;
  }

  PREWIRE_INLINE void write(Word at, Word word) {
    const auto address = static_cast<std::uint16_t>(at);
    const auto value = static_cast<std::uint8_t>(word);
    if (--left_ < 0 || (slow_bits(address) & kSlowWrite)) [[unlikely]] {
      hand_over();
      last_ = resume(processor_.slow_write(address, value, left_)) & 0xFF;
      return;
    }
    const std::int64_t mark = processor_.virtual_horizon() - left_;
    processor_.trail()[static_cast<std::size_t>(mark) % kTrail] = {mark, address | kStored, flat_[address]};
    flat_[address] = value;
    last_ = value;
  }

  /// A cycle with VMA low, in which no device takes part if its select heeds VMA.
  PREWIRE_INLINE void idle(Word at) {
    const auto address = static_cast<std::uint16_t>(at);
    // On most boards nobody takes part: then the address need not even be worked out.
    if (--left_ < 0 || (flat_[Flat::kIdleHeard] != 0 && (slow_bits(address) & kSlowIdle))) [[unlikely]] {
      hand_over();
      const std::uint32_t seen = resume(processor_.slow_idle(address, left_));
      if (seen & kAnswered) last_ = seen & 0xFF;
    }
  }

  PREWIRE_INLINE void attend_boundary() { left_ = processor_.attend_boundary(left_); }
  /// What has been read means nothing. The run ends at the next `fetch`, with the registers as they were.
  PREWIRE_INLINE void undefined() {
    hand_over();
    left_ = processor_.undefined(left_);
  }
  PREWIRE_INLINE bool interrupt_seen() const { return processor_.interrupt_seen(left_); }

 private:
  static constexpr Word kDeadByte = 0x100;  // what $FFFF holds, looked up only when it matters

  PREWIRE_INLINE Self& self() { return static_cast<Self&>(*this); }
  PREWIRE_INLINE std::uint8_t slow_bits(std::uint16_t address) const { return flat_[Flat::kSlow + address]; }
  PREWIRE_INLINE void hand_over() {
    self().spill();
    if constexpr (Self::kReadsInDeadCycles) {
      if (last_ == kDeadByte) last_ = flat_[kDeadAddress];
    }
    processor_.handover = {start_, static_cast<std::uint8_t>(last_)};
  }
  PREWIRE_INLINE std::uint32_t resume(const Slow& slow) {
    start_ += slow.left - left_;  // the slow path may move the horizon, and with it `left_`, but not the position
    left_ = slow.left;
    self().refill();
    return static_cast<std::uint32_t>(slow.value);
  }

  Processor& processor_;
  std::uint8_t* const flat_;
  Word last_;  // the byte that the bus last carried
  std::int64_t left_;
  std::int64_t start_;
};

/// Where an instruction of `exec` goes on: the one at the program counter has its label in `ways`, and what takes its
/// place is at `special`. Written after each instruction, it gives each a jump of its own, whose target a computer
/// guesses by what came before from there. One jump for all is guessed wrongly in some of the shortest loops, which
/// takes four times as long. Labels as values are GNU C, which clang has, too.
#define PREWIRE_GO_ON(exec, op, ways) \
  if (!(exec).begin(op)) [[unlikely]] \
    goto special;                     \
  goto*(ways)[op]

}  // namespace prewire
