// Lab checks: what happens to a machine, and what is expected of it. docs/lab-checks.md specifies the format.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "prewire/clock.h"
#include "prewire/description.h"
#include "prewire/error.h"
#include "prewire/onlooker.h"
#include "prewire/stop_flag.h"
#include "prewire/watch.h"

namespace prewire {

/// What one check may take before it is ended; a check that reaches a limit fails.
struct CheckLimits {
  Cycle cycles = 100'000'000;
  Picoseconds wall = 10'000'000'000'000;          ///< real time; the caller of `CheckRun` minds it
  std::uint64_t output = std::uint64_t{1} << 16;  ///< bytes of timeline, findings and messages
  const StopFlag* stop = nullptr;                 ///< when it is up, `CheckRun::go_on` comes back at once; may be null
};

/// One check of a file, for one machine. Cheap to copy, immutable.
class LabCheck {
 public:
  struct Plan;  // for the library's own sources
  explicit LabCheck(std::shared_ptr<const Plan> plan) : plan_(std::move(plan)) {}

  /// No other check of the file has the same. With several machines it ends with the machine: "half full [gauge.json]".
  const std::string& name() const;
  /// The name without the machine.
  const std::string& title() const;
  /// What the check counts for in a class; 1 if the file does not say.
  std::int64_t points() const;
  const std::vector<std::string>& tags() const;
  /// The machine file, as the check file names it: relative to its folder.
  const std::string& machine() const;
  Place machine_place() const;
  /// Those of the file, or the usual ones.
  const CheckLimits& limits() const;
  /// Such a check fails.
  bool expects_nothing() const;
  /// The same check with another seed than its own or that of the machine.
  LabCheck with_seed(std::uint64_t seed) const;
  /// Whether the lab partner watches: the file says so, or names one of its rules.
  bool with_the_partner() const;
  /// The same check with the lab partner watching.
  LabCheck with_partner() const;
  const Plan& plan() const { return *plan_; }

 private:
  std::shared_ptr<const Plan> plan_;
};

/// A check of a file, and what is wrong with it: with faults it must not be run.
struct ReadCheck {
  LabCheck check;
  std::vector<Fault> faults;
};

/// Reads the text of a check file; `name` stands for it in messages. Throws `InputError` with all faults.
std::vector<LabCheck> read_checks(std::string_view json, const std::string& name);
/// Reads a file in the same way; one that cannot be read is a fault too.
std::vector<LabCheck> read_check_file(const std::filesystem::path& file);
/// Likewise, but throws only for what is wrong with the file as a whole: a faulty check leaves the others alone. One
/// without a name that can be used is "check 3", if it is the third.
std::vector<ReadCheck> read_each_check(const std::filesystem::path& file);
/// The path of a check's machine, `file` being its check file. Throws `InputError` if it lies outside of `root`, which
/// is the folder of the check file if it is empty.
std::filesystem::path machine_file(const LabCheck& check, const std::filesystem::path& file,
                                   const std::filesystem::path& root = {});
/// The JSON Schema (draft 2020-12) of check files.
std::string check_schema();

/// The machine of a check, switched on, before anything is done to it: with its wiring, seed and bounces. Throws
/// `InputError` for what the machine does not have.
Machine check_machine(const LabCheck& check, const Description& description);
/// What the check does to it, in order of time, as `schedule` takes it; all but switching off and on. Throws
/// `InputError` if it is too much.
std::vector<TimedInput> check_inputs(const LabCheck& check, const Timebase& timebase);
/// Where the check first switches off and on, if it does.
std::optional<Place> power_cycle_of(const LabCheck& check);

/// How one expectation fared.
struct ExpectationResult {
  std::string expected;  ///< in words: `LEVEL shows "125" at 200 ms`
  bool met = false;
  std::string found;  ///< what was measured, or what there was instead; may be empty where it is met
  Stamp when = 0;     ///< quarter cycles since the start of the check at which it was decided
  Place place;        ///< in the check file
  std::optional<std::int64_t> least{}, most{};  ///< of what was measured: quarter cycles, mHz, millionths or times
};

/// One instruction before a failure.
struct CheckStep {
  PastInstruction instruction;  ///< its cycle counts from the start of the check
  std::string source;           ///< "gauge.asm:42", or empty
  std::string line;             ///< text of that line
};

struct CheckResult {
  bool passed = false;
  bool limited = false;                         ///< a limit was reached
  bool undefined_opcode = false;                ///< one has ended the run
  std::string why;                              ///< of a failure, in one phrase
  Cycle cycles = 0;                             ///< run in all
  std::vector<ExpectationResult> expectations;  ///< in the order of the file; those that nobody wrote come last
  std::vector<CheckStep> way;                   ///< to the first failure
  std::vector<Finding> findings;
  std::vector<Fault> remarks;  ///< of the machine, of weight `warn` or `stop`
  std::vector<Onlooker::Event> timeline;
  Timebase timebase;
};

/// Runs one check on a machine of its own.
///
/// The library has no clock on the wall: call `go_on` until it returns false, and between two calls `give_up` when the
/// check has taken too long.
class CheckRun {
 public:
  /// `limits` are what the caller allows; the check's own can only be tighter. Throws `InputError` for whatever the
  /// check names and the machine does not have.
  CheckRun(const LabCheck& check, const Description& description, const CheckLimits& limits);
  CheckRun(CheckRun&&) noexcept;
  CheckRun& operator=(CheckRun&&) noexcept;
  ~CheckRun();

  /// Runs on, at most 5 ms of emulated time, or until the flag of the limits is up: then it may have come no farther,
  /// and goes on when the flag is down again, with the same result. False when the check is over.
  bool go_on();
  /// The tighter ones.
  const CheckLimits& limits() const;
  /// The machine, for observers to look at; it stays where it is.
  const Machine& machine() const;
  /// Tells an observer of what the machine does, which must outlive the run or be removed. When the check switches off
  /// and on, the machine's time begins again.
  void watch(Observer& observer);
  void unwatch(Observer& observer);
  /// Ends the check as failed; `why` is a phrase such as "the limit of 10 s of real time is reached".
  void give_up(std::string why);
  /// When it is over.
  CheckResult take_result();

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

/// A check file with what a trusted run has shown: pictures on displays, LEDs, findings of weight `stop`, an undefined
/// opcode, and what the expectations of `json` measure. For review: it says what is, not what should be. `results`
/// belong to the checks of `json`, in order.
std::string record_checks(std::string_view json, const std::string& name, const std::vector<CheckResult>& results);

}  // namespace prewire
