#include "interrupt.h"

#include <csignal>

namespace prewire::cli {

namespace {

volatile std::sig_atomic_t flag = 0;

void raise_flag(int) { flag = 1; }

}  // namespace

void catch_interrupt() {
  struct sigaction before {};
  // A shell starts background jobs with the signal ignored; they shall not be interrupted.
  if (sigaction(SIGINT, nullptr, &before) == 0 && before.sa_handler == SIG_IGN) return;
  struct sigaction action {};
  action.sa_handler = raise_flag;
  action.sa_flags = static_cast<int>(SA_RESETHAND) | SA_RESTART;
  sigaction(SIGINT, &action, nullptr);
}

bool interrupted() { return flag != 0; }

}  // namespace prewire::cli
