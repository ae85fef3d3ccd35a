// `prewire test`: lab checks, for one bench and for a whole class.
#include <fmt/format.h>
#include <spdlog/spdlog.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <memory>
#include <optional>
#include <thread>
#include <utility>

#include "cli/commands.h"
#include "prewire/chips.h"
#include "prewire/text.h"
#include "shared/ending.h"
#include "shared/limits.h"
#include "shared/new_file.h"
#include "shared/file_kinds.h"
#include "shared/trouble.h"
#include "test_report.h"
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

constexpr unsigned kMostJobs = 256;
constexpr const char* kRecordMark = "{\n  \"about\": \"Recorded from a run";

struct TestOptions {
  std::vector<std::string> paths;
  LoadOptions load;
  std::string jobs, shard, filter;
  std::vector<std::string> tags;
  std::string junit, csv, html, record;
  std::string max_cycles, max_output;
  bool tap = false, json = false, quiet = false, wall_time = false;
};

std::optional<std::size_t> whole_number(std::string_view text, std::size_t most) {
  std::size_t number = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), number);
  if (error != std::errc{} || end != text.data() + text.size() || number < 1 || number > most) return std::nullopt;
  return number;
}

unsigned parse_jobs(const std::string& text) {
  if (text.empty()) return std::clamp(std::thread::hardware_concurrency(), 1U, kMostJobs);
  const auto jobs = whole_number(text, kMostJobs);
  if (jobs) return static_cast<unsigned>(*jobs);
  throw Trouble(Exit::usage, "--jobs cannot be set to that", fmt::format("a number from 1 to {}", kMostJobs), text);
}

void parse_shard(const std::string& text, Selection& selection) {
  if (text.empty()) return;
  constexpr std::size_t kMostShards = 100'000;
  const std::size_t slash = text.find('/');
  const auto shard = whole_number(text.substr(0, slash), kMostShards);
  const auto shards = slash == std::string::npos ? std::nullopt : whole_number(text.substr(slash + 1), kMostShards);
  if (!shard || !shards || *shard > *shards) {
    throw Trouble(Exit::usage, "--shard cannot be set to that", "K/N, the K-th of N shares, such as 2/8", text,
                  "shares count from 1");
  }
  selection.shard = *shard;
  selection.shards = *shards;
}

/// What a file asks for beyond these is not given.
CheckLimits parse_check_limits(const TestOptions& options, const Limits& given) {
  constexpr std::int64_t kNoLimit = std::int64_t{1} << 60;
  CheckLimits limits{kNoLimit, kNoLimit, static_cast<std::uint64_t>(kNoLimit)};
  if (!options.max_cycles.empty()) limits.cycles = parse_cycles("--max-cycles", options.max_cycles);
  if (given.wall_given) limits.wall = given.wall;
  if (!options.max_output.empty()) limits.output = parse_size("--max-output", options.max_output);
  return limits;
}

/// A file that is filled when all checks have run. It is made before, so that a bad place is told at once.
class ReportFile {
 public:
  ReportFile(const std::string& name, const char* option, std::string_view mark)
      : file_(name, mark,
              {.refused = fmt::format("{} does not replace a file that it has not written", option),
               .replaceable = "a new name, or an older file of the same kind",
               .failed = fmt::format("{} cannot write its file", option)}) {}

  void fill(const std::string& text) {
    file_.write(text);
    file_.close();
    file_.take_name();
  }

 private:
  NewFile file_;
};

/// Throws if two of the options name one file.
void check_names(const TestOptions& options) {
  const std::array<std::pair<const char*, const std::string&>, 3> files{
      {{"--junit", options.junit}, {"--csv", options.csv}, {"--html", options.html}}};
  refuse_other_kind("--junit", options.junit, {".xml"});
  refuse_other_kind("--csv", options.csv, {".csv"});
  refuse_other_kind("--html", options.html, {".html", ".htm"});
  refuse_other_kind("--record", options.record, {".json"});
  for (std::size_t i = 0; i < files.size(); ++i) {
    for (std::size_t other = 0; other < i; ++other) {
      const std::filesystem::path one(files[other].second), two(files[i].second);
      if (two.empty() || one.lexically_normal() != two.lexically_normal()) continue;
      throw Trouble(Exit::usage, fmt::format("{} and {} name the same file", files[other].first, files[i].first),
                    "two names", two.string());
    }
  }
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
  if (!options.filter.empty() || !options.tags.empty() || !options.shard.empty()) {
    throw refuse("--record works on all checks of a file", "no --filter, --tag or --shard", "one of them");
  }
  if (options.tap || options.json || options.quiet || options.wall_time || !options.junit.empty() ||
      !options.csv.empty() || !options.html.empty()) {
    throw refuse("--record reports nothing", "no other option about the output", "one of them");
  }
  for (const Task& task : tasks) {
    if (!task.faults.empty()) throw InputError(task.faults);
    if (task.check->machine() != tasks.front().check->machine()) {
      throw refuse("--record works on one machine", "a file with one \"machine\"", "more than one", Exit::input);
    }
  }
  ReportFile file(options.record, "--record", kRecordMark);
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
  file.fill(record_checks(text, tasks.front().file, results));
  out.print(fmt::format("recorded {} check{} in {}: review what it expects\n", results.size(),
                        results.size() == 1 ? "" : "s", printable(options.record)));
  return Exit::ok;
}

Exit test(const TestOptions& options, const Limits& given, Output& out) {
  check_names(options);
  Selection selection{options.filter, options.tags, 1, 1, options.load.root};
  parse_shard(options.shard, selection);
  TestPlan plan{parse_jobs(options.jobs), parse_check_limits(options, given), given.wall, options.load.root};
  // Each thread of the program's own library reserves address space that it hardly uses.
  if (!given.memory_given) limit_memory(given.memory + plan.jobs * (std::uint64_t{256} << 20));
  const Registry registry = standard_chips();
  const std::vector<Task> tasks = find_tasks(options.paths, selection);
  spdlog::info("{} checks on {} threads", tasks.size(), plan.jobs);
  const MindsEnding minds;
  if (!options.record.empty()) return record(options, tasks, registry, plan, out);

  std::optional<ReportFile> junit, csv, html;
  if (!options.junit.empty()) junit.emplace(options.junit, "--junit", kJunitMark);
  if (!options.csv.empty()) csv.emplace(options.csv, "--csv", kCsvMark);
  if (!options.html.empty()) html.emplace(options.html, "--html", kHtmlMark);
  const auto report = options.json  ? test_json_report(out)
                      : options.tap ? test_tap_report(out)
                                    : test_text_report(out, options.quiet);
  std::vector<TestLine> lines;
  report->begin(tasks.size());
  const bool all = run_tasks(tasks, registry, plan, [&](const Verdict& verdict) {
    lines.push_back(test_line(verdict, options.wall_time));
    report->verdict(verdict, lines.back());
  });
  report->end(lines);
  out.flush();
  if (junit) junit->fill(junit_file(lines));
  if (csv) csv->fill(csv_file(lines));
  if (html) html->fill(html_file(lines));
  const TestSum sum = sum_of(lines);
  if (!all) {
    message("prewire: interrupted\n");
    return Exit::interrupted;
  }
  return sum.errors > 0 ? Exit::input : sum.failed > 0 ? Exit::expectation : Exit::ok;
}

}  // namespace

Command add_test(CLI::App& program) {
  CLI::App* app = add_command(program, "test", kTestPurpose, kTestExamples);
  const auto options = std::make_shared<TestOptions>();
  app->add_option("PATH", options->paths, "check files, or folders")->type_name("")->required();
  app->option_defaults()->group("Which checks");
  app->add_option("--filter", options->filter,
                  "those whose name fits the pattern; * stands for any text,\n? for any character")
      ->type_name("PATTERN");
  app->add_option("--tag", options->tags, "those with that tag; may be given several times")
      ->type_name("TAG")
      ->allow_extra_args(false);
  app->add_option("--shard", options->shard, "the K-th of N shares, for several computers")->type_name("K/N");
  app->option_defaults()->group("How");
  app->add_option("--jobs", options->jobs, "checks at a time; if not given, one for each processor")
      ->type_name("COUNT");
  add_root_option(*app, options->load, "that of the check file");
  app->option_defaults()->group("Output");
  auto* tap = app->add_flag("--tap", options->tap, "Test Anything Protocol");
  auto* json = app->add_flag("--json", options->json, "one JSON document")->excludes(tap);
  app->add_flag("--quiet", options->quiet, "say nothing about checks that pass")->excludes(tap)->excludes(json);
  app->add_option("--junit", options->junit, "write JUnit XML, too")->type_name("FILE");
  app->add_option("--csv", options->csv, "write a table, too: a line for each check")->type_name("FILE");
  app->add_option("--html", options->html, "write a page for a browser, too")->type_name("FILE");
  app->add_option("--record", options->record, "write a check file with what the machine does: to be reviewed")
      ->type_name("FILE");
  app->add_flag("--wall-time", options->wall_time,
                "report real time, which differs from run to run, not emulated time");
  app->option_defaults()->group(kLimitGroup);
  app->add_option("--max-cycles", options->max_cycles, "for a check, whatever its file says")->type_name("COUNT");
  app->add_option("--max-output", options->max_output, "timeline and messages of a check")->type_name("SIZE");
  app->get_option("--max-memory")
      ->description("take no more address space; 2 GiB if not given, and 256 MiB\nfor each job");
  app->get_option("--max-wall")
      ->description("real time for a check; if not given, what its file says, and\n60 s to read its machine");
  app->footer(kTestExitHelp);
  return {app, [options](Output& out, const Limits& limits) { return test(*options, limits, out); }, true};
}

}  // namespace prewire::front::cli
