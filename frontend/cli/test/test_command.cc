// `prewire test`: lab checks, for one bench and for a whole class.
#include <fmt/format.h>
#include <spdlog/spdlog.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <list>
#include <memory>
#include <optional>
#include <utility>

#include "cli/commands.h"
#include "merged_coverage.h"
#include "prewire/chip.h"
#include "prewire/text.h"
#include "shared/ending.h"
#include "shared/file_kinds.h"
#include "shared/known_chips.h"
#include "shared/new_file.h"
#include "shared/trouble.h"
#include "test_options.h"
#include "test_tables.h"

namespace prewire::front::cli {

namespace {

constexpr const char* kTestPurpose =
    "Runs lab checks: what is done to a machine, and what it must show, measure and never do.\n"
    "A folder is searched for files whose names end in .check.json, and so are the folders in it. The output is the\n"
    "same for any number of jobs. `prewire schema check` describes the files.";
constexpr const char* kTestExamples =
    "  prewire test gauge.check.json\n"
    "  prewire test labs --jobs 4 --tag display --junit results.xml\n"
    "  prewire test submissions --shard 2/8 --csv marks-2.csv --quiet\n"
    "  prewire test gauge.check.json --record seen.check.json";
constexpr const char* kTestExitHelp =
    "Exit status:\n"
    "  0  all checks pass       5  a check fails\n"
    "  1  internal error      130  interrupted by Ctrl-C\n"
    "  2  bad usage\n"
    "  3  bad input, or a check that cannot run: its file or its machine is faulty\n"
    "  6  a limit is reached before the end of what --record runs, or the memory is used up";

constexpr const char* kRecordMark = "{\n  \"about\": \"Recorded from a run";

struct TestOptions : CheckOptions {
  std::vector<std::string> paths;
  LoadOptions load;
  std::string record;
  std::vector<std::string> coverage;
  std::string least;
};

bool is_listing(const std::string& file) { return std::filesystem::path(file).extension() == ".txt"; }

/// Hundredths of a percent.
int parse_least(const std::string& text) {
  const auto part = parse_quantity(text, Unit::millionths);
  if (part && *part >= 0 && *part <= 1'000'000 && text.ends_with('%')) return static_cast<int>(*part / 100);
  throw Trouble(Exit::usage, "--coverage-least cannot be set to that", "a part of all lines, such as 80%", text);
}

/// The files of `--coverage`, made before the checks run.
class CoverageFiles {
 public:
  explicit CoverageFiles(const std::vector<std::string>& names) {
    for (const std::string& name : names) {
      if (!is_listing(name) && std::filesystem::path(name).extension() != ".info") {
        throw Trouble(Exit::usage, "--coverage cannot be set to that", "a file named .info or .txt", name);
      }
    }
    for (const std::string& name : names) {
      files_.emplace_back(name, is_listing(name) ? kListingMark : kTracefileMark, report_words("--coverage"));
    }
  }
  void fill(const MergedCoverage& coverage) {
    for (NewFile& file : files_) {
      file.write(is_listing(file.name()) ? coverage.listing() : coverage.tracefile());
      file.close();
      file.take_name();
    }
  }

 private:
  std::list<NewFile> files_;
};

/// False if it is less than somebody wants.
bool tell_coverage(const MergedCoverage& coverage, std::optional<int> least, bool print, Output& out) {
  const MergedCoverage::Lines lines = coverage.lines();
  const std::size_t part = lines.found == 0 ? 0 : lines.hit * 10'000 / lines.found;
  const bool enough = !least || part >= static_cast<std::size_t>(*least);
  const auto percent = [](std::size_t hundredths) {
    return fmt::format("{}.{:02} %", hundredths / 100, hundredths % 100);
  };
  const std::string text =
      fmt::format("{} of {} with instructions executed: {}{}\n", lines.hit, counted(lines.found, "line"), percent(part),
                  enough ? "" : fmt::format(", less than {}", percent(static_cast<std::size_t>(*least))));
  if (print) {
    out.print(text);
    out.flush();
  } else if (!enough) {
    message("prewire: " + text);
  }
  return enough;
}

Exit record(const TestOptions& options, const std::vector<Task>& tasks, const Registry& registry, TestPlan plan,
            Output& out) {
  const auto refuse = [&](const std::string& what, const std::string& expected, const std::string& found,
                          Exit exit = Exit::usage) {
    return Trouble(exit, what, expected, found, "`prewire test --help` explains all");
  };
  const bool one_file =
      std::all_of(tasks.begin(), tasks.end(), [&](const Task& task) { return task.file == tasks.front().file; });
  if (options.paths.size() != 1 || !one_file) {
    throw refuse("--record works on one file", "one check file", fmt::format("{}", fmt::join(options.paths, ", ")),
                 options.paths.size() != 1 ? Exit::usage : Exit::input);
  }
  if (!options.filter.empty() || !options.tags.empty() || !options.shard.empty() || !options.seeds.empty()) {
    throw refuse("--record works on all checks of a file", "no --filter, --tag, --shard or --seeds", "one of them");
  }
  if (options.tap || options.json || options.quiet || options.wall_time || !options.junit.empty() ||
      !options.csv.empty() || !options.html.empty() || !options.artifacts.empty() || !options.coverage.empty() ||
      !options.least.empty()) {
    throw refuse("--record reports nothing", "no other option about the output", "one of them");
  }
  for (const Task& task : tasks) {
    if (!task.faults.empty()) throw InputError(task.faults);
    if (task.check->machine() != tasks.front().check->machine()) {
      throw refuse("--record works on one machine", "a file with one \"machine\"", "more than one", Exit::input);
    }
  }
  refuse_other_kind("--record", options.record, {".json"});
  NewFile file(options.record, kRecordMark, report_words("--record"));
  std::vector<CheckResult> results;
  std::vector<Fault> faults;
  const bool all = run_tasks(tasks, registry, plan, [&](const Verdict& verdict) {
    faults.insert(faults.end(), verdict.faults.begin(), verdict.faults.end());
    results.push_back(verdict.result);
  });
  if (!faults.empty()) throw InputError(std::move(faults));
  if (!all) return Exit::interrupted;
  for (const CheckResult& result : results) {
    if (result.limited) throw Trouble(Exit::limit, "the run to record did not get to its end", "", result.why);
  }
  std::ifstream in(tasks.front().file, std::ios::binary);
  const std::string text{std::istreambuf_iterator<char>(in), {}};
  file.write(record_checks(text, tasks.front().file, results));
  file.close();
  file.take_name();
  out.print(fmt::format("recorded {} check{} in {}: review what it expects\n", results.size(),
                        results.size() == 1 ? "" : "s", printable(options.record)));
  return Exit::ok;
}

Exit test(const TestOptions& options, const Limits& given, Output& out) {
  check_report_names(options);
  Selection selection = selection_of(options);
  selection.root = options.load.root;
  TestPlan plan = plan_of(options, given);
  plan.root = options.load.root;
  plan.boards = options.load.boards;
  plan.ask = options.record.empty();
  const std::optional<int> least = options.least.empty() ? std::nullopt : std::optional(parse_least(options.least));
  const Registry& registry = known_chips();
  const std::vector<Task> tasks = find_tasks(options.paths, selection);
  spdlog::info("{} checks on {} threads", tasks.size(), plan.jobs);
  const MindsEnding minds;
  if (!options.record.empty()) return record(options, tasks, registry, plan, out);

  ReportFiles files(options, {kJunitMark, kCsvMark, kHtmlMark});
  CoverageFiles coverage_files(options.coverage);
  MergedCoverage coverage;
  const bool covers = !options.coverage.empty() || least;
  if (covers) plan.coverage = &coverage;
  const auto report = report_for(options, out);
  std::vector<TestLine> lines;
  report->begin(tasks.size());
  const bool all = run_tasks(tasks, registry, plan, [&](const Verdict& verdict) {
    lines.push_back(test_line(verdict, options.wall_time));
    report->verdict(verdict, lines.back());
  });
  report->end(lines);
  out.flush();
  files.fill([&] { return junit_file(lines); }, [&] { return csv_file(lines); }, [&] { return html_file(lines); });
  coverage_files.fill(coverage);
  const bool enough = !covers || tell_coverage(coverage, least, !options.tap && !options.json, out);
  const Exit exit = exit_of(lines, all);
  return exit == Exit::ok && !enough ? Exit::expectation : exit;
}

}  // namespace

Command add_test(CLI::App& program) {
  CLI::App* app = add_command(program, "test", kTestPurpose, kTestExamples);
  const auto options = std::make_shared<TestOptions>();
  app->add_option("PATH", options->paths, "check files, or folders")->type_name("")->required();
  add_check_options(*app, *options,
                    {.csv = "write a table, too: a line for each check",
                     .shard = "the K-th of N shares, for several computers",
                     .how = [&] { add_root_option(*app, options->load, "that of the check file"); },
                     .output =
                         [&] {
                           app->add_option("--coverage", options->coverage,
                                           "write what all checks together have executed: a tracefile of\n"
                                           "lcov for FILE.info, an annotated listing for FILE.txt")
                               ->type_name("FILE")
                               ->allow_extra_args(false);
                           app->add_option("--coverage-least", options->least,
                                           "fail if less of all lines with instructions was executed")
                               ->type_name("PERCENT");
                           app->add_option("--record", options->record,
                                           "write a check file with what the machine does: to be reviewed")
                               ->type_name("FILE");
                         }});
  app->footer(kTestExitHelp);
  return {app, [options](Output& out, const Limits& limits) { return test(*options, limits, out); }, true};
}

}  // namespace prewire::front::cli
