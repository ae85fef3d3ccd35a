#include "view.h"

#include <fmt/format.h>

#include "desk/session/session.h"
#include "prewire/cases.h"
#include "see.h"

namespace prewire::front::desk {

namespace {

std::string state_word(const Session& session, const Machine& machine) {
  if (session.busy()) {
    if (machine.cpu().state() == CpuState::stuck) return "STUCK";
    return "RUN";
  }
  switch (machine.cpu().state()) {
    case CpuState::stuck: return "STUCK";
    case CpuState::halted: return "HALT";
    case CpuState::reset: return "RESET";
    default: return "STOP";
  }
}

/// 1234567 as "1 234 567".
std::string grouped(Cycle number) {
  std::string text = std::to_string(number);
  for (auto at = static_cast<std::ptrdiff_t>(text.size()) - 3; at > 0; at -= 3) {
    text.insert(static_cast<std::size_t>(at), 1, ' ');
  }
  return text;
}

std::string time_text(const Machine& machine) {
  const double ms = machine.timebase().milliseconds(stamp_of(machine.now()));
  return ms < 100'000 ? fmt::format("{:.3f} ms", ms) : fmt::format("{:.3f} s", ms / 1000);
}

void see_findings(const Machine& machine, View& view) {
  // What went wrong first stands first: a fault of the wiring, else the first case.
  const auto wiring = [&](bool heavy) {
    for (const Fault& remark : machine.remarks()) {
      if ((remark.weight != Weight::hint) != heavy) continue;
      std::string when = remark.place.line > 0 ? fmt::format("line {}", remark.place.line) : remark.place.file;
      view.findings.push_back({remark.weight, when, remark.what, remark.hint});
    }
  };
  wiring(true);
  const CaseReport report = gather_cases(machine.findings());
  for (std::size_t i = 0; i < report.roots; ++i) {
    const Case& told = report.cases[i];
    const Finding& finding = machine.findings()[told.finding];
    std::string when = fmt::format("cycle {}", grouped(finding.first));
    when += finding.source.empty() ? fmt::format(", at ${:04X}", finding.pc) : ", " + finding.source;
    std::string hint = finding.hint;
    const std::string effects = effects_text(report, told, machine.findings());
    if (!effects.empty()) hint += fmt::format(" (from it: {})", effects);
    view.findings.push_back({finding.weight, when, finding.message, std::move(hint)});
  }
  wiring(false);
}

}  // namespace

View look_at(const Session& session, const Choices& choices, const Room& room, bool inside) {
  View view;
  view.file = session.file().filename().string();
  view.faults = session.faults();
  view.faults_omitted = session.faults_omitted();
  view.why = choices.note.empty() ? session.why() : choices.note;
  view.speed = session.pace().text();
  const Machine* machine = session.machine();
  if (machine == nullptr) {
    view.title = view.file;
    view.state_word = view.faults.empty() ? "" : "FAULT";
    return view;
  }
  view.title = machine->title();
  view.processor =
      fmt::format("{}, {}", machine->cpu().type(), format_quantity(machine->timebase().millihertz(), Unit::millihertz));
  view.state = session.running() ? RunState::running : session.busy() ? RunState::searching : RunState::stopped;
  view.state_word = state_word(session, *machine);
  if (session.factor() > 0) {
    const double factor = session.factor();
    view.speed += factor >= 10      ? fmt::format("  x{:.0f}", factor)
                  : factor >= 0.005 ? fmt::format("  x{:.2f}", factor)
                                    : fmt::format("  x{:.1e}", factor);
  }
  view.time = fmt::format("cycle {}  {}", grouped(machine->now()), time_text(*machine));
  see_parts(session, view);
  see_program(session, choices, room.program_rows, view);
  see_memory_place(session, choices, view);
  if (inside) {
    see_processor(session, view);
    see_memory(session, choices, room, view);
    see_bus(session, choices, room.bus_cells, view);
  }
  see_findings(*machine, view);
  for (const StopPoint& point : session.stop_points()) {
    view.stops.push_back({point.text, point.on_address() ? point.first == point.last
                                                               ? fmt::format("${:04X}", point.first)
                                                               : fmt::format("${:04X}-${:04X}", point.first, point.last)
                                                         : point.net});
  }
  if (choices.look == Look::wiring) see_wiring(session, choices, view);
  return view;
}

}  // namespace prewire::front::desk
