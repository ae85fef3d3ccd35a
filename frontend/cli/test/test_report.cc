#include "test_report.h"

#include <fmt/format.h>

#include <algorithm>
#include <string_view>

#include "prewire/text.h"
#include "shared/case_json.h"
#include "shared/json_text.h"

namespace prewire::front::cli {

namespace {

std::string indented(const std::string& text, std::string_view indent) {
  std::string result;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t end = std::min(text.find('\n', at), text.size());
    result += fmt::format("{}{}\n", indent, text.substr(at, end - at));
    at = end + 1;
  }
  return result;
}

/// File and check, in one line.
std::string title(const TestLine& line) {
  return printable(line.file) + (line.name.empty() ? "" : ": " + printable(line.name));
}

class TextResults final : public TestReport {
 public:
  TextResults(Output& out, bool quiet) : out_(out), quiet_(quiet) {}
  void begin(std::size_t /*checks*/) override {}
  void verdict(const Verdict& verdict, const TestLine& line) override {
    if (verdict.kind == Verdict::Kind::passed && quiet_) return;
    out_.print(fmt::format("{:<7} {}\n{}", to_string(line.kind), title(line), indented(line.text, "    ")));
    out_.flush();
  }
  void end(const std::vector<TestLine>& lines) override {
    const TestSum sum = sum_of(lines);
    out_.print(fmt::format("{} check{}: {} passed, {} failed, {} error{}\n", sum.all(), sum.all() == 1 ? "" : "s",
                           sum.passed, sum.failed, sum.errors, sum.errors == 1 ? "" : "s"));
  }

 private:
  Output& out_;
  const bool quiet_;
};

class TapResults final : public TestReport {
 public:
  explicit TapResults(Output& out) : out_(out) {}
  void begin(std::size_t checks) override { out_.print(fmt::format("TAP version 13\n1..{}\n", checks)); }
  void verdict(const Verdict& /*verdict*/, const TestLine& line) override {
    // A # would begin a directive.
    std::string name = title(line);
    std::replace(name.begin(), name.end(), '#', '_');
    const bool ok = line.kind == Verdict::Kind::passed;
    out_.print(fmt::format("{} {} - {}\n{}", ok ? "ok" : "not ok", ++number_, name, indented(line.text, "# ")));
    out_.flush();
  }
  void end(const std::vector<TestLine>& /*lines*/) override {}

 private:
  Output& out_;
  std::size_t number_ = 0;
};

Json fault_json(const Fault& fault) {
  Json entry{{"id", fault.id}, {"file", fault.place.file}};
  if (fault.place.line > 0) entry["line"] = fault.place.line;
  if (!fault.place.pointer.empty()) entry["pointer"] = fault.place.pointer;
  entry["what"] = fault.what;
  if (!fault.expected.empty()) entry["expected"] = fault.expected;
  if (!fault.found.empty()) entry["found"] = fault.found;
  if (!fault.hint.empty()) entry["hint"] = fault.hint;
  return entry;
}

class JsonResults final : public TestReport {
 public:
  explicit JsonResults(Output& out) : out_(out) {}
  void begin(std::size_t /*checks*/) override { checks_ = Json::array(); }
  void verdict(const Verdict& verdict, const TestLine& line) override {
    const Task& task = *verdict.task;
    Json entry{{"file", task.file}};
    if (!task.owner.empty()) entry["student"] = task.owner;
    if (task.check) {
      entry["check"] = line.name;
      if (task.seed) entry["seed"] = *task.seed;
      entry["machine"] = line.machine;
      entry["tags"] = verdict.task->check->tags();
    }
    entry["verdict"] = to_string(line.kind);
    if (!task.owner.empty() && task.check) {
      entry["points"] = line.kind == Verdict::Kind::passed ? task.check->points() : 0;
      entry["of"] = task.check->points();
    }
    if (!line.why.empty()) entry["why"] = line.why;
    if (!verdict.artifacts.empty()) entry["artifacts"] = verdict.artifacts;
    if (verdict.kind == Verdict::Kind::error) {
      Json& faults = entry["faults"] = Json::array();
      for (const Fault& fault : verdict.faults) faults.push_back(fault_json(fault));
    } else {
      ran(verdict, line, entry);
    }
    checks_.push_back(std::move(entry));
  }
  void end(const std::vector<TestLine>& lines) override {
    const TestSum sum = sum_of(lines);
    const Json document{{"checks", std::move(checks_)},
                        {"summary", {{"passed", sum.passed}, {"failed", sum.failed}, {"errors", sum.errors}}}};
    out_.print(print_json(document));
  }

 private:
  static void ran(const Verdict& verdict, const TestLine& line, Json& entry) {
    const CheckResult& result = verdict.result;
    entry["cycles"] = result.cycles;
    entry["seconds"] = line.seconds;
    Json& expectations = entry["expectations"] = Json::array();
    for (const ExpectationResult& expectation : result.expectations) {
      Json one{{"expected", expectation.expected}, {"met", expectation.met}};
      if (!expectation.found.empty()) one["found"] = expectation.found;
      one["cycle"] = expectation.when / 4;
      if (expectation.place.line > 0) one["line"] = expectation.place.line;
      expectations.push_back(std::move(one));
    }
    const CaseReport report = gather_cases(result.findings);
    const auto cause = cause_of(verdict);
    entry["first_cause"] = cause ? to_json(*cause) : Json();
    entry["findings"] = to_json(report, result.findings);
    Json& timeline = entry["timeline"] = Json::array();
    for (const Onlooker::Event& event : result.timeline) {
      timeline.push_back({{"ms", result.timebase.milliseconds(event.when)},
                          {"event", to_string(event.kind)},
                          {"name", event.subject},
                          {"value", event.text}});
    }
    if (result.way.empty()) return;
    Json& way = entry["way_here"] = Json::array();
    for (const CheckStep& step : result.way) {
      Json one{{"cycle", step.instruction.cycle},
               {"pc", step.instruction.pc},
               {"text", step.instruction.text},
               {"registers", step.instruction.registers}};
      if (!step.source.empty()) one["source"] = step.source;
      way.push_back(std::move(one));
    }
  }

  Output& out_;
  Json checks_;
};

}  // namespace

std::unique_ptr<TestReport> test_text_report(Output& out, bool quiet) {
  return std::make_unique<TextResults>(out, quiet);
}
std::unique_ptr<TestReport> test_tap_report(Output& out) { return std::make_unique<TapResults>(out); }
std::unique_ptr<TestReport> test_json_report(Output& out) { return std::make_unique<JsonResults>(out); }

}  // namespace prewire::front::cli
