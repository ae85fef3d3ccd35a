// Tells of inputs that nobody drives for long. Until a program has set up its ports, many of them float for a moment,
// and that is no mistake.
#pragma once

#include "unsure_input.h"

namespace prewire::chips {

inline constexpr Picoseconds kPatience = 10'000'000'000;  // 10 ms: programs set up their ports sooner
/// Timer tags from here on belong to the watch; the pin is added.
inline constexpr unsigned kWatchTag = 0x100;

/// To be called at the start and at each edge of the input, which is at `level` now. An unwired pin is the business of
/// the check before the run.
inline void watch_input(Socket& socket, int pin, Level level) {
  const unsigned tag = kWatchTag + static_cast<unsigned>(pin);
  if (is_sure(level) || !socket.wired(pin)) return socket.cancel(tag);
  socket.timer(tag, socket.now() + socket.timebase().stamps(kPatience));
}

/// The pin whose patience is over, or -1 if the timer is another one.
inline int watched_pin(const Socket& socket, unsigned tag) {
  return tag < kWatchTag || tag - kWatchTag >= socket.pins() ? -1 : static_cast<int>(tag - kWatchTag);
}

/// Patience is over: a TTL input that nobody drives reads as one.
inline void report_watched(Socket& socket, unsigned tag) {
  const int pin = watched_pin(socket, tag);
  if (pin >= 0) report_unsure(socket, pin, true);
}

}  // namespace prewire::chips
