// Timeline, findings and summary as one JSON document, for scripts.
#include "report.h"
#include "shared/case_json.h"
#include "shared/json_text.h"

namespace prewire::front::cli {

namespace {

class JsonReport final : public Report {
 public:
  explicit JsonReport(Output& out) : out_(out) {}

  void begin(const Machine& machine) override {
    document_["machine"] = machine.title();
    document_["timeline"] = Json::array();
  }

  void event(const Machine& machine, const Event& event) override {
    Json entry{{"ms", machine.timebase().milliseconds(event.when)}, {"event", to_string(event.kind)}};
    switch (event.kind) {
      case Event::Kind::input:
        entry["set"] = event.subject;
        entry["to"] = event.text;
        break;
      case Event::Kind::display:
        entry["display"] = event.subject;
        entry["text"] = event.text;
        break;
      case Event::Kind::led:
        entry["led"] = event.subject;
        entry["on"] = event.text == "on";
        break;
      case Event::Kind::finding:
        entry["finding"] = event.subject;
        entry["message"] = event.text;
        break;
    }
    bytes_ += entry.dump(-1, ' ', false, Json::error_handler_t::replace).size();
    document_["timeline"].push_back(std::move(entry));
  }

  void end(const Machine& machine, const Onlooker& onlooker, const Outcome& outcome) override {
    const CaseReport report = gather_cases(machine.findings());
    const auto cause = first_cause(report, machine.findings(), machine.remarks());
    document_["first_cause"] = cause ? to_json(*cause) : Json();
    document_["findings"] = to_json(report, machine.findings());
    Json& expectations = document_["expectations"] = Json::array();
    for (const Outcome::Expectation& expectation : outcome.expectations) {
      Json entry{{"condition", expectation.text}, {"met", expectation.met}};
      if (!expectation.met) entry["found"] = expectation.found;
      expectations.push_back(std::move(entry));
    }
    if (!outcome.answers.empty()) {
      Json& answers = document_["why"] = Json::array();
      for (const Answer& answer : outcome.answers) answers.push_back(to_json(machine, answer));
    }
    document_["summary"] = summary(machine, onlooker, outcome);
    out_.print(print_json(document_));
  }

  std::uint64_t bytes() const override { return bytes_; }

 private:
  static Json summary(const Machine& machine, const Onlooker& onlooker, const Outcome& outcome) {
    const double ms = machine.timebase().milliseconds(stamp_of(machine.now()));
    Json summary{{"end", to_string(outcome.ending)},
                 {"why", outcome.why},
                 {"exit_status", static_cast<int>(outcome.exit)},
                 {"cycles", machine.now()},
                 {"ms", ms}};
    if (outcome.wall_seconds) {
      summary["wall_ms"] = *outcome.wall_seconds * 1e3;
      summary["times_real_time"] = ms / 1e3 / *outcome.wall_seconds;
    }
    const Cpu& cpu = machine.cpu();
    Json registers = Json::object();
    for (std::size_t i = 0; i < cpu.registers().size(); ++i)
      registers[std::string(cpu.registers()[i].name)] = cpu.get(i);
    summary["processor"] = {
        {"type", cpu.type()}, {"state", to_string(cpu.state())}, {"pc", cpu.pc()}, {"registers", std::move(registers)}};
    Json& displays = summary["displays"] = Json::object();
    for (const std::string& group : machine.displays()) displays[group] = onlooker.text(group);
    Json& leds = summary["leds"] = Json::object();
    for (const Onlooker::Lit& led : onlooker.leds()) leds[led.name] = led.on;
    summary["inputs_to_come"] = onlooker.inputs_to_come();
    Json& files = summary["files"] = Json::array();
    for (const WatchFiles::Written& each : outcome.files) files.push_back({{"what", each.what}, {"file", each.file}});
    if (outcome.way_here.empty()) return summary;
    Json& way = summary["way_here"] = Json::array();
    for (const PastInstruction& past : outcome.way_here) {
      way.push_back({{"cycle", past.cycle}, {"pc", past.pc}, {"text", past.text}, {"registers", past.registers}});
    }
    return summary;
  }

  Output& out_;
  Json document_;
  std::uint64_t bytes_ = 0;
};

}  // namespace

std::unique_ptr<Report> json_report(Output& out) { return std::make_unique<JsonReport>(out); }

}  // namespace prewire::front::cli
