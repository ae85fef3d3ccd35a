// How long something may take on the wall, so that a frame is drawn in time.
#pragma once

#include <chrono>

namespace prewire::front::desk {

class Budget {
 public:
  /// Begins now.
  explicit Budget(double seconds) : seconds_(seconds) {}
  bool used_up() const { return std::chrono::duration<double>(Clock::now() - start_).count() > seconds_; }

 private:
  using Clock = std::chrono::steady_clock;
  Clock::time_point start_ = Clock::now();
  double seconds_;
};

}  // namespace prewire::front::desk
