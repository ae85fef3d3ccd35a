#include "deed.h"

#include <fmt/format.h>

#include <algorithm>

#include "cli/json_text.h"

namespace prewire::desk {

bool apply(Machine& machine, const Deed& deed) {
  switch (deed.kind) {
    case Deed::Kind::input: machine.set(deed.part, deed.value); return true;
    case Deed::Kind::reset: machine.reset(); return true;
    case Deed::Kind::poke: return machine.poke(deed.address, static_cast<std::uint8_t>(deed.number));
    case Deed::Kind::change_register: return machine.cpu().set(deed.address, deed.number);
  }
  return false;
}

std::string stimulus_file(const std::vector<Stimulus>& planned, const std::vector<Deed>& deeds,
                          const Machine& machine) {
  struct Line {
    Stamp when;
    std::string at, part, value;
  };
  std::vector<Line> lines;
  for (const Stimulus& stimulus : planned) {
    const Stamp when = stimulus.at.stamp(machine.timebase());
    if (when > stamp_of(machine.now())) continue;
    lines.push_back({when,
                     stimulus.at.in_cycles ? fmt::format("{} cycles", stimulus.at.count)
                                           : format_quantity(stimulus.at.count, Unit::picoseconds),
                     stimulus.part, stimulus.value});
  }
  for (const Deed& deed : deeds) {
    const auto add = [&](Cycle cycle, const std::string& part, const std::string& value) {
      lines.push_back({stamp_of(cycle), fmt::format("{} cycles", cycle), part, value});
    };
    if (deed.kind == Deed::Kind::input) add(deed.when, deed.part, deed.value);
    if (deed.kind == Deed::Kind::reset) {
      add(deed.when, "RESET", "pressed");
      add(deed.when + 8, "RESET", "released");
    }
  }
  std::stable_sort(lines.begin(), lines.end(), [](const Line& a, const Line& b) { return a.when < b.when; });
  cli::Json list = cli::Json::array();
  for (const Line& line : lines) list.push_back({{"at", line.at}, {"set", line.part}, {"to", line.value}});
  return cli::print_json({{"stimulus", list}});
}

}  // namespace prewire::desk
