#include "ending.h"

#include <fmt/format.h>
#include <sys/time.h>
#include <termios.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <cstring>
#include <string>
#include <string_view>

#include "exit.h"
#include "prewire/quantity.h"

namespace prewire::front {

namespace {

constexpr std::array kSignals = {SIGINT, SIGTERM, SIGHUP, SIGQUIT};
constexpr Picoseconds kMicrosecond = 1'000'000;

// What a signal handler may look at.
std::atomic<bool> signalled{false}, timed_out{false};
std::atomic<int> minding{0};
StopFlag flag;
Temporary* temporaries = nullptr;  // changed while signals are held
std::array<char, 160> wall_message{};
termios terminal{};  // as the program has found it
bool has_terminal = false;

static_assert(std::atomic<bool>::is_always_lock_free && std::atomic<int>::is_always_lock_free);

/// With nothing but what is safe in a signal handler (POSIX.1-2017, XSH 2.4.3).
[[noreturn]] void end_now(const char* text, Exit exit) {
  for (const Temporary* each = temporaries; each != nullptr; each = each->next) unlink(each->path);
  if (has_terminal) tcsetattr(STDIN_FILENO, TCSANOW, &terminal);
  if (write(STDERR_FILENO, text, std::strlen(text)) < 0) {
    // Nobody hears it.
  }
  _exit(static_cast<int>(exit));
}

void on_signal(int) {
  const bool again = signalled.exchange(true);
  flag.raise();
  if (minding == 0 || again) end_now("prewire: interrupted\n", Exit::interrupted);
}

void on_alarm(int) {
  timed_out = true;
  flag.raise();
  if (minding == 0) end_now(wall_message.data(), Exit::limit);
}

void listen(int signal, void (*handler)(int)) {
  struct sigaction action {};
  action.sa_handler = handler;
  action.sa_flags = SA_RESTART;
  // One at a time: the handlers share what they look at.
  sigaddset(&action.sa_mask, SIGALRM);
  for (const int other : kSignals) sigaddset(&action.sa_mask, other);
  sigaction(signal, &action, nullptr);
}

}  // namespace

void catch_signals() {
  has_terminal = tcgetattr(STDIN_FILENO, &terminal) == 0;
  for (const int signal : kSignals) {
    struct sigaction before {};
    if (sigaction(signal, nullptr, &before) == 0 && before.sa_handler == SIG_IGN) continue;
    listen(signal, on_signal);
  }
}

void limit_wall(Picoseconds span) {
  itimerval timer{};
  setitimer(ITIMER_REAL, &timer, nullptr);
  timed_out = false;
  if (!signalled) flag.lower();
  if (span == 0) return;
  const std::string text = fmt::format("prewire: {}\n", wall_text(span));
  text.copy(wall_message.data(), wall_message.size() - 1);
  listen(SIGALRM, on_alarm);
  sigset_t alarm;
  sigemptyset(&alarm);
  sigaddset(&alarm, SIGALRM);
  sigprocmask(SIG_UNBLOCK, &alarm, nullptr);
  const Picoseconds micros = std::max<Picoseconds>(1, span / kMicrosecond);
  timer.it_value.tv_sec = static_cast<time_t>(micros / 1'000'000);
  timer.it_value.tv_usec = static_cast<suseconds_t>(micros % 1'000'000);
  setitimer(ITIMER_REAL, &timer, nullptr);
}

std::string wall_text(Picoseconds span) {
  return fmt::format("the limit of {} of real time is reached (--max-wall)", format_quantity(span, Unit::picoseconds));
}

MindsEnding::MindsEnding() { ++minding; }
MindsEnding::~MindsEnding() { --minding; }

bool interrupted() { return signalled; }
bool wall_over() { return timed_out; }
void forget_ending() {
  signalled = timed_out = false;
  flag.lower();
}
const StopFlag& ending_flag() { return flag; }

SignalsHeld::SignalsHeld() {
  sigset_t all;
  sigfillset(&all);
  pthread_sigmask(SIG_SETMASK, &all, &before_);
}
SignalsHeld::~SignalsHeld() { pthread_sigmask(SIG_SETMASK, &before_, nullptr); }

Temporary::Temporary(const char* file) : path(file), next(temporaries) { temporaries = this; }

Temporary::~Temporary() {
  Temporary** link = &temporaries;
  while (*link != this) link = &(*link)->next;
  *link = next;
}

}  // namespace prewire::front
