// `prewire test`: lab checks, for one bench and for a whole class.
#include <fmt/format.h>
#include <spdlog/spdlog.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <memory>
#include <utility>

#include "cli/commands.h"
#include "prewire/chips.h"
#include "prewire/text.h"
#include "shared/ending.h"
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
};

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
      !options.csv.empty() || !options.html.empty() || !options.artifacts.empty()) {
    throw refuse("--record reports nothing", "no other option about the output", "one of them");
  }
  for (const Task& task : tasks) {
    if (!task.check) throw InputError(task.faults);
    if (task.check->machine() != tasks.front().check->machine()) {
      throw refuse("--record works on one machine", "a file with one \"machine\"", "more than one", Exit::input);
    }
  }
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
  plan.ask = options.record.empty();
  const Registry registry = standard_chips();
  const std::vector<Task> tasks = find_tasks(options.paths, selection);
  spdlog::info("{} checks on {} threads", tasks.size(), plan.jobs);
  const MindsEnding minds;
  if (!options.record.empty()) return record(options, tasks, registry, plan, out);

  ReportFiles files(options, {kJunitMark, kCsvMark, kHtmlMark});
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
  return exit_of(lines, all);
}

}  // namespace

Command add_test(CLI::App& program) {
  CLI::App* app = add_command(program, "test", kTestPurpose, kTestExamples);
  const auto options = std::make_shared<TestOptions>();
  app->add_option("PATH", options->paths, "check files, or folders")->type_name("")->required();
  add_check_options(*app, *options,
                    {.csv = "write a table, too: a line for each check",
                     .shard = "the K-th of N shares, for several computers",
                     .how = [&] { add_root_option(*app, options->load); },
                     .output =
                         [&] {
                           app->add_option("--record", options->record,
                                           "write a check file with what the machine does: to be reviewed")
                               ->type_name("FILE");
                         }});
  app->footer(kTestExitHelp);
  return {app, [options](Output& out, const Limits& limits) { return test(*options, limits, out); }, true};
}

}  // namespace prewire::front::cli
