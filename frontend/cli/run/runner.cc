#include "runner.h"

#include <fmt/format.h>

#include <algorithm>
#include <limits>
#include <utility>

#include "shared/ending.h"

namespace prewire::front::cli {

namespace {

constexpr std::size_t kWayHere = 8;

}  // namespace

Runner::Runner(Machine& machine, const RunPlan& plan, Onlooker& onlooker, Report& report, Progress& progress,
               Watching watching)
    : machine_(machine),
      plan_(plan),
      onlooker_(onlooker),
      report_(report),
      progress_(progress),
      files_(watching.files),
      partner_(watching.partner),
      standstill_(machine),
      glance_(std::max<Cycle>(1, machine.timebase().cycles(Eye::kGlance))) {
  for (const Condition& condition : plan.until) {
    if (condition.kind == Condition::Kind::address) machine.set_breakpoint(condition.address, true);
  }
  for (const auto* conditions : {&plan.until, &plan.expect}) {
    for (const Condition& condition : *conditions) minds_standstill_ |= condition.kind == Condition::Kind::stop;
  }
  machine.watch(*this);
}

unsigned Runner::wants() const {
  const bool nets = std::any_of(plan_.until.begin(), plan_.until.end(),
                                [](const Condition& condition) { return condition.kind == Condition::Kind::net; });
  return nets ? kNets : 0U;
}

void Runner::on_net(std::string_view /*net*/, const NetState& /*state*/, Stamp /*when*/) {
  for (const Condition& condition : plan_.until) {
    // A net has many names, so look at each that somebody waits for.
    if (net_met_ != nullptr || condition.kind != Condition::Kind::net || !holds(condition, sighting())) continue;
    net_met_ = &condition;
    machine_.request_stop();
  }
}

Outcome Runner::run() {
  started_ = std::chrono::steady_clock::now();
  report_.begin(machine_);
  next_look_ = glance_;
  machine_.heed(&ending_flag());
  for (const Condition& condition : plan_.until) {
    if (!over_ && condition.kind == Condition::Kind::net && holds(condition, sighting())) {
      finish(Ending::condition, fmt::format("the condition {} is met", condition.text), Exit::ok);
    }
  }
  while (!over_) go_on();
  machine_.heed(nullptr);  // what is still to be looked up about the past is
  machine_.conclude();
  if (partner_ != nullptr) partner_->conclude();
  if (plan_.wall_time) outcome_.wall_seconds = wall().count();
  onlooker_.look();
  tell(onlooker_.take_rest());
  judge();
  outcome_.files = files_.written(outcome_.exit != Exit::ok);
  if (plan_.answers) outcome_.answers = plan_.answers();
  progress_.clear();
  report_.end(machine_, onlooker_, outcome_);
  return std::move(outcome_);
}

void Runner::go_on() {
  const Cycle end = plan_.end.value_or(std::numeric_limits<Cycle>::max());
  const Stop stop = machine_.run_until(std::min({next_look_, standstill_.look_again(), end, plan_.limits.cycles}));
  const bool looked = machine_.now() >= next_look_;
  if (looked) {
    onlooker_.look();
    next_look_ = machine_.now() + glance_;
  }
  if (minds_standstill_ && (looked || machine_.now() >= standstill_.look_again())) standstill_.look();
  tell(onlooker_.take());
  take(stop);
  if (!over_ && machine_.now() >= end) {
    outcome_.waited = !plan_.until.empty();
    finish(Ending::time_over, outcome_.waited ? "the time is over and no --until condition is met" : "the time is over",
           outcome_.waited ? Exit::expectation : Exit::ok);
  }
  if (!over_) mind_limits();
}

/// "$02", or all bytes that show that nothing is defined: "$10 $1F".
std::string Runner::opcode_at(std::uint16_t pc) const {
  std::string text;
  const int bytes = std::max(1, disassemble(machine_, pc).undefined_bytes);
  const auto code = code_at(machine_, pc);
  for (int i = 0; i < bytes; ++i) {
    text += fmt::format("{}${:02X}", i == 0 ? "" : " ", code[static_cast<std::size_t>(i)]);
  }
  return text;
}

/// What ended the step, or else what is to be seen after it.
void Runner::take(const Stop& stop) {
  const auto met = [&](const Condition& condition) {
    finish(Ending::condition, fmt::format("the condition {} is met", condition.text), Exit::ok);
  };
  if (stop.reason == StopReason::undefined_opcode) {
    finish(Ending::undefined_opcode, fmt::format("undefined opcode {} at ${:04X}", opcode_at(stop.pc), stop.pc),
           Exit::fault);
    outcome_.way_here = machine_.way_here(kWayHere);
    return;
  }
  if (net_met_ != nullptr) return met(*net_met_);
  for (const Condition& condition : plan_.until) {
    if (condition.kind == Condition::Kind::address) {
      if (stop.reason == StopReason::breakpoint && stop.pc == condition.address) return met(condition);
    } else if (condition.kind != Condition::Kind::net && holds(condition, sighting())) {
      return met(condition);
    }
  }
}

void Runner::mind_limits() {
  const Limits& limits = plan_.limits;
  if (interrupted()) {
    finish(Ending::interrupted, "interrupted", Exit::interrupted);
  } else if (machine_.now() >= limits.cycles) {
    finish(Ending::cycle_limit,
           fmt::format("the limit of {} is reached (--max-cycles)", counted(limits.cycles, "cycle")), Exit::limit);
  } else if (wall_over()) {
    finish(Ending::wall_limit, wall_text(limits.wall), Exit::limit);
  } else if (report_.bytes() + files_.bytes() >= limits.output) {
    finish(Ending::output_limit,
           fmt::format("the limit of {} of output is reached (--max-output)", counted(limits.output, "byte")),
           Exit::limit);
  }
  if (!over_) progress_.show(machine_, wall());
}

void Runner::finish(Ending ending, std::string why, Exit exit) {
  over_ = true;
  outcome_.ending = ending;
  outcome_.why = std::move(why);
  outcome_.exit = exit;
}

void Runner::tell(const std::vector<Event>& events) {
  files_.check();
  for (const Event& event : events) {
    progress_.clear();
    report_.event(machine_, event);
  }
}

/// Expectations and findings, and what they mean for the exit status.
void Runner::judge() {
  bool met_all = true;
  for (const Condition& condition : plan_.expect) {
    const bool met = holds(condition, sighting());
    met_all = met_all && met;
    outcome_.expectations.push_back({condition.text, met, met ? "" : found_instead(condition, sighting())});
  }
  const auto& findings = machine_.findings();
  const bool faulty = std::any_of(findings.begin(), findings.end(),
                                  [](const Finding& finding) { return finding.weight == Weight::stop; });
  // The graver trouble counts: a machine that went wrong, then a run that did not get to its end.
  if (outcome_.exit == Exit::ok && !met_all) outcome_.exit = Exit::expectation;
  if (faulty && outcome_.exit != Exit::interrupted) outcome_.exit = Exit::fault;
}

}  // namespace prewire::front::cli
