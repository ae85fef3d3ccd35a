// A machine on the desk: opened, run in small slices, stopped, stepped both ways, changed.
#pragma once

#include <filesystem>
#include <limits>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "bus_log.h"
#include "check_file.h"
#include "deeds.h"
#include "files.h"
#include "pace.h"
#include "parts.h"
#include "prewire/description.h"
#include "prewire/eye.h"
#include "prewire/history.h"
#include "prewire/machine.h"
#include "prewire/stimulus.h"
#include "recording.h"
#include "shared/ending.h"
#include "stop_point.h"

namespace prewire::front::desk {

enum class Step : std::uint8_t { cycle, instruction, over, out, cycle_back, instruction_back, run_back };

class Session {
 public:
  /// The registry must outlive the session.
  explicit Session(const Registry& registry, LoadOptions options = {})
      : registry_(registry), options_(std::move(options)) {
    options_.stop = [] { return ending(); };
  }
  ~Session();
  Session(const Session&) = delete;
  Session& operator=(const Session&) = delete;

  // Opening ---------------------------------------------------------------------------------------------------------
  /// A machine file, or a check file: then the machine of the check of that name, or of the first one, with all that
  /// the check does to it yet to come. Never throws: what is wrong with the file is in `faults`, and there is no
  /// machine then.
  void open(const std::filesystem::path& file, const std::string& check = {});
  /// Opens the same file again. Positions of switches and knobs, stop points and the run go on.
  void reload();
  /// Reloads if a file has changed. Call it now and then.
  bool reload_if_changed();
  const std::filesystem::path& file() const { return file_; }
  const std::vector<Fault>& faults() const { return faults_; }
  std::size_t faults_omitted() const { return omitted_; }

  /// Null while there is none.
  const Machine* machine() const { return machine_.get(); }
  const Parts& parts() const { return parts_; }
  const Eye& eye() const { return *eye_; }
  const BusLog& bus() const { return bus_; }

  // Running -----------------------------------------------------------------------------------------------------------
  void run();
  void stop(std::string why = {});
  /// Runs on its own: at its pace, or to the end of a step that takes long.
  bool running() const { return running_; }
  bool busy() const { return running_ || goal_ != Goal::none; }
  /// Why it stands, as a person reads it.
  const std::string& why() const { return why_; }
  void step(Step step);
  /// Lets `seconds` on the wall pass, of which it takes at most `budget` for itself.
  void advance(double seconds, double budget = 0.012);
  /// To the cycle, without stops, for pictures and tests.
  void run_to(Cycle cycle);
  /// Back, or to where it has been before. Nothing happens for a moment that is not known.
  void go_to(Cycle cycle);
  Pace& pace() { return pace_; }
  const Pace& pace() const { return pace_; }
  /// How many times as fast as the real machine it has been lately; 0 while it stands.
  double factor() const { return factor_; }
  /// Lamps are to be shown as they are, not as an eye would see them: it goes step by step.
  bool by_hand() const { return by_hand_; }
  void power_cycle();
  void press_reset();

  // Hands -------------------------------------------------------------------------------------------------------------
  /// False, and `why` tells it, if the part does not take the value.
  bool set(const std::string& part, const std::string& value);
  bool poke(std::uint16_t address, std::uint8_t value);
  bool change_register(std::size_t index, std::uint16_t value);
  /// What the part was last set to; what it was made with.
  bool closed(const ContactPart& part) const {
    return machine_ ? deeds_.closed(*machine_, part) : part.closed_at_first;
  }
  std::int64_t position(const KnobPart& part) const {
    return machine_ ? deeds_.position(*machine_, part) : part.at_first;
  }

  /// From power-on, beside those of a check; throws `InputError` for what the machine does not take.
  void play(std::vector<Stimulus> stimuli);
  /// All that was done since power-on, to be written down as a lab check in the folder of the file. There must be a
  /// machine. Throws `InputError` if a check cannot do it.
  std::unique_ptr<Recording> record() const;

  // Stops -----------------------------------------------------------------------------------------------------------
  const std::vector<StopPoint>& stop_points() const { return points_; }
  void add_stop_point(StopPoint point);
  void remove_stop_point(std::size_t index);
  /// At an address that is about to be executed.
  void toggle_stop_point(std::uint16_t address);
  bool stops_at(std::uint16_t address) const;

  /// Nets beside the bus, by name.
  void choose_probes(std::vector<std::string> nets);
  void toggle_probe(const std::string& net);

 private:
  enum class Goal : std::uint8_t { none, over, out, back };
  // The bus strip and the eye want to see this much of the past.
  static constexpr Cycle kTail = static_cast<Cycle>(BusLog::kKept);

  void take_in(std::unique_ptr<Machine> machine);
  std::unique_ptr<Machine> set_up();
  std::vector<Fault> schedule_inputs();
  std::vector<Fault> start_again(const std::map<std::string, std::string>& settings);
  void keep_settings(const std::map<std::string, std::string>& settings);
  bool act(Deed deed);
  /// After everything while there is no machine.
  Cycle present() const { return machine_ ? machine_->now() : std::numeric_limits<Cycle>::max(); }
  Stop run_leg(Cycle target, bool stoppable, double budget = 1e9);
  Stop step_on();
  void took_part(const Stop& stop);
  void refill_bus();
  void glance();
  void pursue(double budget);
  void look_back(double budget);
  void arm(bool ends_run, Cycle end = 0);
  void disarm();
  std::uint16_t stack_pointer() const;

  const Registry& registry_;
  LoadOptions options_;
  std::filesystem::path file_, machine_file_;
  std::string check_name_;
  std::optional<PlayedCheck> played_;
  std::optional<Description> description_;
  std::vector<Fault> faults_;
  std::size_t omitted_ = 0;
  Files files_;

  std::unique_ptr<Machine> machine_;
  std::unique_ptr<Eye> eye_;
  Cycle next_glance_ = 0;
  Parts parts_;
  std::optional<History> history_;
  Deeds deeds_;
  BusLog bus_;
  std::vector<Stimulus> stimuli_;

  bool running_ = false;
  bool by_hand_ = true;
  std::string why_;
  Pace pace_;
  double factor_ = 0, measured_seconds_ = 0;
  Cycle measured_cycles_ = 0;

  Cycle leave_ = -1;  ///< where it stands as it starts: a stop point there has been seen
  Goal goal_ = Goal::none;
  std::uint16_t goal_stack_ = 0, goal_pc_ = 0;
  Cycle back_until_ = 0;  // what is younger has been searched

  std::vector<StopPoint> points_;
  StopWatch watch_;
  bool armed_ = false;
};

}  // namespace prewire::front::desk
