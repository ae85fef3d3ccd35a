// What `prewire test` prints, in one form or another.
#pragma once

#include <memory>
#include <vector>

#include "shared/output.h"
#include "test_line.h"

namespace prewire::front::cli {

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

}  // namespace prewire::front::cli
