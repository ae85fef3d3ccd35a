#include "handout.h"

#include <fmt/format.h>

namespace prewire::handout {

const std::vector<SectionName>& section_names() {
  static const std::vector<SectionName> kNames{{"notes", kNotes}, {"parts", kParts},     {"selects", kSelects},
                                               {"wires", kWires}, {"diagram", kDiagram}, {"keys", kKeys},
                                               {"shows", kShows}};
  return kNames;
}

Handout make_handout(Machine& machine, unsigned sections, const std::vector<Positions>& positions) {
  Handout handout;
  handout.sections = sections;
  handout.title = machine.title();
  handout.about = machine.about();
  handout.processor = fmt::format("{}, E at {}", machine.processor().type->title,
                                  format_quantity(machine.timebase().millihertz(), Unit::millihertz));
  for (const Fault& remark : machine.remarks()) {
    handout.remarks.push_back(remark.hint.empty() ? remark.what : fmt::format("{}: {}", remark.what, remark.hint));
  }
  if ((sections & kShows) != 0) {
    handout.expected = run_expected(machine, positions.empty() ? usual_positions(machine) : positions);
  }
  handout.board = make_board(machine);
  handout.keys = make_key_sheet(machine);
  return handout;
}

}  // namespace prewire::handout
