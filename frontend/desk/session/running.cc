// A session: how its machine runs on, and goes to a moment.
#include "session.h"

#include <fmt/format.h>

#include <algorithm>
#include <limits>

#include "budget.h"

namespace prewire::front::desk {

void Session::run() {
  if (!machine_ || running_) return;
  goal_ = Goal::none;
  running_ = true;
  leave_ = machine_->now();
  why_.clear();
  pace_.forget();
  measured_seconds_ = 0;
  measured_cycles_ = 0;
  factor_ = 0;
}

void Session::stop(std::string why) {
  if (!busy()) return;
  const bool searching = goal_ == Goal::back;
  running_ = false;
  goal_ = Goal::none;
  factor_ = 0;
  why_ = std::move(why);
  if (!machine_) return;
  if (searching) {
    go_to(leave_);  // where it was before the search
  } else {
    refill_bus();
  }
}

void Session::advance(double seconds, double budget) {
  if (!machine_) return;
  if (goal_ == Goal::back) return look_back(budget);
  if (goal_ != Goal::none) return pursue(budget);
  if (!running_) return;
  const Cycle before = machine_->now();
  arm(true);
  by_hand_ = pace_.slow(machine_->timebase());
  // After a pause of the whole program nothing has to be made up for.
  const Cycle due = pace_.unlimited() ? std::numeric_limits<Cycle>::max() / 2
                                      : before + pace_.due(std::min(seconds, 0.1), machine_->timebase());
  const Stop stop = run_leg(due, true, budget);
  took_part(stop);
  disarm();
  if (!running_) {
    refill_bus();
    eye_->look();
  }
  measured_seconds_ += seconds;
  measured_cycles_ += machine_->now() - before;
  if (measured_seconds_ >= 0.25 && running_) {
    factor_ = static_cast<double>(measured_cycles_) * 1000.0 / static_cast<double>(machine_->timebase().millihertz()) /
              measured_seconds_;
    measured_seconds_ = 0;
    measured_cycles_ = 0;
  }
}

void Session::run_to(Cycle cycle) {
  if (!machine_) return;
  const Cycle slice = std::max<Cycle>(1, machine_->timebase().cycles(Eye::kGlance));
  while (machine_->now() < cycle) {
    const Cycle before = machine_->now();
    run_leg(cycle - before < slice + 2 * kTail ? cycle : before + slice, false);
    if (machine_->now() == before) break;
  }
  by_hand_ = false;
  eye_->look();
}

void Session::go_to(Cycle cycle) {
  if (!machine_ || cycle < history_->begin() || cycle > history_->end()) return;
  // The eye and the bus strip are to see the last moments before it again.
  const Cycle seen = std::max(kTail, machine_->timebase().cycles(Eye::kPersistence));
  history_->go_to(std::max(history_->begin(), cycle - seen));
  bus_.clear();
  eye_->blink();
  next_glance_ = machine_->now();
  run_leg(cycle, false);
  eye_->look();
}

/// Runs to `target`, or until the budget is used up; the last cycles are logged.
Stop Session::run_leg(Cycle target, bool stoppable, double budget) {
  const Budget left(budget);
  Stop stop{StopReason::limit, machine_->now(), machine_->cpu().pc(), false};
  bool logging = false;
  const auto log = [&](bool on) {
    if (logging == on) return;
    if (on) {
      bus_.start(*machine_);
      machine_->watch(bus_);
    } else {
      machine_->unwatch(bus_);
    }
    logging = on;
  };
  int stuck = 0;
  while (machine_->now() < target) {
    const Cycle now = machine_->now();
    if (!logging && left.used_up()) target = std::min(target, now + kTail);
    log(target - now <= kTail);
    Cycle leg = std::min(target, next_glance_);
    if (!logging) leg = std::min(leg, target - kTail);
    leg = std::max(leg, now + 1);
    stop = machine_->run_until(leg);
    if (machine_->now() >= next_glance_) glance();
    if (stop.reason == StopReason::limit) continue;
    // A stop that makes no way may come once: at the stop point where it stands, or in the past, where nobody stops.
    stuck = machine_->now() == now ? stuck + 1 : 0;
    if (stop.reason == StopReason::breakpoint && stop.cycle == leave_ && stuck < 2) continue;
    if (stoppable || stuck > 1) break;
  }
  log(false);
  return stop;
}

/// Sees the last cycles again, for a run that ended before it expected to.
void Session::refill_bus() {
  const Cycle now = machine_->now();
  if (bus_.joins(*machine_)) return;
  const Cycle glance_then = next_glance_;
  disarm();
  history_->go_to(std::max(history_->begin(), now - kTail));
  next_glance_ = now + 1;  // the eye has seen it
  run_leg(now, false);
  next_glance_ = glance_then;
}

void Session::glance() {
  eye_->look();
  next_glance_ = machine_->now() + std::max<Cycle>(1, machine_->timebase().cycles(Eye::kGlance));
}

void Session::took_part(const Stop& stop) {
  switch (stop.reason) {
    case StopReason::limit: return;
    case StopReason::breakpoint: why_ = fmt::format("Stop point at ${:04X}", stop.pc); break;
    case StopReason::undefined_opcode:
      why_ = fmt::format("Undefined opcode ${:02X} at ${:04X}", code_at(*machine_, stop.pc)[0], stop.pc);
      break;
    case StopReason::interrupted: why_ = "Stopped"; break;
    case StopReason::requested:
      why_ = armed_ && watch_.met() != nullptr ? fmt::format("Stop point: {}", watch_.met()->text) : "Stopped";
      break;
  }
  running_ = false;
  goal_ = Goal::none;
  factor_ = 0;
}

}  // namespace prewire::front::desk
