#include "failure_files.h"

#include <fmt/format.h>

#include <cctype>
#include <utility>

#include "shared/new_file.h"

namespace prewire::front::cli {

namespace {

constexpr std::size_t kLastSteps = 2000;
constexpr std::size_t kMostWaves = std::size_t{64} << 20;

/// Up to the failure, if it comes before the machine is switched off.
TracePlan last_steps(Stamp until) {
  TracePlan plan;
  plan.until = TraceMoment{.cycle = cycle_from(until) + 1};
  plan.of = TraceOf::instructions;
  plan.keep = kLastSteps;
  return plan;
}

std::string write_file(const std::string& name, std::string_view mark, const char* what, const std::string& text) {
  NewFile file(name, mark,
               {.refused = "--artifacts does not replace a file that it has not written",
                .replaceable = "an empty folder, or one with older files of the same kind",
                .failed = fmt::format("--artifacts cannot write the {}", what)});
  file.write(text);
  file.close();
  file.take_name();
  return name;
}

}  // namespace

std::string safe_name(std::string_view text) {
  constexpr std::size_t kMost = 80;
  std::string name;
  for (const char c : text.substr(0, kMost)) {
    const bool plain = std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '.' || c == '-';
    if (plain && !(name.empty() && c != '_' && std::isalnum(static_cast<unsigned char>(c)) == 0)) {
      name += c;
    } else if (name.empty() || name.back() != '_') {
      name += '_';
    }
  }
  return name;
}

FailureFiles::FailureFiles(std::string folder, const Task& task, CheckRun& run, Stamp until)
    : folder_(std::move(folder)),
      stem_(fmt::format("{:05}-{}{}{}", task.number, safe_name(task.owner), task.owner.empty() ? "" : "-",
                        safe_name(task.name()))),
      run_(run),
      until_(until) {
  begin();
}

FailureFiles::~FailureFiles() { end(); }

void FailureFiles::begin() {
  waves_.clear();
  steps_.clear();
  large_ = false;
  waveform_.emplace(run_.machine(), std::vector<std::string>{}, [this](std::string_view text) {
    large_ = large_ || waves_.size() + text.size() > kMostWaves;
    if (!large_) waves_ += text;
  });
  trace_.emplace(run_.machine(), last_steps(until_), [this](std::string_view text) { steps_ += text; });
  run_.watch(*waveform_);
  run_.watch(*trace_);
}

void FailureFiles::end() {
  if (waveform_) run_.unwatch(*waveform_);
  if (trace_) run_.unwatch(*trace_);
  waveform_.reset();
  trace_.reset();
}

void FailureFiles::look() {
  const Cycle now = run_.machine().now();
  if (now < last_ && waveform_) {
    end();
    before_ += stamp_of(last_);
    begin();
  }
  last_ = now;
  if (waveform_ && before_ + stamp_of(now) >= until_) {
    waveform_->finish();
    trace_->finish();
    end();
  }
}

std::vector<std::string> FailureFiles::finish() {
  if (waveform_) {
    waveform_->finish();
    trace_->finish();
    end();
  }
  std::vector<std::string> names;
  const std::string start = fmt::format("{}/{}", folder_, stem_);
  if (!large_) names.push_back(write_file(start + ".vcd", Waveform::kMark, "waveform", waves_));
  names.push_back(write_file(start + ".txt", Trace::mark(last_steps(until_)), "trace", steps_));
  return names;
}

}  // namespace prewire::front::cli
