// The cycle counter, the queue of timed events, and the horizon that tells the processor when to look up.
#pragma once

#include <algorithm>
#include <cstdint>
#include <vector>

#include "prewire/archive.h"
#include "prewire/clock.h"

namespace prewire {

/// A timed event. Plain data, so that it can be saved.
struct Timer {
  Stamp when = 0;
  std::uint64_t order = 0;  ///< events of one moment run in the order in which they were set; an odd one means `by_e`
  std::int32_t owner = 0;   ///< chip index, or one of the machine's own
  std::uint32_t tag = 0;

  /// Due at a certain edge of E: it is put off as E is stretched.
  bool by_e() const { return (order & 1) != 0; }
};

/// Reasons to look at every cycle; a bit each.
enum Attention : unsigned {
  kObserved = 1,    ///< an observer is told of each cycle
  kInterrupt = 2,   ///< the processor has something to decide at the next instruction boundary
  kSignals = 4,     ///< E, R/W or VMA is wired, or something holds the processor: DBE, TSC, DMA/BREQ, MRDY, RESET
  kStopping = 8,    ///< a stop was asked for
  kDeadReads = 16,  ///< the address that dead cycles read is no plain memory
};

/// More than the cycles of the longest instruction: so many marks back is what one may have to be run again from.
inline constexpr std::size_t kTrail = 32;

class Clock : public ClockFace {
 public:
  /// The cycle in progress: when it begins, which is where E fell last unless it has been stretched, ...
  Stamp begin() const { return stamp_of(now) + late(); }
  /// ... and when E will fall if nothing stretches it any more.
  Stamp fall() const { return e_fall(now) + late(); }
  /// By how many quarters it has been stretched.
  Stamp stretch() const { return long_ == e_cycle() ? by_ : 0; }
  /// Between runs. A cycle that is held has come as far as `run` leaves it.
  Stamp present() const { return held ? begin() + 2 : begin(); }
  /// The number of the bus cycle in which something due at `stamp` happens, if E is not stretched any more.
  Cycle cycle_at(Stamp stamp) const { return cycle_of(stamp - late()); }

  /// The first cycle that must take the slow path. `virtual_horizon` is the same less the cycles that passed without
  /// a bus cycle of the program's (see `steal`), so instruction-relative stamps stay consecutive.
  Cycle horizon() const { return horizon_; }
  const Cycle& virtual_horizon() const { return virtual_horizon_; }

  /// The cycle that has `left` cycles to go to the horizon is at its transfer.
  void begin_access(std::int64_t left) {
    now = horizon_ - 1 - left;
    moment = fall();
  }

  /// Time passes without a cycle of the current instruction.
  void steal(Cycle cycles);
  /// The cycle in progress lasts a quarter longer. True if that completes another whole cycle of time.
  bool stretch_on();
  Cycle stolen() const { return stolen_; }
  /// Numbers the cycle in progress among the program's own, from 1.
  Cycle mark() const { return now - stolen_ + 1; }

  void set_limit(Cycle limit) { limit_ = limit; }
  Cycle limit() const { return limit_; }

  void attend(Attention reason) {
    attention_ |= reason;
    lower(now);
  }
  /// Something has happened in this cycle that its end must see to.
  void look_up() { lower(now); }
  void disregard(Attention reason) { attention_ &= ~static_cast<unsigned>(reason); }
  bool attending(Attention reason) const { return (attention_ & reason) != 0; }

  /// Works out the horizon anew, no earlier than `from`.
  void plan(Cycle from) {
    quiet_ = std::min({limit_ - 1, cycle_at(next_), from + kBreath});
    set_horizon(attention_ == 0 ? std::max(from, quiet_) : from);
  }

  /// Nothing happens in this cycle but that observers see it.
  bool merely_observed() const { return attention_ == kObserved && now < quiet_; }

  /// One timer per owner and tag; setting it again moves it.
  void set(std::int32_t owner, std::uint32_t tag, Stamp when, bool by_e = false);
  void cancel(std::int32_t owner, std::uint32_t tag) {
    if ((owners_ & bit(owner)) != 0) remove(owner, tag);
  }
  /// Takes the next timer due before `end`; false if there is none.
  bool take(Stamp end, Timer& timer);
  /// Time of the next timer; far away if none.
  Stamp next() const { return next_; }

  /// Timers belong to `first_owner` and those behind it, up to `owners`.
  void archive(Archive& archive, std::int32_t first_owner, std::int32_t owners);

  static constexpr Stamp kNever = INT64_MAX / 4;
  /// After so many cycles the slow path is taken whatever happens: there somebody may ask for a stop.
  static constexpr Cycle kBreath = 16'384;

 private:
  void lower(Cycle cycle) {
    if (cycle < quiet_) quiet_ = cycle;
    if (cycle < horizon_) set_horizon(cycle);
  }
  static std::uint64_t bit(std::int32_t owner) { return std::uint64_t{1} << (static_cast<unsigned>(owner) % 64); }
  void remove(std::int32_t owner, std::uint32_t tag);
  void note_timers();
  void set_horizon(Cycle cycle) {
    horizon_ = cycle;
    virtual_horizon_ = cycle - stolen_;
  }

  Cycle horizon_ = 0;
  Cycle virtual_horizon_ = 0;
  Cycle quiet_ = 0;  // until then no timer is due, and the run goes on
  Cycle limit_ = 0;
  Cycle stolen_ = 0;
  Cycle long_ = -1;  // the last cycle of E that was stretched...
  Stamp by_ = 0;     // ...by so much
  unsigned attention_ = 0;
  std::uint64_t orders_ = 0;
  Stamp next_ = kNever;
  std::vector<Timer> timers_;  // latest first
  std::uint64_t owners_ = 0;   // who has some: a bit each, shared by every 64th
};

}  // namespace prewire
