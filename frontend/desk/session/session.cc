#include "session.h"

#include "prewire/assembler.h"
#include "shared/ending.h"
#include "shared/nets.h"

namespace prewire::front::desk {

Session::~Session() {
  if (machine_) {
    disarm();
    machine_->unwatch(bus_);
  }
}

void Session::open(const std::filesystem::path& file, const std::string& check) {
  if (file != file_ || check != check_name_) deeds_.forget();
  file_ = machine_file_ = file;
  check_name_ = check;
  played_.reset();
  description_.reset();
  points_.clear();
  bus_.choose({});
  stimuli_.clear();
  deeds_.plan({});
  running_ = false;
  std::unique_ptr<Machine> machine;
  try {
    machine = set_up();
    faults_.clear();
    omitted_ = 0;
  } catch (const InputError& error) {
    faults_ = error.faults();
    omitted_ = error.omitted();
  } catch (const AssemblyStopped&) {
    faults_.clear();  // the program is ending
    omitted_ = 0;
  }
  take_in(std::move(machine));
  if (!machine_ || !played_) return;
  faults_ = schedule_inputs();
  if (!faults_.empty()) take_in(nullptr);
}

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
    deeds_.forget_after(present());
    history_.reset();
    eye_.reset();
    machine_.reset();
    parts_ = {};
    return;
  }
  history_.reset();
  machine_ = std::move(machine);
  machine_->heed(&ending_flag());
  history_.emplace(*machine_);
  deeds_.forget();
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

void Session::reload() {
  const auto kept = deeds_.settings(present());
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
  keep_settings(kept);
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
  deeds_.plan({});
  std::vector<TimedInput> inputs;
  std::vector<Fault> faults;
  try {
    if (played_) inputs = check_inputs(played_->check, machine_->timebase());
  } catch (const InputError& error) {
    return error.faults();
  }
  for (TimedInput& input : timed(stimuli_, machine_->timebase())) inputs.push_back(std::move(input));
  schedule(*machine_, inputs, 0, faults);
  deeds_.plan(std::move(inputs));
  return faults;
}

void Session::power_cycle() {
  if (!machine_) return;
  start_again(deeds_.settings(present()));
  why_ = running_ ? "" : "Switched off and on";
}

/// Power off and on, with the inputs that are to come, or with switches and knobs as they were.
std::vector<Fault> Session::start_again(const std::map<std::string, std::string>& settings) {
  machine_->power_cycle();
  bus_.clear();
  goal_ = Goal::none;
  eye_->blink();
  next_glance_ = 0;
  deeds_.forget();
  std::vector<Fault> faults = schedule_inputs();
  keep_settings(settings);
  return faults;
}

/// Of parts that nothing else is done to.
void Session::keep_settings(const std::map<std::string, std::string>& settings) {
  for (const auto& [part, value] : settings) {
    if (deeds_.plans(part)) continue;
    try {
      Deed deed{0, Deed::Kind::input, part, value};
      apply(*machine_, deed);
      deeds_.add(std::move(deed));
    } catch (const InputError&) {  // the part has gone, or is another one now
    }
  }
}

std::unique_ptr<Recording> Session::record() const {
  const std::string name = played_ ? played_->check.machine() : file_.filename().string();
  Script script{name,
                machine_->now(),
                machine_->timebase(),
                deeds_.planned(),
                deeds_.until(present()),
                played_ ? played_->text : ""};
  return std::make_unique<Recording>(*description_, script_file(script), "session");
}

}  // namespace prewire::front::desk
