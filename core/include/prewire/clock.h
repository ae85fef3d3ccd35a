// Time in Prewire: whole E cycles for programs, quarter cycles for pin edges, picoseconds for people.
#pragma once

#include <cstdint>
#include <stdexcept>

namespace prewire {

/// Whole E (phi2) cycles since power-on. Cycle 0 is the first one; a count of N cycles means that cycles 0..N-1 are
/// over.
///
/// Where slow memory stretches E (MRDY of the MC6809, MR of the MC6802), the count goes on with the time that passes. A
/// cycle is then numbered by the moment 4 quarters before the fall of E that ends it, in whole cycles rounded down: a
/// number that no cycle bears belongs to the time by which one was stretched. Cycles that follow a stretch of 1 to 3
/// quarters are late by these against the stamps of their number.
using Cycle = std::int64_t;

/// Quarter cycles since power-on. Cycle n spans stamps 4n to 4n+4: address, R/W and VMA are valid from 4n+1, E rises at
/// 4n+2 and falls at 4n+4, the moment at which the bus transfers. After a stretch all that is late.
using Stamp = std::int64_t;

/// Picoseconds; the range is about 106 days.
using Picoseconds = std::int64_t;

/// The E fall that ends cycle `cycle - 1`, which is the moment at which `cycle` cycles are over.
constexpr Stamp stamp_of(Cycle cycle) { return cycle * 4; }

/// The E rise within cycle `cycle`.
constexpr Stamp e_rise(Cycle cycle) { return cycle * 4 + 2; }

/// The E fall that ends cycle `cycle`.
constexpr Stamp e_fall(Cycle cycle) { return cycle * 4 + 4; }

/// The bus cycle in which something due at `stamp` happens; a stamp on an E fall belongs to the cycle that it ends.
constexpr Cycle cycle_of(Stamp stamp) { return stamp <= 0 ? 0 : (stamp - 1) / 4; }

/// The first cycle that begins at `stamp`, which is 0 or more, or after it: so many cycles leave no fraction of it out.
constexpr Cycle cycle_from(Stamp stamp) { return (stamp + 3) / 4; }

/// What a clock shows. E time is time that stands still while E is stretched: in it E is regular, so cycle n of E rises
/// at `e_rise(n)` and falls at `e_fall(n)`. It is the same as time where nothing is ever stretched.
struct ClockFace {
  Cycle now = 0;        ///< the cycle in progress, or between runs the number of cycles that are over
  Stamp moment = 0;     ///< the stamp of what is being handled: a transfer, an edge, a timer; between runs the present
  Stamp stretched = 0;  ///< quarters by which E has been stretched so far
  bool held = false;    ///< the cycle in progress stands where E is held: high, the last quarter of it yet to come

  /// Quarters by which the cycle in progress is late against the stamps of its number: 0 to 3.
  int late() const { return static_cast<int>(stretched & 3); }
  /// A moment of the cycle in progress in E time.
  Stamp e_time(Stamp when) const { return when - stretched + (held ? 1 : 0); }
  /// The cycle in progress, or between runs the number of cycles that are over, as E counts them.
  Cycle e_cycle() const { return now - (stretched >> 2); }
};

/// Converts between cycles and seconds for one E frequency. Exact in integers; results are rounded to nearest. A span
/// that picoseconds cannot tell, which at 1 MHz takes some 2^43 cycles, throws `std::out_of_range`; `seconds` and
/// `milliseconds` know it.
class Timebase {
 public:
  /// `millihertz`: the E frequency in 1/1000 Hz, 1'000 (1 Hz) to 10'000'000'000 (10 MHz).
  explicit constexpr Timebase(std::int64_t millihertz = 1'000'000'000) : millihertz_(millihertz) {}

  constexpr std::int64_t millihertz() const { return millihertz_; }

  /// Quarter cycles in a time span of 0 or more.
  constexpr Stamp stamps(Picoseconds span) const { return scale(span, 4 * static_cast<Wide>(millihertz_), kPerSecond); }

  /// The most quarter cycles that a time span of 0 or more holds, and the fewest that hold it.
  constexpr Stamp stamps_within(Picoseconds span) const {
    return static_cast<Stamp>(static_cast<Wide>(span) * 4 * millihertz_ / kPerSecond);
  }
  constexpr Stamp stamps_around(Picoseconds span) const {
    return static_cast<Stamp>((static_cast<Wide>(span) * 4 * millihertz_ + kPerSecond - 1) / kPerSecond);
  }

  /// Whole cycles in a time span of 0 or more.
  constexpr Cycle cycles(Picoseconds span) const { return scale(span, millihertz_, kPerSecond); }

  constexpr Picoseconds span(Cycle cycles) const { return scale(cycles, kPerSecond, millihertz_); }
  constexpr Picoseconds span_of_stamp(Stamp stamp) const {
    return scale(stamp, kPerSecond, 4 * static_cast<Wide>(millihertz_));
  }
  /// Whether `span_of_stamp` has an answer.
  constexpr bool in_range(Stamp stamp) const {
    return fits(scaled(stamp, kPerSecond, 4 * static_cast<Wide>(millihertz_)));
  }
  /// Any span of time, to some 15 digits.
  constexpr double milliseconds(Stamp stamp) const {
    return in_range(stamp) ? static_cast<double>(span_of_stamp(stamp)) / 1e9
                           : static_cast<double>(stamp) * 250'000 / static_cast<double>(millihertz_);
  }
  constexpr double seconds(Stamp stamp) const { return milliseconds(stamp) / 1e3; }

 private:
  __extension__ using Wide = __int128;
  static constexpr std::int64_t kPerSecond = 1'000'000'000'000'000;  // picoseconds times 1000, against millihertz

  static constexpr Wide scaled(Wide value, Wide numerator, Wide denominator) {
    return (value * numerator + denominator / 2) / denominator;
  }
  static constexpr bool fits(Wide value) { return value >= INT64_MIN && value <= INT64_MAX; }
  static constexpr std::int64_t scale(Wide value, Wide numerator, Wide denominator) {
    const Wide result = scaled(value, numerator, denominator);
    if (!fits(result)) throw std::out_of_range("a span of time of more than 106 days is not told in picoseconds");
    return static_cast<std::int64_t>(result);
  }

  std::int64_t millihertz_;
};

}  // namespace prewire
