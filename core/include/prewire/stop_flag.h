// How somebody asks a machine to stop while it runs: from another thread, or from a signal handler.
#pragma once

#include <atomic>

namespace prewire {

/// A flag that machines heed (see `Machine::heed`). It stays up until it is taken down: a run that begins while it is
/// up ends at once, so that no request is lost between two runs.
///
/// Safe to use from any thread and from a signal handler, for any number of machines at a time. It must outlive those
/// that heed it.
class StopFlag {
 public:
  void raise() noexcept { up_.store(true, std::memory_order_relaxed); }
  void lower() noexcept { up_.store(false, std::memory_order_relaxed); }
  bool up() const noexcept { return up_.load(std::memory_order_relaxed); }

 private:
  std::atomic<bool> up_{false};
  static_assert(std::atomic<bool>::is_always_lock_free);
};

}  // namespace prewire
