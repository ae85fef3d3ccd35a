// Tells of inputs that nobody drives for long. Until a program has set up its ports, many of them float for a moment,
// and that is no mistake.
#pragma once

#include "unsure_input.h"

namespace prewire::chips {

inline constexpr Picoseconds kPatience = 10'000'000'000;  // 10 ms: programs set up their ports sooner
/// Timer tags from here on belong to the watch; the pin is added.
inline constexpr unsigned kWatchTag = 0x100;

/// Part of a chip with inputs that have to be driven.
class InputWatch {
 public:
  /// To be called at the start and at each edge of the input. An unwired pin is the business of the check before the
  /// run.
  void look(Socket& socket, int pin) {
    const Level level = socket.level(pin);
    if (level == Level::low || level == Level::high || !socket.wired(pin)) return drop(socket, pin);
    waiting_ |= 1U << pin;
    socket.timer(kWatchTag + static_cast<unsigned>(pin), socket.now() + socket.timebase().stamps(kPatience));
  }
  /// The input does not matter now.
  void drop(Socket& socket, int pin) {
    if (!(waiting_ >> pin & 1)) return;
    waiting_ &= ~(1U << pin);
    socket.cancel(kWatchTag + static_cast<unsigned>(pin));
  }
  /// The pin whose patience is over, or -1 if the timer is another one.
  int over(unsigned tag) {
    if (tag < kWatchTag) return -1;
    const unsigned pin = tag - kWatchTag;
    waiting_ &= ~(1U << pin);
    return static_cast<int>(pin);
  }
  void power_on() { waiting_ = 0; }
  void archive(Archive& archive) { archive(waiting_); }

 private:
  std::uint32_t waiting_ = 0;  // by pin
};

}  // namespace prewire::chips
