// A failure of a check for other tools: the waveform of all nets, and the last instructions.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "prewire/lab_check.h"
#include "prewire/trace.h"
#include "prewire/waveform.h"
#include "test_files.h"

namespace prewire::front::cli {

/// Looks on while a check is run again. Where the check switches off and on, it begins anew: the files show the time
/// since the last time, from which their own counts.
class FailureFiles {
 public:
  /// `until`: how the first failure is told, in quarter cycles since the start of the check. The run must outlive this.
  FailureFiles(std::string folder, const Task& task, CheckRun& run, Stamp until);
  ~FailureFiles();
  FailureFiles(const FailureFiles&) = delete;
  FailureFiles& operator=(const FailureFiles&) = delete;

  /// Call it between parts of the run.
  void look();
  /// Writes the files and names them; throws `Trouble`. A waveform that would be too large is left out.
  std::vector<std::string> finish();

 private:
  void begin();
  void end();

  const std::string folder_;
  const std::string stem_;
  CheckRun& run_;
  const Stamp until_;
  Stamp before_ = 0;  // that passed before the machine was last switched on
  Cycle last_ = 0;
  std::string waves_, steps_;
  bool large_ = false;
  std::optional<Waveform> waveform_;
  std::optional<Trace> trace_;
};

/// A name for a file, whatever the text: letters, digits, dots, dashes and underscores, none at the beginning that
/// means something to a shell, and not too long.
std::string safe_name(std::string_view text);

}  // namespace prewire::front::cli
