#include "session.h"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <iterator>
#include <limits>

#include "shared/nets.h"

namespace prewire::front::desk {

namespace {

// The bus strip and the eye want to see this much of the past.
constexpr Cycle kTail = static_cast<Cycle>(BusLog::kKept);

// Of the past, searched at a time: some milliseconds.
constexpr Cycle kStretch = 250'000;

using WallClock = std::chrono::steady_clock;

double since(WallClock::time_point start) { return std::chrono::duration<double>(WallClock::now() - start).count(); }

bool watched(const std::vector<StopPoint>& points) {
  return std::any_of(points.begin(), points.end(), [](const auto& p) { return p.kind != StopPoint::Kind::execute; });
}

}  // namespace

Session::~Session() {
  if (machine_) {
    disarm();
    machine_->unwatch(bus_);
  }
}

// ---------------------------------------------------------------------------------------------------------------------
// Opening

std::unique_ptr<Machine> Session::set_up() {
  if (check_name_.empty() && !is_check_file(file_)) {
    description_ = Description::from_file(machine_file_, registry_, options_);
    return std::make_unique<Machine>(description_->build());
  }
  played_ = read_played_check(file_, check_name_, options_.root);
  machine_file_ = played_->machine_file;
  description_ = Description::from_file(machine_file_, registry_, options_);
  return std::make_unique<Machine>(check_machine(played_->check, *description_));
}

void Session::open(const std::filesystem::path& file, const std::string& check) {
  if (file != file_ || check != check_name_) deeds_.clear();
  file_ = machine_file_ = file;
  check_name_ = check;
  played_.reset();
  description_.reset();
  points_.clear();
  bus_.choose({});
  stimuli_.clear();
  inputs_.clear();
  running_ = false;
  std::unique_ptr<Machine> machine;
  try {
    machine = set_up();
    faults_.clear();
    omitted_ = 0;
  } catch (const InputError& error) {
    faults_ = error.faults();
    omitted_ = error.omitted();
  }
  take_in(std::move(machine));
  if (!machine_ || !played_) return;
  faults_ = schedule_inputs();
  if (!faults_.empty()) take_in(nullptr);
}

void Session::reload() {
  const auto kept = positions();
  const std::vector<StopPoint> points = points_;
  const std::vector<std::string> probes = bus_.probes();
  const std::vector<Stimulus> stimuli = stimuli_;
  const bool was_running = running_;
  open(file_, check_name_);
  stimuli_ = stimuli;
  if (!machine_) {
    // Everything is there again when the file is mended.
    points_ = points;
    running_ = was_running;
    bus_.choose(probes);
    return;
  }
  // Parts that the changed file does not have any more are left out.
  if (!stimuli_.empty()) start_again({});
  keep_positions(kept);
  for (const StopPoint& point : points) {
    try {
      add_stop_point(parse_stop_point(*machine_, point.text));
    } catch (const InputError&) {  // its label or net has gone
    }
  }
  std::vector<std::string> nets;
  for (const std::string& probe : probes) {
    if (find_net(*machine_, probe)) nets.push_back(probe);
  }
  if (!nets.empty()) choose_probes(nets);
  why_ = "Read again";
  if (was_running) run();
}

bool Session::reload_if_changed() {
  if (file_.empty() || !files_.changed()) return false;
  reload();
  return true;
}

void Session::take_in(std::unique_ptr<Machine> machine) {
  if (machine_) {
    disarm();
    machine_->unwatch(bus_);
  }
  files_.note(file_, machine_file_, machine ? machine.get() : nullptr, faults_);
  bus_.clear();
  goal_ = Goal::none;
  factor_ = 0;
  if (!machine) {
    // Positions of switches and knobs are still wanted: the deeds stay.
    deeds_ = done();
    history_.reset();
    eye_.reset();
    machine_.reset();
    parts_ = {};
    return;
  }
  history_.reset();
  machine_ = std::move(machine);
  history_.emplace(*machine_);
  deeds_.clear();
  parts_ = parts_of(*machine_);
  eye_ = std::make_unique<Eye>(*machine_);
  next_glance_ = 0;
  by_hand_ = true;
  why_.clear();
  // Labelled nets are those that a person cares about.
  std::vector<std::string> nets;
  for (const NetView& net : machine_->nets()) {
    if (!net.rail && net.name.find('.') == std::string_view::npos && nets.size() < 1) nets.emplace_back(net.name);
  }
  bus_.choose(nets);
}

void Session::play(std::vector<Stimulus> stimuli) {
  if (!machine_) return;
  stimuli_ = std::move(stimuli);
  std::vector<Fault> faults = start_again({});
  if (faults.empty()) return;
  stimuli_.clear();
  start_again({});
  throw InputError(std::move(faults));
}

/// Gives what is to come to a machine at its start.
std::vector<Fault> Session::schedule_inputs() {
  inputs_.clear();
  std::vector<Fault> faults;
  try {
    if (played_) inputs_ = check_inputs(played_->check, machine_->timebase());
  } catch (const InputError& error) {
    return error.faults();
  }
  for (TimedInput& input : timed(stimuli_, machine_->timebase())) inputs_.push_back(std::move(input));
  schedule(*machine_, inputs_, 0, faults);
  return faults;
}

std::unique_ptr<Recording> Session::record() const {
  const std::string name = played_ ? played_->check.machine() : file_.filename().string();
  Script script{name, machine_->now(), machine_->timebase(), inputs_, done(), played_ ? played_->text : ""};
  return std::make_unique<Recording>(*description_, script_file(script), "session");
}

std::map<std::string, std::string> Session::positions() const {
  std::map<std::string, std::string> last;
  for (const Deed& deed : done()) {
    if (deed.kind == Deed::Kind::input && deed.part != "RESET") last[deed.part] = deed.value;
  }
  return last;
}

/// Of parts that nothing else is done to.
void Session::keep_positions(const std::map<std::string, std::string>& positions) {
  for (const auto& [part, value] : positions) {
    const auto moves = [&part = part](const TimedInput& input) { return input.part == part; };
    if (std::any_of(inputs_.begin(), inputs_.end(), moves)) continue;
    try {
      Deed deed{0, Deed::Kind::input, part, value};
      apply(*machine_, deed);
      deeds_.push_back(std::move(deed));
    } catch (const InputError&) {  // the part has gone, or is another one now
    }
  }
}

// ---------------------------------------------------------------------------------------------------------------------
// Running

void Session::arm(bool ends_run, Cycle end) {
  disarm();
  if (!watched(points_)) return;
  watch_.arm(*machine_, points_, ends_run, end);
  machine_->watch(watch_);
  armed_ = true;
}

void Session::disarm() {
  if (armed_) machine_->unwatch(watch_);
  armed_ = false;
}

void Session::glance() {
  eye_->look();
  next_glance_ = machine_->now() + std::max<Cycle>(1, machine_->timebase().cycles(Eye::kGlance));
}

/// Runs to `target`, or until the budget is used up; the last cycles are logged.
Stop Session::run_leg(Cycle target, bool stoppable, double budget) {
  const auto start = WallClock::now();
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
    if (!logging && since(start) > budget) target = std::min(target, now + kTail);
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

void Session::took_part(const Stop& stop) {
  switch (stop.reason) {
    case StopReason::limit: return;
    case StopReason::breakpoint: why_ = fmt::format("Stop point at ${:04X}", stop.pc); break;
    case StopReason::undefined_opcode:
      why_ = fmt::format("Undefined opcode ${:02X} at ${:04X}", machine_->peek(stop.pc), stop.pc);
      break;
    case StopReason::requested:
      why_ = armed_ && watch_.met() != nullptr ? fmt::format("Stop point: {}", watch_.met()->text) : "Stopped";
      break;
  }
  running_ = false;
  goal_ = Goal::none;
  factor_ = 0;
}

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

bool Session::by_hand() const { return by_hand_; }

std::uint16_t Session::stack_pointer() const {
  const auto registers = machine_->cpu().registers();
  for (std::size_t i = 0; i < registers.size(); ++i) {
    if (registers[i].name == "S") return machine_->cpu().get(i);
  }
  return 0;
}

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
  const auto start = WallClock::now();
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
    if (since(start) > budget) break;
  }
  disarm();
  if (goal_ == Goal::none) {
    refill_bus();
    eye_->look();
  }
}

/// Searches one stretch of the past after the other, latest first, for the last stop.
void Session::look_back(double budget) {
  const auto start = WallClock::now();
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
    if (since(start) > budget) break;
  }
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

void Session::power_cycle() {
  if (!machine_) return;
  start_again(positions());
  why_ = running_ ? "" : "Switched off and on";
}

/// Power off and on, with the inputs that are to come, or with switches and knobs as they were.
std::vector<Fault> Session::start_again(const std::map<std::string, std::string>& positions) {
  machine_->power_cycle();
  bus_.clear();
  goal_ = Goal::none;
  eye_->blink();
  next_glance_ = 0;
  deeds_.clear();
  std::vector<Fault> faults = schedule_inputs();
  keep_positions(positions);
  return faults;
}

void Session::press_reset() { act({0, Deed::Kind::reset, {}, {}}); }

// ---------------------------------------------------------------------------------------------------------------------
// Hands

/// All of them while there is no machine.
bool Session::is_done(const Deed& deed) const { return !machine_ || deed.when <= machine_->now(); }

std::vector<Deed> Session::done() const {
  std::vector<Deed> done;
  std::copy_if(deeds_.begin(), deeds_.end(), std::back_inserter(done), [&](const Deed& deed) { return is_done(deed); });
  return done;
}

bool Session::act(Deed deed) {
  if (!machine_) return false;
  if (goal_ == Goal::back) stop();
  deed.when = machine_->now();
  deed.moment = machine_->moment();
  try {
    if (!apply(*machine_, deed)) return false;
  } catch (const InputError& error) {
    const Fault& fault = error.faults().front();
    why_ = fmt::format("{}: expected {}", fault.what, fault.expected);
    return false;
  }
  std::erase_if(deeds_, [&](const Deed& later) { return later.when > deed.when; });
  deeds_.push_back(std::move(deed));
  return true;
}

bool Session::set(const std::string& part, const std::string& value) {
  return act({0, Deed::Kind::input, part, value});
}

bool Session::poke(std::uint16_t address, std::uint8_t value) {
  return act({0, Deed::Kind::poke, {}, {}, address, value});
}

bool Session::change_register(std::size_t index, std::uint16_t value) {
  return act({0, Deed::Kind::change_register, {}, {}, static_cast<std::uint16_t>(index), value});
}

bool Session::closed(const ContactPart& part) const {
  bool closed = part.closed_at_first;
  if (!machine_) return closed;
  Stamp at = -1;
  for (const TimedInput& input : inputs_) {
    if (input.part == part.name && input.when <= machine_->moment() && input.when >= at) {
      closed = input.value == part.closed;
      at = input.when;
    }
  }
  for (const Deed& deed : deeds_) {
    if (deed.kind == Deed::Kind::input && deed.part == part.name && is_done(deed) && deed.moment >= at) {
      closed = deed.value == part.closed;
    }
  }
  return closed;
}

std::int64_t Session::position(const KnobPart& part) const {
  std::int64_t position = part.at_first;
  if (!machine_) return position;
  Stamp at = -1;
  const auto take = [&](const std::string& value, Stamp when) {
    if (when < at) return;
    at = when;
    if (const auto own = parse_quantity(value, part.unit)) {
      position = *own;
    } else if (const auto microvolts = parse_quantity(value, Unit::microvolts)) {
      // A voltage between the ends: near enough for a drawing, since most are between GND and +5V.
      position = std::clamp<std::int64_t>(*microvolts * part.most / kLogicHigh, part.least, part.most);
    }
  };
  for (const TimedInput& input : inputs_) {
    if (input.part == part.name && input.when <= machine_->moment()) take(input.value, input.when);
  }
  for (const Deed& deed : deeds_) {
    if (deed.kind == Deed::Kind::input && deed.part == part.name && is_done(deed)) take(deed.value, deed.moment);
  }
  return position;
}

// ---------------------------------------------------------------------------------------------------------------------
// Stops

void Session::add_stop_point(StopPoint point) {
  if (!machine_) return;
  if (point.kind == StopPoint::Kind::execute) machine_->set_breakpoint(point.first, true);
  points_.push_back(std::move(point));
}

void Session::remove_stop_point(std::size_t index) {
  if (!machine_ || index >= points_.size()) return;
  const StopPoint point = points_[index];
  points_.erase(points_.begin() + static_cast<std::ptrdiff_t>(index));
  if (point.kind == StopPoint::Kind::execute && !stops_at(point.first)) machine_->set_breakpoint(point.first, false);
}

void Session::toggle_stop_point(std::uint16_t address) {
  if (!machine_) return;
  for (std::size_t i = 0; i < points_.size(); ++i) {
    if (points_[i].kind == StopPoint::Kind::execute && points_[i].first == address) return remove_stop_point(i);
  }
  StopPoint point;
  point.first = point.last = address;
  const std::string_view label = machine_->label_at(address);
  point.text = label.empty() ? fmt::format("${:04X}", address) : std::string(label);
  add_stop_point(std::move(point));
}

bool Session::stops_at(std::uint16_t address) const {
  return std::any_of(points_.begin(), points_.end(), [&](const StopPoint& point) {
    return point.kind == StopPoint::Kind::execute && point.first == address;
  });
}

void Session::choose_probes(std::vector<std::string> nets) {
  nets.resize(std::min(nets.size(), BusLog::kProbes));
  bus_.choose(std::move(nets));
  bus_.clear();
  if (machine_) refill_bus();
}

void Session::toggle_probe(const std::string& net) {
  std::vector<std::string> nets = bus_.probes();
  const auto at = std::find(nets.begin(), nets.end(), net);
  if (at != nets.end()) {
    nets.erase(at);
  } else {
    if (nets.size() == BusLog::kProbes) nets.erase(nets.begin());
    nets.push_back(net);
  }
  choose_probes(std::move(nets));
}

}  // namespace prewire::front::desk
