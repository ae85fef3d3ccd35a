#include "test_report.h"

#include <fmt/format.h>

#include <algorithm>
#include <string_view>

#include "handout/markup.h"
#include "shared/json_text.h"

namespace prewire::front::cli {

namespace {

using handout::escaped;

/// A name for a shell, in single quotes.
std::string in_shell(std::string_view text) {
  std::string quoted = "'";
  for (const char c : text) quoted += c == '\'' ? std::string("'\\''") : std::string(1, c);
  return quoted + "'";
}

/// A pattern that fits the name itself: no pattern has a way to write a star, so ? stands for it.
std::string as_pattern(std::string name) {
  for (char& c : name) c = c == '*' ? '?' : c;
  return name;
}

std::string again(const Task& task) {
  const std::string root = task.root.empty() ? "" : fmt::format(" --root {}", in_shell(task.root));
  return fmt::format("prewire test {} --filter {}{}", in_shell(task.file), in_shell(as_pattern(task.name())), root);
}

std::string indented(const std::string& text, std::string_view indent) {
  std::string result;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t end = std::min(text.find('\n', at), text.size());
    result += fmt::format("{}{}\n", indent, text.substr(at, end - at));
    at = end + 1;
  }
  return result;
}

std::string moment_text(Stamp when, const Timebase& timebase) {
  return fmt::format("{} (cycle {})", format_quantity(timebase.span_of_stamp(when), Unit::picoseconds), when / 4);
}

class TextResults final : public TestReport {
 public:
  TextResults(Output& out, bool quiet) : out_(out), quiet_(quiet) {}
  void begin(std::size_t /*checks*/) override {}
  void verdict(const Verdict& verdict, const TestLine& line) override {
    if (verdict.kind == Verdict::Kind::passed && quiet_) return;
    const std::string name = line.name.empty() ? "" : fmt::format(": {}", line.name);
    out_.print(
        printable(fmt::format("{:<7} {}{}\n{}", to_string(line.kind), line.file, name, indented(line.text, "    "))));
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
    std::string name = line.file + (line.name.empty() ? "" : ": " + line.name);
    for (char& c : name) c = c == '#' || c == '\n' || c == '\r' ? '_' : c;
    const bool ok = line.kind == Verdict::Kind::passed;
    out_.print(
        printable(fmt::format("{} {} - {}\n{}", ok ? "ok" : "not ok", ++number_, name, indented(line.text, "# "))));
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
    Json entry{{"file", line.file}};
    if (verdict.task->check) {
      entry["check"] = line.name;
      entry["machine"] = line.machine;
      entry["tags"] = verdict.task->check->tags();
    }
    entry["verdict"] = to_string(line.kind);
    if (!line.why.empty()) entry["why"] = line.why;
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
    Json& findings = entry["findings"] = Json::array();
    for (const Finding& finding : result.findings) {
      findings.push_back({{"id", finding.id},
                          {"weight", to_string(finding.weight)},
                          {"count", finding.count},
                          {"cycle", finding.first},
                          {"message", finding.message}});
    }
    Json& timeline = entry["timeline"] = Json::array();
    for (const Onlooker::Event& event : result.timeline) {
      timeline.push_back({{"ms", static_cast<double>(result.timebase.span_of_stamp(event.when)) / 1e9},
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

std::string in_attribute(std::string_view text) {
  std::string result = escaped(text);
  for (char& c : result) c = c == '\n' || c == '\r' || c == '\t' ? ' ' : c;
  return result;
}

std::string in_csv(std::string_view text) {
  std::string result = "\"";
  for (const char c : text) result += c == '"' ? std::string("\"\"") : std::string(1, c);
  return result + "\"";
}

}  // namespace

std::string failure_text(const Verdict& verdict) {
  std::string text;
  if (verdict.kind == Verdict::Kind::passed) return text;
  if (verdict.kind == Verdict::Kind::error) {
    for (const Fault& fault : verdict.faults) text += to_string(fault);
    return text;
  }
  const CheckResult& result = verdict.result;
  text = result.why + "\n";
  for (const ExpectationResult& expectation : result.expectations) {
    if (expectation.met) continue;
    const std::string place = expectation.place.line > 0 ? fmt::format("  (line {})", expectation.place.line) : "";
    text += fmt::format("expected: {}{}\n", expectation.expected, place);
    text += fmt::format("found:    {}, at {}\n", expectation.found, moment_text(expectation.when, result.timebase));
  }
  if (!result.way.empty()) text += "the way there:\n";
  for (const CheckStep& step : result.way) {
    const PastInstruction& past = step.instruction;
    std::string line = fmt::format("  cycle {:<9} ${:04X}  {:<20} {}", past.cycle, past.pc, past.text, past.registers);
    if (!step.source.empty()) {
      const std::size_t first = step.line.find_first_not_of(" \t");
      line += fmt::format("  {}: {}", step.source, first == std::string::npos ? "" : step.line.substr(first));
    }
    text += line + "\n";
  }
  return text + fmt::format("again:    {}\n", again(*verdict.task));
}

TestLine test_line(const Verdict& verdict, bool wall_time) {
  TestLine line{.kind = verdict.kind, .file = verdict.task->file, .name = verdict.task->name()};
  if (verdict.task->check) {
    line.machine = verdict.task->check->machine();
    line.tags = fmt::format("{}", fmt::join(verdict.task->check->tags(), " "));
  }
  if (verdict.kind == Verdict::Kind::error) {
    line.why = verdict.faults.empty() ? "" : fmt::format("{} [{}]", verdict.faults[0].what, verdict.faults[0].id);
  } else {
    line.why = verdict.result.why;
    line.cycles = verdict.result.cycles;
    line.seconds = static_cast<double>(verdict.result.span) / 1e12;
  }
  line.text = failure_text(verdict);
  if (wall_time) line.seconds = verdict.seconds;
  return line;
}

TestSum sum_of(const std::vector<TestLine>& lines) {
  TestSum sum;
  for (const TestLine& line : lines) {
    ++(line.kind == Verdict::Kind::passed ? sum.passed : line.kind == Verdict::Kind::failed ? sum.failed : sum.errors);
  }
  return sum;
}

std::unique_ptr<TestReport> test_text_report(Output& out, bool quiet) {
  return std::make_unique<TextResults>(out, quiet);
}
std::unique_ptr<TestReport> test_tap_report(Output& out) { return std::make_unique<TapResults>(out); }
std::unique_ptr<TestReport> test_json_report(Output& out) { return std::make_unique<JsonResults>(out); }

std::string junit_file(const std::vector<TestLine>& lines) {
  const auto counts = [](const std::vector<TestLine>& of) {
    const TestSum sum = sum_of(of);
    double seconds = 0;
    for (const TestLine& line : of) seconds += line.seconds;
    return fmt::format("tests=\"{}\" failures=\"{}\" errors=\"{}\" time=\"{:.6f}\"", sum.all(), sum.failed, sum.errors,
                       seconds);
  };
  std::string text = fmt::format("{} {}>\n", kJunitMark, counts(lines));
  for (std::size_t at = 0; at < lines.size();) {
    // A suite for each file; its checks stand together.
    std::vector<TestLine> suite;
    while (at < lines.size() && (suite.empty() || lines[at].file == suite[0].file)) suite.push_back(lines[at++]);
    text += fmt::format("  <testsuite name=\"{}\" {} skipped=\"0\">\n", in_attribute(suite[0].file), counts(suite));
    for (const TestLine& line : suite) {
      text +=
          fmt::format("    <testcase name=\"{}\" classname=\"{}\" time=\"{:.6f}\"",
                      in_attribute(line.name.empty() ? "(file)" : line.name), in_attribute(line.file), line.seconds);
      if (line.kind == Verdict::Kind::passed) {
        text += "/>\n";
        continue;
      }
      const char* element = line.kind == Verdict::Kind::failed ? "failure" : "error";
      text += fmt::format(">\n      <{0} type=\"{1}\" message=\"{2}\">{3}</{0}>\n    </testcase>\n", element,
                          line.kind == Verdict::Kind::failed ? "check" : "input", in_attribute(line.why),
                          escaped(line.text));
    }
    text += "  </testsuite>\n";
  }
  return text + "</testsuites>\n";
}

std::string csv_file(const std::vector<TestLine>& lines) {
  std::string text = kCsvMark;
  for (const TestLine& line : lines) {
    text += fmt::format("{},{},{},{},{},{},{:.6f},{}\r\n", in_csv(line.file), in_csv(line.name), in_csv(line.machine),
                        in_csv(line.tags), to_string(line.kind), line.cycles, line.seconds, in_csv(line.why));
  }
  return text;
}

std::string html_file(const std::vector<TestLine>& lines) {
  const TestSum sum = sum_of(lines);
  std::string text = kHtmlMark;
  text += fmt::format(
      "<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
      "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>Lab checks: {} of {} passed"
      "</title>\n<style>\n"
      "body {{ font: 16px/1.5 sans-serif; margin: 2em auto; max-width: 60em; padding: 0 1em; color: #1a1a1a; "
      "background: #fff }}\n"
      "table {{ border-collapse: collapse; width: 100% }}\n"
      "th, td {{ text-align: left; vertical-align: top; padding: .3em .6em; border-bottom: 1px solid #ccc }}\n"
      ".passed {{ color: #0b5d1e }} .failed {{ color: #9c1c1c }} .error {{ color: #7a4b00 }}\n"
      "pre {{ overflow-x: auto; background: #f4f4f4; padding: .6em; font-size: 13px }}\n"
      "@media (prefers-color-scheme: dark) {{ body {{ color: #e8e8e8; background: #181818 }} pre {{ background: "
      "#262626 "
      "}} th, td {{ border-color: #444 }} .passed {{ color: #7fd492 }} .failed {{ color: #ff9a9a }} .error {{ color: "
      "#f0c070 }} }}\n"
      "</style>\n</head>\n<body>\n<h1>Lab checks</h1>\n"
      "<p>{} passed, {} failed, {}.</p>\n<table>\n"
      "<thead><tr><th scope=\"col\">Verdict</th><th scope=\"col\">File</th><th scope=\"col\">Check</th>"
      "<th scope=\"col\">Seconds</th></tr></thead>\n<tbody>\n",
      sum.passed, sum.all(), sum.passed, sum.failed, counted(sum.errors, "error"));
  for (const TestLine& line : lines) {
    text += fmt::format("<tr><td class=\"{0}\">{0}</td><td>{1}</td><td>{2}", to_string(line.kind), escaped(line.file),
                        escaped(line.name));
    if (!line.text.empty()) {
      text +=
          fmt::format("<details><summary>{}</summary><pre>{}</pre></details>", escaped(line.why), escaped(line.text));
    }
    text += fmt::format("</td><td>{:.3f}</td></tr>\n", line.seconds);
  }
  return text + "</tbody>\n</table>\n</body>\n</html>\n";
}

}  // namespace prewire::front::cli
