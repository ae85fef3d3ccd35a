// Timeline and summary for people.
#include <fmt/format.h>

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
    out_.print(
        fmt::format("{:>15}  {:<8} {}\n", milliseconds(machine, event.when), to_string(event.kind),
                    printable(event_text(event))));
    if (event.kind == Event::Kind::finding && event.when > 0) {
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
    for (const Finding& finding : machine.findings()) {
      line("finding", fmt::format("{}: {} [{}] {}{}", to_string(finding.weight), finding.message, finding.id,
                                  finding.count == 1 ? "once" : fmt::format("{} times", finding.count),
                                  finding.first > 0 ? ", first at " + place_of(machine, finding.pc) : ""));
    }
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
  void line(std::string_view what, std::string_view text) {
    std::string whole = fmt::format("{:<10} {}", what, text);
    whole.erase(whole.find_last_not_of(' ') + 1);
    out_.print(printable(whole) + "\n");
  }

  Output& out_;
  const std::uint64_t before_;
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
