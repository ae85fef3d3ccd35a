// A session: steps, forwards and back.
#include "session.h"

#include <fmt/format.h>

#include <algorithm>

#include "budget.h"

namespace prewire::front::desk {

namespace {

// Of the past, searched at a time: some milliseconds.
constexpr Cycle kStretch = 250'000;

}  // namespace

void Session::step(Step step) {
  if (!machine_) return;
  if (busy()) {
    stop();
    return;
  }
  why_.clear();
  by_hand_ = true;
  const Cycle now = leave_ = machine_->now();
  switch (step) {
    case Step::cycle: took_part(run_leg(now + 1, true)); break;
    case Step::instruction: {
      bus_.start(*machine_);
      machine_->watch(bus_);
      took_part(step_on());
      machine_->unwatch(bus_);
      break;
    }
    case Step::over: {
      const std::uint16_t pc = machine_->cpu().pc();
      const Outline here = outline(*machine_, pc);
      if (here.flow != Flow::call && here.flow != Flow::software_interrupt) return this->step(Step::instruction);
      goal_ = Goal::over;
      goal_pc_ = static_cast<std::uint16_t>(pc + here.bytes);
      goal_stack_ = stack_pointer();
      break;
    }
    case Step::out:
      goal_ = Goal::out;
      goal_stack_ = stack_pointer();
      break;
    case Step::cycle_back: go_to(now - 1); break;
    case Step::instruction_back:
      if (history_->back_instruction()) go_to(machine_->now());
      break;
    case Step::run_back:
      if (now <= history_->begin()) break;
      goal_ = Goal::back;
      back_until_ = now;
      break;
  }
  if (machine_->now() >= next_glance_) glance();
}

/// One instruction, from a stop point, too.
Stop Session::step_on() {
  const Cycle before = machine_->now();
  Stop stop = machine_->step_instruction();
  if (stop.reason == StopReason::breakpoint && machine_->now() == before && before == leave_) {
    stop = machine_->step_instruction();
  }
  // The end of the instruction may be the stop point: it stands there anyway.
  return stop;
}

/// Steps on until the end of a call or of a subroutine.
void Session::pursue(double budget) {
  const Budget left(budget);
  arm(true);
  while (goal_ != Goal::none) {
    const bool in_subroutine = goal_ == Goal::out && stack_pointer() >= goal_stack_;
    const Flow flow = in_subroutine ? outline(*machine_, machine_->cpu().pc()).flow : Flow::plain;
    const Stop stop = step_on();
    if (machine_->now() >= next_glance_) glance();
    if (stop.reason != StopReason::limit) {
      took_part(stop);
      break;
    }
    // A stack that has grown smaller has lost the return address.
    if (goal_ == Goal::over && stop.pc == goal_pc_ && stack_pointer() >= goal_stack_) goal_ = Goal::none;
    const bool returned = flow == Flow::ret || flow == Flow::interrupt_return;
    if (returned && stack_pointer() > goal_stack_) goal_ = Goal::none;
    if (left.used_up()) break;
  }
  disarm();
  if (goal_ == Goal::none) {
    refill_bus();
    eye_->look();
  }
}

/// Searches one stretch of the past after the other, latest first, for the last stop.
void Session::look_back(double budget) {
  const Budget left(budget);
  while (goal_ == Goal::back) {
    const Cycle until = back_until_;
    const Cycle from = std::max(history_->begin(), until - kStretch);
    Cycle met = -1;
    std::string what;
    history_->go_to(from);
    // What happens at the end of a stretch belongs to it, but not what happens where the search begins. A stop point
    // is met as the next cycle begins.
    const Cycle end = until == leave_ ? until : until + 1;
    arm(false, end);
    while (machine_->now() < end) {
      const Cycle before = machine_->now();
      const Stop stop = machine_->run_until(end);
      if (stop.reason == StopReason::breakpoint && stop.cycle < end) {
        met = stop.cycle;
        what = fmt::format("Stop point at ${:04X}", stop.pc);
      } else if (machine_->now() == before) {
        break;
      }
      if (armed_ && watch_.met() != nullptr && watch_.met_at() > met) {
        met = watch_.met_at();
        what = "Stop point: " + watch_.met()->text;
      }
    }
    disarm();
    back_until_ = from;
    if (met >= 0 || from <= history_->begin()) {
      goal_ = Goal::none;
      go_to(std::max(history_->begin(), met));
      why_ = met >= 0 ? what : "The beginning";
      by_hand_ = false;
    }
    if (left.used_up()) break;
  }
}

std::uint16_t Session::stack_pointer() const {
  const auto registers = machine_->cpu().registers();
  for (std::size_t i = 0; i < registers.size(); ++i) {
    if (registers[i].name == "S") return machine_->cpu().get(i);
  }
  return 0;
}

}  // namespace prewire::front::desk
