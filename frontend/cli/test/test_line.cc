#include "test_line.h"

#include <fmt/format.h>

#include <span>

#include "prewire/cases.h"
#include "prewire/text.h"

namespace prewire::front::cli {

namespace {

std::string moment_text(Stamp when, const Timebase& timebase) {
  return fmt::format("{} (cycle {})", format_time(when, timebase), when / 4);
}

/// As a person reads it: expected and found, the way there, how to run it again.
std::string failure_text(const Verdict& verdict, const std::optional<FirstCause>& cause) {
  std::string text;
  if (verdict.kind == Verdict::Kind::passed) return text;
  if (verdict.kind == Verdict::Kind::error) {
    for (const Fault& fault : verdict.faults) text += to_string(fault);
    return text;
  }
  const CheckResult& result = verdict.result;
  text = printable(result.why) + "\n";
  if (cause) {
    text += fmt::format("cause:    {}: {} [{}] {}\n", to_string(cause->weight), printable(cause->what), cause->id,
                        cause->where);
    if (!cause->next.empty()) text += fmt::format("next:     {}\n", printable(cause->next));
    if (!cause->effects.empty()) text += fmt::format("from it:  {}\n", cause->effects);
  }
  for (const ExpectationResult& expectation : result.expectations) {
    if (expectation.met) continue;
    const std::string place = expectation.place.line > 0 ? fmt::format("  (line {})", expectation.place.line) : "";
    text += fmt::format("expected: {}{}\n", printable(expectation.expected), place);
    text += fmt::format("found:    {}, at {}\n", printable(expectation.found),
                        moment_text(expectation.when, result.timebase));
  }
  if (!result.way.empty()) text += "the way there:\n";
  for (const CheckStep& step : result.way) {
    const PastInstruction& past = step.instruction;
    std::string line = fmt::format("  cycle {:<9} ${:04X}  {:<20} {}", past.cycle, past.pc, past.text, past.registers);
    if (!step.source.empty()) {
      const std::size_t first = step.line.find_first_not_of(" \t");
      line += fmt::format("  {}: {}", step.source, first == std::string::npos ? "" : step.line.substr(first));
    }
    text += printable(line, "\t") + "\n";
  }
  for (const std::string& file : verdict.artifacts) text += fmt::format("written:  {}\n", printable(file));
  return text + fmt::format("again:    {}\n", verdict.task->again);
}

}  // namespace

TestLine test_line(const Verdict& verdict, bool wall_time) {
  TestLine line{.kind = verdict.kind, .file = verdict.task->file, .name = verdict.task->name()};
  if (!verdict.task->owner.empty()) line.file = verdict.task->owner;
  if (verdict.task->check) {
    line.machine = verdict.task->check->machine();
    line.tags = fmt::format("{}", fmt::join(verdict.task->check->tags(), " "));
  }
  if (verdict.kind == Verdict::Kind::error) {
    line.why = verdict.faults.empty() ? "" : fmt::format("{} [{}]", verdict.faults[0].what, verdict.faults[0].id);
  } else {
    line.why = verdict.result.why;
    line.cycles = verdict.result.cycles;
    line.seconds = verdict.result.timebase.seconds(stamp_of(verdict.result.cycles));
  }
  const bool failed = verdict.kind == Verdict::Kind::failed;
  const std::optional<FirstCause> cause = failed ? cause_of(verdict) : std::nullopt;
  if (cause) {
    line.cause = cause->id;
    line.cause_why = fmt::format("{} [{}]", cause->what, cause->id);
  }
  line.text = failure_text(verdict, cause);
  if (wall_time) line.seconds = verdict.seconds;
  return line;
}

std::optional<FirstCause> cause_of(const Verdict& verdict) {
  if (verdict.kind == Verdict::Kind::error) return std::nullopt;
  const CheckResult& result = verdict.result;
  // The board is not the student's: what is wrong with it is no cause of a failure of theirs.
  const bool own_board = verdict.task->owner.empty();
  return first_cause(gather_cases(result.findings), result.findings,
                     own_board ? std::span<const Fault>(result.remarks) : std::span<const Fault>());
}

void count_in(TestSum& sum, Verdict::Kind kind) {
  ++(kind == Verdict::Kind::passed ? sum.passed : kind == Verdict::Kind::failed ? sum.failed : sum.errors);
}

TestSum sum_of(const std::vector<TestLine>& lines) {
  TestSum sum;
  for (const TestLine& line : lines) count_in(sum, line.kind);
  return sum;
}

}  // namespace prewire::front::cli
