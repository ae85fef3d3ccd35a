#include "progress.h"

#include <fmt/format.h>
#include <unistd.h>

#include <cstdio>


namespace prewire::front::cli {

Progress::Progress(bool wanted) : wanted_(wanted && isatty(STDERR_FILENO) == 1) {}

void Progress::show(const Machine& machine, std::chrono::duration<double> wall) {
  if (!wanted_ || wall < next_) return;
  constexpr std::chrono::duration<double> kEvery{0.25};
  next_ = wall + kEvery;
  const double emulated = machine.timebase().seconds(stamp_of(machine.now()));
  // These control characters are its own.
  fmt::print(stderr, "\r{:.1f} s emulated, {:.0f} times real time; Ctrl-C ends the run\x1b[K", emulated,
             emulated / wall.count());
  shown_ = true;
}

void Progress::clear() {
  if (shown_) std::fputs("\r\x1b[K", stderr);
  shown_ = false;
}

}  // namespace prewire::front::cli
