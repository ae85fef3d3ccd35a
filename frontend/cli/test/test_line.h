// A verdict in a few words, and how many of which kind there are.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "prewire/cases.h"
#include "test_runner.h"

namespace prewire::front::cli {

/// What is kept of each verdict for a table.
struct TestLine {
  Verdict::Kind kind = Verdict::Kind::error;
  std::string file{}, name{}, machine{}, tags{};
  std::string why{};        ///< of a failure or an error, in one line
  std::string text{};       ///< the same with all that belongs to it; empty if it passed
  std::string cause{};      ///< rule of what went wrong first; empty if nothing was found
  std::string cause_why{};  ///< that in one line
  Cycle cycles = 0;
  double seconds = 0;  ///< real time, or the emulated time unless it was asked for
};

struct TestSum {
  std::size_t passed = 0, failed = 0, errors = 0;
  std::size_t all() const { return passed + failed + errors; }
};

/// Counts one more.
void count_in(TestSum& sum, Verdict::Kind kind);
TestSum sum_of(const std::vector<TestLine>& lines);

TestLine test_line(const Verdict& verdict, bool wall_time);

/// What went wrong first in a check that has run, whether it failed or not.
std::optional<FirstCause> cause_of(const Verdict& verdict);

}  // namespace prewire::front::cli
