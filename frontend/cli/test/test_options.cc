#include "test_options.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <filesystem>
#include <system_error>
#include <thread>
#include <utility>

#include "shared/file_kinds.h"
#include "shared/trouble.h"

namespace prewire::front::cli {

namespace fs = std::filesystem;

namespace {

constexpr unsigned kMostJobs = 256;

std::optional<std::size_t> whole_number(std::string_view text, std::size_t least, std::size_t most) {
  std::size_t number = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), number);
  const bool whole = error == std::errc{} && end == text.data() + text.size();
  if (!whole || number < least || number > most) return std::nullopt;
  return number;
}

unsigned parse_jobs(const std::string& text) {
  if (text.empty()) return std::clamp(std::thread::hardware_concurrency(), 1U, kMostJobs);
  const auto jobs = whole_number(text, 1, kMostJobs);
  if (jobs) return static_cast<unsigned>(*jobs);
  throw Trouble(Exit::usage, "--jobs cannot be set to that", fmt::format("a number from 1 to {}", kMostJobs), text);
}

void parse_shard(const std::string& text, Selection& selection) {
  if (text.empty()) return;
  constexpr std::size_t kMostShards = 100'000;
  const std::size_t slash = text.find('/');
  const auto shard = whole_number(text.substr(0, slash), 1, kMostShards);
  const auto shards = slash == std::string::npos ? std::nullopt : whole_number(text.substr(slash + 1), 1, kMostShards);
  if (!shard || !shards || *shard > *shards) {
    throw Trouble(Exit::usage, "--shard cannot be set to that", "K/N, the K-th of N shares, such as 2/8", text,
                  "shares count from 1");
  }
  selection.shard = *shard;
  selection.shards = *shards;
}

/// "1..20", or one number.
void parse_seeds(const std::string& text, Selection& selection) {
  if (text.empty()) return;
  constexpr std::size_t kMostSeed = 1'000'000'000'000'000'000, kMostSeeds = 1000;
  const std::size_t dots = text.find("..");
  const auto first = whole_number(text.substr(0, dots), 0, kMostSeed);
  const auto last = dots == std::string::npos ? first : whole_number(text.substr(dots + 2), 0, kMostSeed);
  if (!first || !last || *last < *first || *last - *first >= kMostSeeds) {
    throw Trouble(Exit::usage, "--seeds cannot be set to that",
                  fmt::format("a number, or the first and the last of at most {}, such as 1..20", kMostSeeds), text);
  }
  selection.seeds = {*first, *last};
}

/// What a file asks for beyond these is not given.
CheckLimits parse_check_limits(const CheckOptions& options, const Limits& given) {
  constexpr std::int64_t kNoLimit = std::int64_t{1} << 60;
  CheckLimits limits{kNoLimit, kNoLimit, static_cast<std::uint64_t>(kNoLimit)};
  if (!options.max_cycles.empty()) limits.cycles = parse_cycles("--max-cycles", options.max_cycles);
  if (given.wall_given) limits.wall = given.wall;
  if (!options.max_output.empty()) limits.output = parse_size("--max-output", options.max_output);
  return limits;
}

void make_folder(const std::string& name) {
  std::error_code error;
  fs::create_directory(name, error);
  if (!error && fs::is_directory(name, error)) return;
  throw Trouble(Exit::input, "--artifacts names no folder", "a folder, or a new name in one", name,
                error ? error.message() : "something else has that name");
}

}  // namespace

Selection selection_of(const CheckOptions& options) {
  Selection selection;
  selection.filter = options.filter;
  selection.tags = options.tags;
  parse_shard(options.shard, selection);
  parse_seeds(options.seeds, selection);
  return selection;
}

TestPlan plan_of(const CheckOptions& options, const Limits& given) {
  TestPlan plan{parse_jobs(options.jobs), parse_check_limits(options, given), given.wall, {}};
  // Each thread of the program's own library reserves address space that it hardly uses.
  if (!given.memory_given) limit_memory(given.memory + plan.jobs * (std::uint64_t{256} << 20));
  plan.artifacts = options.artifacts;
  if (!plan.artifacts.empty()) make_folder(plan.artifacts);
  return plan;
}

NewFile::Words report_words(const char* option) {
  return {.refused = fmt::format("{} does not replace a file that it has not written", option),
          .replaceable = "a new name, or an older file of the same kind",
          .failed = fmt::format("{} cannot write its file", option)};
}

void check_report_names(const CheckOptions& options) {
  const std::array<std::pair<const char*, const std::string&>, 3> files{
      {{"--junit", options.junit}, {"--csv", options.csv}, {"--html", options.html}}};
  for (std::size_t i = 0; i < files.size(); ++i) {
    for (std::size_t other = 0; other < i; ++other) {
      const fs::path one(files[other].second), two(files[i].second);
      if (two.empty() || one.lexically_normal() != two.lexically_normal()) continue;
      throw Trouble(Exit::usage, fmt::format("{} and {} name the same file", files[other].first, files[i].first),
                    "two names", two.string());
    }
  }
  refuse_other_kind("--junit", options.junit, {".xml"});
  refuse_other_kind("--csv", options.csv, {".csv"});
  refuse_other_kind("--html", options.html, {".html", ".htm"});
}

std::unique_ptr<TestReport> report_for(const CheckOptions& options, Output& out) {
  return options.json  ? test_json_report(out)
         : options.tap ? test_tap_report(out)
                       : test_text_report(out, options.quiet);
}

ReportFiles::ReportFiles(const CheckOptions& options, const std::array<std::string_view, 3>& marks) {
  const std::array<std::pair<const char*, const std::string&>, 3> names{
      {{"--junit", options.junit}, {"--csv", options.csv}, {"--html", options.html}}};
  for (std::size_t i = 0; i < names.size(); ++i) {
    const auto& [option, name] = names[i];
    if (name.empty()) continue;
    files_[i].emplace(name, marks[i], report_words(option));
  }
}

void ReportFiles::fill(const Text& junit, const Text& csv, const Text& html) {
  const std::array<const Text*, 3> texts{&junit, &csv, &html};
  for (std::size_t i = 0; i < texts.size(); ++i) {
    if (!files_[i]) continue;
    files_[i]->write((*texts[i])());
    files_[i]->close();
    files_[i]->take_name();
  }
}

Exit exit_of(const std::vector<TestLine>& lines, bool all) {
  if (!all) {
    message("prewire: interrupted\n");
    return Exit::interrupted;
  }
  const TestSum sum = sum_of(lines);
  return sum.errors > 0 ? Exit::input : sum.failed > 0 ? Exit::expectation : Exit::ok;
}

void add_check_options(CLI::App& app, CheckOptions& options, const CheckOptionWords& words) {
  app.option_defaults()->group("Which checks");
  app.add_option("--filter", options.filter,
                 "those whose name fits the pattern; * stands for any text,\n? for any character")
      ->type_name("PATTERN");
  app.add_option("--tag", options.tags, "those with that tag; may be given several times")
      ->type_name("TAG")
      ->allow_extra_args(false);
  app.add_option("--seeds", options.seeds, "each with each of these seeds in place of its own: 1..20, or one")
      ->type_name("A..B");
  app.add_option("--shard", options.shard, words.shard)->type_name("K/N");
  app.option_defaults()->group("How");
  app.add_option("--jobs", options.jobs, "checks at a time; if not given, one for each processor")->type_name("COUNT");
  words.how();
  app.option_defaults()->group("Output");
  auto* tap = app.add_flag("--tap", options.tap, "Test Anything Protocol");
  auto* json = app.add_flag("--json", options.json, "one JSON document")->excludes(tap);
  app.add_flag("--quiet", options.quiet, "say nothing about checks that pass")->excludes(tap)->excludes(json);
  app.add_option("--junit", options.junit, "write JUnit XML, too")->type_name("FILE");
  app.add_option("--csv", options.csv, words.csv)->type_name("FILE");
  app.add_option("--html", options.html, "write a page for a browser, too")->type_name("FILE");
  app.add_option("--artifacts", options.artifacts,
                 "write a waveform and the last instructions of each failure\ninto this folder")
      ->type_name("FOLDER");
  words.output();
  app.add_flag("--wall-time", options.wall_time, "report real time, which differs from run to run, not emulated time");
  app.option_defaults()->group(kLimitGroup);
  app.add_option("--max-cycles", options.max_cycles, "for a check, whatever its file says")->type_name("COUNT");
  app.add_option("--max-output", options.max_output, "timeline and messages of a check")->type_name("SIZE");
  app.get_option("--max-memory")
      ->description("take no more address space; 2 GiB if not given, and 256 MiB\nfor each job");
  app.get_option("--max-wall")
      ->description("real time for a check; if not given, what its file says, and\n60 s to read its machine");
}

}  // namespace prewire::front::cli
