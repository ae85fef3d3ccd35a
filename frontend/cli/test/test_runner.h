// Runs checks on several threads, and tells their verdicts in order.
#pragma once

#include <functional>
#include <string_view>
#include <vector>

#include "merged_coverage.h"
#include "prewire/lab_check.h"
#include "test_files.h"

namespace prewire::front::cli {

struct Verdict {
  enum class Kind : std::uint8_t { passed, failed, error };
  Kind kind = Kind::error;
  const Task* task = nullptr;
  CheckResult result;                    ///< of a check that ran
  std::vector<Fault> faults;             ///< of one that could not
  std::vector<std::string> artifacts{};  ///< files that show the failure
  double seconds = 0;                    ///< real time
};

/// "passed", "failed" or "error".
std::string_view to_string(Verdict::Kind kind);

struct TestPlan {
  unsigned jobs = 1;
  CheckLimits limits;
  Picoseconds reading = 0;  ///< real time for a machine file with its programs
  std::filesystem::path root;
  std::vector<std::filesystem::path> boards{};  ///< folders with boards
  bool ask = true;                              ///< the lab partner, about each check that fails
  std::string artifacts{};                      ///< folder for a waveform and a trace of each failure; empty: none
  MergedCoverage* coverage = nullptr;           ///< gets what each check has executed; may be null
};

/// Runs all of them. `tell` gets the verdicts one by one, in the order of `tasks`, as soon as those before are told.
/// Fewer threads than `jobs` will do; throws `Trouble` if not one can be started. False if Ctrl-C ended it before the
/// last one.
bool run_tasks(const std::vector<Task>& tasks, const Registry& registry, const TestPlan& plan,
               const std::function<void(const Verdict&)>& tell);

}  // namespace prewire::front::cli
