// The files that a run writes about what the machine does: trace, waveform, coverage, profile. docs/watching.md
// describes them.
#pragma once

#include <CLI/CLI.hpp>
#include <cstdint>
#include <functional>
#include <list>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "prewire/machine.h"
#include "shared/new_file.h"

namespace prewire::front::cli {

struct WatchOptions {
  std::string trace, trace_of, trace_range, trace_from, trace_to, trace_last;
  std::vector<std::string> trace_kinds;
  bool trace_on_failure = false;
  std::string waveform;
  std::vector<std::string> waveform_of;
  std::vector<std::string> coverage, profiles;
};

void add_watch_options(CLI::App& app, WatchOptions& options);

/// Throws `Trouble` for options that no machine makes right.
void check_watch_options(const WatchOptions& options);

/// Writes beside each file; all of them take their names at the end, so that none is ever half there.
class WatchFiles {
 public:
  /// Watches the machine, which must outlive this. The options have been checked. Throws `Trouble` for a file
  /// that cannot be made or a place that the machine does not have, `InputError` for what the machine does not have.
  WatchFiles(const WatchOptions& options, Machine& machine);
  ~WatchFiles();
  WatchFiles(const WatchFiles&) = delete;
  WatchFiles& operator=(const WatchFiles&) = delete;

  /// How much has been written so far.
  std::uint64_t bytes() const;
  /// Throws `Trouble` if something could not be written so far.
  void check() const;

  struct Written {
    std::string what;  ///< "trace", "waveform", "coverage" or "profile"
    std::string file;
  };
  /// What there will be after a run that failed or did not.
  std::vector<Written> written(bool failed) const;
  void finish(bool failed);

 private:
  class File;

  void add_trace(const WatchOptions& options);
  void add_waveform(const WatchOptions& options);
  void add_coverage(const WatchOptions& options);
  void add_profiles(const WatchOptions& options);
  File& add_file(const char* what, const std::string& name, std::string_view mark, std::function<void(File&)> last);

  Machine& machine_;
  std::vector<std::unique_ptr<Observer>> observers_;
  std::list<File> files_;
};

}  // namespace prewire::front::cli
