// How fast a machine runs against the clock on the wall.
#pragma once

#include <optional>
#include <string>

#include "prewire/clock.h"

namespace prewire::front::desk {

/// From one bus cycle a second to as fast as it goes.
class Pace {
 public:
  static constexpr int kSteps = 8;
  static constexpr int kRealTime = kSteps - 2;
  static constexpr int kUnlimited = kSteps - 1;

  int step() const { return step_; }
  void choose(int step);
  bool unlimited() const { return step_ == kUnlimited; }
  /// Bus cycles a second; empty when unlimited.
  std::optional<double> rate(const Timebase& timebase) const;
  /// So slow that an eye follows every change.
  bool slow(const Timebase& timebase) const;
  /// "1 cycle/s", "real time", "unlimited".
  std::string text() const;

  /// Cycles to run in the next `seconds`; parts of cycles are kept for the next call.
  Cycle due(double seconds, const Timebase& timebase);
  void forget() { owed_ = 0; }

 private:
  int step_ = kRealTime;
  double owed_ = 0;
};

}  // namespace prewire::front::desk
