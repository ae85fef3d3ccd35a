// Timeline and summary for people.
#include <fmt/format.h>

#include "prewire/cases.h"
#include "prewire/text.h"
#include "report.h"
#include "shared/caution.h"

namespace prewire::front::cli {

namespace {

/// "$F810, gauge.asm:42", without the source where it is not known.
std::string place_of(const Machine& machine, std::uint16_t pc) {
  const auto source = machine.source_at(pc);
  return source ? fmt::format("${:04X}, {}", pc, to_string(*source)) : fmt::format("${:04X}", pc);
}

std::string event_text(const Event& event) {
  switch (event.kind) {
    case Event::Kind::input: return fmt::format("{} set to {}", event.subject, event.text);
    case Event::Kind::display: return fmt::format("{} \"{}\"", event.subject, event.text);
    case Event::Kind::led: return fmt::format("{} {}", event.subject, event.text);
    case Event::Kind::finding: return fmt::format("{}: {} [{}]", to_string(event.weight), event.text, event.subject);
  }
  return "";
}

class TextReport final : public Report {
 public:
  explicit TextReport(Output& out) : out_(out), before_(out.bytes()) {}

  void begin(const Machine& machine) override {
    out_.print(fmt::format("{} ({}, {})\n", machine.title(), machine.cpu().type(),
                           format_quantity(machine.timebase().millihertz(), Unit::millihertz)));
    out_.flush();
  }

  void event(const Machine& machine, const Event& event) override {
    const bool finding = event.kind == Event::Kind::finding;
    if (finding && told_ == kTold + 1) return;
    if (finding && ++told_ == kTold + 1) {
      out_.print(fmt::format("{:>15}  {:<8} more are told at the end\n", "", to_string(event.kind)));
      return;
    }
    out_.print(fmt::format("{:>15}  {:<8} {}\n", milliseconds(machine, event.when), to_string(event.kind),
                           printable(event_text(event))));
    if (finding && told_ > kTold / 2) return;
    if (finding && event.when > 0) {
      out_.print(fmt::format("{:25}at {}, cycle {}\n", "", place_of(machine, event.pc), event.when / 4));
    }
    if (!event.hint.empty()) out_.print(fmt::format("{:25}hint: {}\n", "", printable(event.hint)));
    out_.flush();
  }

  void end(const Machine& machine, const Onlooker& onlooker, const Outcome& outcome) override {
    out_.print("\n");
    line("end", outcome.why);
    const Stamp end = stamp_of(machine.now());
    std::string time = fmt::format("{}, {}", counted(machine.now(), "cycle"), milliseconds(machine, end));
    if (outcome.wall_seconds) {
      const double seconds = *outcome.wall_seconds;
      const std::string wall = seconds < 1 ? fmt::format("{:.1f} ms", seconds * 1e3) : fmt::format("{:.2f} s", seconds);
      time += fmt::format(" in {}: {:.1f} times real time", wall, machine.timebase().seconds(end) / seconds);
    }
    line("time", time);
    line("processor", fmt::format("{} at ${:04X}", to_string(machine.cpu().state()), machine.cpu().pc()));
    line("", to_string(machine.cpu()));
    for (const std::string& group : machine.displays()) {
      line("display", fmt::format("{} \"{}\"", group, onlooker.text(group)));
    }
    for (const Onlooker::Lit& led : onlooker.leds()) {
      line("led", fmt::format("{} {}", led.name, led.on ? "on" : "off"));
    }
    if (onlooker.inputs_to_come() > 0) line("input", fmt::format("{} still to come", onlooker.inputs_to_come()));
    cases(machine);
    for (const Outcome::Expectation& expectation : outcome.expectations) {
      line("expected", fmt::format("{}: {}", expectation.text, expectation.met ? "met" : "not met"));
    }
    for (const WatchFiles::Written& each : outcome.files) line(each.what, each.file);
    if (!outcome.way_here.empty()) line("way here", "");
    for (const PastInstruction& past : outcome.way_here) {
      line("", fmt::format("cycle {:<8} ${:04X}  {:<20} {}", past.cycle, past.pc, past.text, past.registers));
    }
    for (const Answer& answer : outcome.answers) {
      line("why", answer.question.text);
      for (const std::string& text : tell(machine, answer)) line("", text);
    }
    if (outcome.exit == Exit::ok) line("note", kCaution);
  }

  std::uint64_t bytes() const override { return out_.bytes() - before_; }

 private:
  // What is told of findings fits on a screen: so many as they come, half of them with place and hint, and so many at
  // the end.
  static constexpr int kTold = 8;
  static constexpr std::size_t kSummed = 8;

  void cases(const Machine& machine) {
    const std::vector<Finding>& findings = machine.findings();
    const CaseReport report = gather_cases(findings);
    const auto cause = first_cause(report, findings, machine.remarks());
    if (cause) {
      line("cause", fmt::format("{}: {} [{}] {}", to_string(cause->weight), cause->what, cause->id, cause->where));
      if (!cause->next.empty()) line("", "next: " + cause->next);
      if (!cause->effects.empty()) line("", "from it: " + cause->effects);
    }
    const std::size_t first = cause && !cause->wiring ? 1 : 0;
    std::size_t left = report.roots - first;
    for (std::size_t i = first; i < report.roots && i < first + kSummed; ++i, --left) {
      const Case& told = report.cases[i];
      const Finding& finding = findings[told.finding];
      const std::string effects = effects_text(report, told, findings);
      line("finding", fmt::format("{}: {} [{}] {}{}{}", to_string(finding.weight), finding.message, finding.id,
                                  times_text(told), finding.first > 0 ? ", first at " + where_text(finding) : "",
                                  effects.empty() ? "" : "; from it: " + effects));
    }
    if (left > 0) line("finding", fmt::format("and {} more; --json has all", left));
  }

  void line(std::string_view what, std::string_view text) {
    std::string whole = fmt::format("{:<10} {}", what, text);
    whole.erase(whole.find_last_not_of(' ') + 1);
    out_.print(printable(whole) + "\n");
  }

  Output& out_;
  const std::uint64_t before_;
  int told_ = 0;  // findings, as they came
};

class NoReport final : public Report {
 public:
  void begin(const Machine&) override {}
  void event(const Machine&, const Event&) override {}
  void end(const Machine&, const Onlooker&, const Outcome&) override {}
  std::uint64_t bytes() const override { return 0; }
};

}  // namespace

std::string_view to_string(Ending ending) {
  switch (ending) {
    case Ending::time_over: return "time over";
    case Ending::condition: return "condition";
    case Ending::undefined_opcode: return "undefined opcode";
    case Ending::cycle_limit: return "cycle limit";
    case Ending::wall_limit: return "wall limit";
    case Ending::output_limit: return "output limit";
    case Ending::interrupted: return "interrupted";
  }
  return "";
}

std::unique_ptr<Report> text_report(Output& out) { return std::make_unique<TextReport>(out); }
std::unique_ptr<Report> no_report() { return std::make_unique<NoReport>(); }

}  // namespace prewire::front::cli
