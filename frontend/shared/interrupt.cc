#include "interrupt.h"

#include <csignal>

namespace prewire::front {

namespace {

volatile std::sig_atomic_t flag = 0;

void raise_flag(int) { flag = 1; }

void listen(unsigned flags) {
  struct sigaction before {};
  // A shell starts background jobs with the signal ignored; they shall not be interrupted.
  if (sigaction(SIGINT, nullptr, &before) == 0 && before.sa_handler == SIG_IGN) return;
  struct sigaction action {};
  action.sa_handler = raise_flag;
  action.sa_flags = static_cast<int>(flags);
  sigaction(SIGINT, &action, nullptr);
}

}  // namespace

void catch_interrupt() { listen(SA_RESETHAND | SA_RESTART); }
void catch_interrupts() { listen(SA_RESTART); }
void forget_interrupt() { flag = 0; }

bool interrupted() { return flag != 0; }

}  // namespace prewire::front
