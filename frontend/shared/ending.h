// What ends a program from outside: Ctrl-C, the signals that mean the same, and the limit of real time.
#pragma once

#include <csignal>
#include <string>

#include "prewire/clock.h"
#include "prewire/stop_flag.h"

namespace prewire::front {

/// From now on SIGINT (Ctrl-C), SIGTERM, SIGHUP and SIGQUIT end the program, whatever it is doing: with a message, the
/// status `Exit::interrupted`, and no temporary file left. Those that are ignored, by `nohup` for example, stay so.
void catch_signals();

/// Likewise, with `Exit::limit`, when so much real time is over from now on. Zero: no limit any more.
void limit_wall(Picoseconds span);

/// The terminal is going to have other settings, with which nobody must be left: what ends the program at once brings
/// back those of this moment.
void keep_terminal();

/// "the limit of 60 s of real time is reached (--max-wall)".
std::string wall_text(Picoseconds span);

/// While one lives the program is not ended, but told: it looks at `ending` now and then, and puts in order what it
/// has. A second signal ends it all the same.
class MindsEnding {
 public:
  MindsEnding();
  ~MindsEnding();
  MindsEnding(const MindsEnding&) = delete;
  MindsEnding& operator=(const MindsEnding&) = delete;
};

/// Since it was last forgotten. Any thread may ask.
bool interrupted();
bool wall_over();
inline bool ending() { return interrupted() || wall_over(); }
void forget_ending();
/// For machines to heed: up while the program is ending.
const StopFlag& ending_flag();

/// While one lives no signal comes in this thread; none ever comes in threads that are made meanwhile.
class SignalsHeld {
 public:
  SignalsHeld();
  ~SignalsHeld();
  SignalsHeld(const SignalsHeld&) = delete;
  SignalsHeld& operator=(const SignalsHeld&) = delete;

 private:
  sigset_t before_{};
};

/// A file that must not be left behind: for signals to be held while one is made or goes, and in the thread that
/// catches them.
class Temporary {
 public:
  /// The path must stay where it is.
  explicit Temporary(const char* path);
  ~Temporary();
  Temporary(const Temporary&) = delete;
  Temporary& operator=(const Temporary&) = delete;

  const char* const path;
  Temporary* next;
};

}  // namespace prewire::front
