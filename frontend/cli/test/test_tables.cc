#include "test_tables.h"

#include <fmt/format.h>

#include <string_view>

#include "handout/markup.h"
#include "prewire/text.h"

namespace prewire::front::cli {

namespace {

using handout::escaped;

std::string in_attribute(std::string_view text) { return escaped(printable(text)); }

/// Why, and what went wrong first.
std::string headline(const TestLine& line) {
  return line.cause_why.empty() ? line.why : fmt::format("{}; {}", line.why, line.cause_why);
}

/// In quotation marks even where it need not be.
std::string in_csv(std::string_view text) {
  const std::string cell = csv_cell(text);
  return cell.starts_with('"') ? cell : '"' + cell + '"';
}

}  // namespace

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
                          line.kind == Verdict::Kind::failed ? "check" : "input", in_attribute(headline(line)),
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
    text += fmt::format("<tr><td class=\"{0}\">{0}</td><td>{1}</td><td>{2}", to_string(line.kind),
                        in_attribute(line.file), in_attribute(line.name));
    if (!line.text.empty()) {
      text += fmt::format("<details><summary>{}</summary><pre>{}</pre></details>", escaped(headline(line)),
                          escaped(line.text));
    }
    text += fmt::format("</td><td>{:.3f}</td></tr>\n", line.seconds);
  }
  return text + "</tbody>\n</table>\n</body>\n</html>\n";
}

}  // namespace prewire::front::cli
