// What `prewire test` has to say, in one form or another.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "shared/output.h"
#include "test_runner.h"

namespace prewire::front::cli {

/// What is kept of each verdict for a table.
struct TestLine {
  Verdict::Kind kind = Verdict::Kind::error;
  std::string file{}, name{}, machine{}, tags{};
  std::string why{};   ///< of a failure or an error, in one line
  std::string text{};  ///< the same with all that belongs to it; empty if it passed
  Cycle cycles = 0;
  double seconds = 0;  ///< real time, or the emulated time unless it was asked for
};

struct TestSum {
  std::size_t passed = 0, failed = 0, errors = 0;
  std::size_t all() const { return passed + failed + errors; }
};

TestSum sum_of(const std::vector<TestLine>& lines);

/// A failure as a person reads it: expected and found, the way there, how to run it again.
std::string failure_text(const Verdict& verdict);
TestLine test_line(const Verdict& verdict, bool wall_time);

/// Prints verdicts as they come.
class TestReport {
 public:
  virtual ~TestReport() = default;
  virtual void begin(std::size_t checks) = 0;
  virtual void verdict(const Verdict& verdict, const TestLine& line) = 0;
  virtual void end(const std::vector<TestLine>& lines) = 0;
};

std::unique_ptr<TestReport> test_text_report(Output& out, bool quiet);
/// Test Anything Protocol, version 13.
std::unique_ptr<TestReport> test_tap_report(Output& out);
std::unique_ptr<TestReport> test_json_report(Output& out);

// Files about the whole, in the style of the trade.
std::string junit_file(const std::vector<TestLine>& lines);
std::string csv_file(const std::vector<TestLine>& lines);
std::string html_file(const std::vector<TestLine>& lines);

// How they begin: only older ones are replaced.
inline constexpr const char* kJunitMark =
    "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<testsuites name=\"prewire test\"";
inline constexpr const char* kCsvMark = "file,check,machine,tags,verdict,cycles,seconds,why\r\n";
inline constexpr const char* kHtmlMark = "<!DOCTYPE html>\n<!-- prewire test -->\n";

}  // namespace prewire::front::cli
