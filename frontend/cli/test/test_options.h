// What the commands that run checks have in common: options, files, status.
#pragma once

#include <CLI/CLI.hpp>
#include <array>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "shared/exit.h"
#include "shared/limits.h"
#include "shared/new_file.h"
#include "shared/output.h"
#include "test_files.h"
#include "test_line.h"
#include "test_report.h"
#include "test_runner.h"

namespace prewire::front::cli {

struct CheckOptions {
  std::string jobs, shard, filter, seeds;
  std::vector<std::string> tags;
  std::string junit, csv, html, artifacts;
  std::string max_cycles, max_output;
  bool tap = false, json = false, quiet = false, wall_time = false;
};

/// Where a command differs.
struct CheckOptionWords {
  const char* csv;
  const char* shard;
  std::function<void()> how, output;  ///< add more options to these groups
};

void add_check_options(CLI::App& app, CheckOptions& options, const CheckOptionWords& words);

/// These throw `Trouble` for what cannot be.
Selection selection_of(const CheckOptions& options);
/// Makes the folder for artifacts, too, and sets the limit of memory.
TestPlan plan_of(const CheckOptions& options, const Limits& given);
/// What is said of a file that an option names.
NewFile::Words report_words(const char* option);
/// Two of the options must not name one file.
void check_report_names(const CheckOptions& options);

std::unique_ptr<TestReport> report_for(const CheckOptions& options, Output& out);

/// The files of `--junit`, `--csv` and `--html`. They are made before the checks run, so that a bad place is told at
/// once, and filled afterwards.
class ReportFiles {
 public:
  /// How each begins: only such an older one is replaced.
  ReportFiles(const CheckOptions& options, const std::array<std::string_view, 3>& marks);
  using Text = std::function<std::string()>;
  void fill(const Text& junit, const Text& csv, const Text& html);

 private:
  std::array<std::optional<NewFile>, 3> files_;
};

/// `all`: nothing has ended it before the last check.
Exit exit_of(const std::vector<TestLine>& lines, bool all);

}  // namespace prewire::front::cli
