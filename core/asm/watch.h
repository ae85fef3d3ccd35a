// Lets somebody outside end an assembly.
#pragma once

#include <functional>

#include "prewire/assembler.h"

namespace prewire::assembler {

class Watch {
 public:
  /// Nobody asks.
  Watch() = default;
  /// `stop` may be empty, and outlives the watch.
  explicit Watch(const std::function<bool()>& stop) : stop_(stop ? &stop : nullptr) {}

  /// A line or a statement has been dealt with. Throws `AssemblyStopped`.
  void tick() {
    if (++ticks_ % kTicks == 0 && stop_ != nullptr && (*stop_)()) throw AssemblyStopped();
  }

 private:
  static constexpr unsigned kTicks = 256;  // well below a millisecond

  const std::function<bool()>* stop_ = nullptr;
  unsigned ticks_ = 0;
};

}  // namespace prewire::assembler
