#include "watch_files.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cctype>
#include <filesystem>
#include <utility>

#include "prewire/chip.h"
#include "prewire/coverage.h"
#include "prewire/profile.h"
#include "prewire/stimulus.h"
#include "prewire/trace.h"
#include "prewire/waveform.h"
#include "shared/file_kinds.h"
#include "shared/trouble.h"

namespace prewire::front::cli {

namespace fs = std::filesystem;

namespace {

struct Kind {
  const char* word;
  unsigned kind;
};
constexpr Kind kKinds[] = {{"fetch", TracePlan::kFetch},
                           {"read", TracePlan::kRead},
                           {"write", TracePlan::kWrite},
                           {"idle", TracePlan::kIdle},
                           {"nobody", TracePlan::kNobody}};

/// ".csv", in lower case.
std::string extension(const std::string& file) {
  std::string extension = fs::path(file).extension().string();
  for (char& c : extension) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return extension;
}

Trouble unusable(const std::string& option, const std::string& expected, const std::string& found,
                 const std::string& hint = {}) {
  return Trouble(Exit::usage, fmt::format("{} cannot be set to that", option), expected, found, hint);
}

/// An address or a label of this machine.
std::uint16_t address(const Machine& machine, const std::string& option, const std::string& text) {
  if (const auto address = machine.address_of(text)) return *address;
  throw Trouble(Exit::input, fmt::format("{} names no place of this machine", option),
                "an address such as 0xC012, or a label of a program that comes as source", text);
}

TraceMoment moment(const Machine& machine, const std::string& option, const std::string& text) {
  const auto time = parse_moment(text);
  if (!time) return {.address = address(machine, option, text)};
  return {.address = {}, .cycle = cycle_from(time->stamp(machine.timebase()))};
}

/// What of a trace the options alone decide.
TracePlan plan_of(const WatchOptions& options) {
  TracePlan plan;
  const std::string& of = options.trace_of;
  if (!of.empty() && of != "cycles" && of != "instructions") {
    throw unusable("--trace-of", "cycles or instructions", of, meant(of, {"cycles", "instructions"}));
  }
  plan.of = of == "instructions" ? TraceOf::instructions : TraceOf::cycles;
  const std::string name = extension(options.trace);
  if (name == ".csv") plan.format = TraceFormat::csv;
  if (name == ".jsonl") plan.format = TraceFormat::json_lines;
  if (!options.trace_kinds.empty()) {
    if (plan.of == TraceOf::instructions) {
      throw Trouble(Exit::usage, "--trace-kind is about bus cycles", "--trace-of cycles", "--trace-of instructions");
    }
    plan.kinds = 0;
    for (const std::string& word : options.trace_kinds) {
      const auto known =
          std::find_if(std::begin(kKinds), std::end(kKinds), [&](const Kind& k) { return k.word == word; });
      if (known == std::end(kKinds)) {
        std::vector<std::string> words;
        for (const Kind& kind : kKinds) words.emplace_back(kind.word);
        throw unusable("--trace-kind", "fetch, read, write, idle or nobody", word, meant(word, words));
      }
      plan.kinds |= known->kind;
    }
  }
  if (!options.trace_last.empty()) {
    const auto count = parse_quantity(options.trace_last, Unit::count);
    constexpr std::int64_t kMost = 1'000'000;
    if (!count || *count < 1 || *count > kMost) {
      throw unusable("--trace-last", "a number of lines, 1 to 1000000", options.trace_last);
    }
    plan.keep = static_cast<std::size_t>(*count);
  }
  return plan;
}

/// ...and what the machine must know.
void locate(TracePlan& plan, const WatchOptions& options, const Machine& machine) {
  if (!options.trace_range.empty()) {
    const auto dash = options.trace_range.find('-');
    plan.first = address(machine, "--trace-range", options.trace_range.substr(0, dash));
    plan.last = dash == std::string::npos ? plan.first
                                          : address(machine, "--trace-range", options.trace_range.substr(dash + 1));
    if (plan.last < plan.first) {
      throw unusable("--trace-range", "the lower address first", options.trace_range);
    }
  }
  if (!options.trace_from.empty()) plan.from = moment(machine, "--trace-from", options.trace_from);
  if (!options.trace_to.empty()) plan.until = moment(machine, "--trace-to", options.trace_to);
}

void check_extensions(const char* option, const std::vector<std::string>& files, const std::string& first,
                      const std::string& second) {
  for (const std::string& file : files) {
    const std::string kind = extension(file);
    if (kind != first && kind != second) {
      throw unusable(option, fmt::format("a file named {} or {}", first, second), file);
    }
  }
}

}  // namespace

void check_watch_options(const WatchOptions& options) {
  plan_of(options);
  check_extensions("--coverage", options.coverage, ".info", ".txt");
  check_extensions("--profile", options.profiles, ".txt", ".folded");
  std::vector<std::pair<const char*, std::string>> files{{"--trace", options.trace}, {"--waveform", options.waveform}};
  for (const std::string& file : options.coverage) files.emplace_back("--coverage", file);
  for (const std::string& file : options.profiles) files.emplace_back("--profile", file);
  std::erase_if(files, [](const auto& file) { return file.second.empty(); });
  for (std::size_t i = 0; i < files.size(); ++i) {
    for (std::size_t other = 0; other < i; ++other) {
      if (fs::path(files[other].second).lexically_normal() != fs::path(files[i].second).lexically_normal()) continue;
      throw Trouble(Exit::usage, fmt::format("{} and {} name the same file", files[other].first, files[i].first),
                    "two names", files[i].second);
    }
  }
  refuse_other_kind("--trace", options.trace, {".txt", ".csv", ".jsonl"});
  refuse_other_kind("--waveform", options.waveform, {".vcd"});
}

void add_watch_options(CLI::App& app, WatchOptions& options) {
  app.option_defaults()->group("Watching");
  auto* trace = app.add_option("--trace", options.trace,
                               "write every bus cycle as a line: of text, of a table for\n"
                               "FILE.csv, of JSON for FILE.jsonl")
                    ->type_name("FILE");
  const auto of_trace = [&](const char* name, std::string& text, const char* value, const char* help) {
    return app.add_option(name, text, help)->type_name(value)->needs(trace);
  };
  of_trace("--trace-of", options.trace_of, "WHAT", "lines for cycles or instructions; cycles if not given");
  of_trace("--trace-range", options.trace_range, "FIRST-LAST",
           "only at these addresses, such as 0x4000-0x4003; or at one");
  const auto list = [&](const char* name, std::vector<std::string>& words, const char* value, const char* help) {
    return app.add_option(name, words, help)->type_name(value)->delimiter(',')->allow_extra_args(false);
  };
  list("--trace-kind", options.trace_kinds, "KIND,...", "only cycles of these kinds: fetch, read, write, idle, nobody")
      ->needs(trace);
  of_trace("--trace-from", options.trace_from, "WHEN",
           "begin at a moment such as 10ms or 1200cycles, or each time the\n"
           "instruction at an address or label is about to be executed");
  of_trace("--trace-to", options.trace_to, "WHEN", "end there");
  of_trace("--trace-last", options.trace_last, "COUNT", "keep only the last so many lines");
  app.add_flag("--trace-on-failure", options.trace_on_failure, "write it only if the exit status is not 0")
      ->needs(trace);
  auto* waveform =
      app.add_option("--waveform", options.waveform, "write levels and voltages of nets over time as a VCD file")
          ->type_name("FILE");
  list("--waveform-of", options.waveform_of, "NET,...",
       "only these: nets, pins, pins such as PIA.PA, chips; CPU for its\n"
       "address and data; all nets if not given")
      ->needs(waveform);
  const auto many = [&](const char* name, std::vector<std::string>& files, const char* help) {
    app.add_option(name, files, help)->type_name("FILE")->allow_extra_args(false);
  };
  many("--coverage", options.coverage,
       "write how often each instruction was executed: a tracefile of\n"
       "lcov for FILE.info, an annotated listing for FILE.txt");
  many("--profile", options.profiles,
       "write where the cycles went: tables for FILE.txt, folded stacks\n"
       "for FILE.folded");
}

// ---------------------------------------------------------------------------------------------------------------------
// Files

class WatchFiles::File {
 public:
  File(const char* what, const std::string& name, std::string_view mark, std::function<void(File&)> last)
      : what_(what),
        file_(name, mark,
              {.refused = fmt::format("--{} does not write there", what),
               .replaceable = fmt::format("a new file, or an older {} to replace", what),
               .failed = fmt::format("the {} cannot be written", what)}),
        last_(std::move(last)) {}

  const char* what() const { return what_; }
  const std::string& name() const { return file_.name(); }
  std::uint64_t bytes() const { return bytes_; }
  bool only_failure = false;  ///< written only if the run fails

  void write(std::string_view text) {
    bytes_ += text.size();
    file_.write(text);
  }
  void check() const { file_.check(); }
  void complete() {
    last_(*this);
    file_.close();
  }
  void take_name() { file_.take_name(); }

 private:
  const char* what_;
  NewFile file_;
  const std::function<void(File&)> last_;
  std::uint64_t bytes_ = 0;
};

WatchFiles::WatchFiles(const WatchOptions& options, Machine& machine) : machine_(machine) {
  if (!options.trace.empty()) add_trace(options);
  if (!options.waveform.empty()) add_waveform(options);
  if (!options.coverage.empty()) add_coverage(options);
  if (!options.profiles.empty()) add_profiles(options);
  for (const auto& observer : observers_) machine_.watch(*observer);
}

WatchFiles::~WatchFiles() {
  for (const auto& observer : observers_) machine_.unwatch(*observer);
}

WatchFiles::File& WatchFiles::add_file(const char* what, const std::string& name, std::string_view mark,
                                       std::function<void(File&)> last) {
  return files_.emplace_back(what, name, mark, std::move(last));
}

void WatchFiles::add_trace(const WatchOptions& options) {
  TracePlan plan = plan_of(options);
  locate(plan, options, machine_);
  // The observer is made last, when the file is there to write to.
  const auto trace = std::make_shared<Trace*>(nullptr);
  File& file = add_file("trace", options.trace, Trace::mark(plan), [trace](File&) { (*trace)->finish(); });
  file.only_failure = options.trace_on_failure;
  auto observer = std::make_unique<Trace>(machine_, plan, [&file](std::string_view text) { file.write(text); });
  *trace = observer.get();
  observers_.push_back(std::move(observer));
}

void WatchFiles::add_waveform(const WatchOptions& options) {
  const auto waveform = std::make_shared<Waveform*>(nullptr);
  File& file = add_file("waveform", options.waveform, Waveform::kMark, [waveform](File&) { (*waveform)->finish(); });
  try {
    auto observer =
        std::make_unique<Waveform>(machine_, options.waveform_of, [&file](std::string_view text) { file.write(text); });
    *waveform = observer.get();
    observers_.push_back(std::move(observer));
  } catch (const InputError& error) {
    std::vector<Fault> faults = error.faults();
    for (Fault& fault : faults) fault.place.file = "--waveform-of";
    throw InputError(std::move(faults));
  }
}

void WatchFiles::add_coverage(const WatchOptions& options) {
  auto observer = std::make_unique<Coverage>(machine_);
  for (const std::string& name : options.coverage) {
    const bool listing = extension(name) == ".txt";
    add_file("coverage", name, listing ? kListingMark : kTracefileMark,
             [listing, coverage = observer.get()](File& file) {
               file.write(listing ? annotated_listing(*coverage) : lcov_tracefile(*coverage));
             });
  }
  observers_.push_back(std::move(observer));
}

void WatchFiles::add_profiles(const WatchOptions& options) {
  auto observer = std::make_unique<Profile>(machine_);
  for (const std::string& name : options.profiles) {
    const bool tables = extension(name) == ".txt";
    add_file(
        "profile", name, tables ? Profile::kTextMark : Profile::kFoldedMark,
        [tables, profile = observer.get()](File& file) { file.write(tables ? profile->text() : profile->folded()); });
  }
  observers_.push_back(std::move(observer));
}

std::uint64_t WatchFiles::bytes() const {
  std::uint64_t bytes = 0;
  for (const File& file : files_) bytes += file.bytes();
  return bytes;
}

void WatchFiles::check() const {
  for (const File& file : files_) file.check();
}

std::vector<WatchFiles::Written> WatchFiles::written(bool failed) const {
  std::vector<Written> written;
  for (const File& file : files_) {
    if (failed || !file.only_failure) written.push_back({file.what(), file.name()});
  }
  return written;
}

void WatchFiles::finish(bool failed) {
  for (File& file : files_) file.complete();
  for (File& file : files_) {
    if (failed || !file.only_failure) file.take_name();
  }
}

}  // namespace prewire::front::cli
