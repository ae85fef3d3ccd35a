#include <algorithm>

#include "panels.h"

namespace prewire::front::desk {

void draw_program(const Stage& stage, const Rect& box, const View& view) {
  const auto& [painter, theme, px, hits, choices] = stage;
  const bool lecture = choices.look == Look::lecture;
  Rect inside = stage.panel(box, "program");
  stage.scrolls(box, "program");
  const double size = lecture ? 30 : 19;
  const Type mono = stage.type(Face::mono, size), bold = stage.type(Face::mono_bold, size);
  const int character = std::max(1, painter.width("0", mono));
  if (!lecture) {
    const Rect title = stage.title(inside, "PROGRAM");
    Rect right = title;
    stage.write(right.take_right(px(64)), "CYCLES", stage.type(Face::label_bold, 15), theme.muted, Align::right);
    right.take_left(px(100));
    right.take_right(px(12));
    stage.write(right, view.program_name, stage.type(Face::label, 16), theme.muted);
  }
  std::size_t bytes = 8, label = 4, mnemonic = 4, cycles = 1;
  for (const ProgramRow& row : view.program) {
    bytes = std::max(bytes, row.bytes.size());
    label = std::max(label, std::min<std::size_t>(row.label.size(), 10));
    mnemonic = std::max(mnemonic, row.mnemonic.size());
    cycles = std::max(cycles, row.cycles.size());
  }
  bytes = std::min<std::size_t>(bytes, 14);
  const int line = line_height(inside, px(lines_of(choices.look).program));
  const int gap = character;
  for (const ProgramRow& row : view.program) {
    Rect place = inside.take_top(line);
    HitBox hit{.box = place, .press = {Action::Kind::choose_line, row.address}};
    hit.wheel = {Action::Kind::scroll, -1, "program"};
    hit.focus = "program";
    hits.add(std::move(hit));
    const Rect bar{place.x - px(6), place.y, place.w + px(12), place.h};
    if (row.next) {
      painter.fill(bar, theme.row, px(4));
    }
    if (row.chosen) painter.frame(bar, theme.accent, std::max(1, px(2)), px(4));
    const Colour text = row.next ? theme.on_row : theme.text;
    const Colour muted = row.next ? theme.on_row : theme.muted;
    const Colour accent = row.next ? theme.row_accent : theme.accent;
    Rect mark = place.take_left(character + px(8));
    if (row.stop) {
      const int dot = character + px(1);
      painter.shape(Shape::disc, {mark.x - px(2), mark.centre().y - dot / 2, dot, dot}, theme.stop);
    }
    if (row.next) {
      const int tip = row.stop ? character / 2 + 1 : character;
      painter.shape(Shape::play,
                    {mark.x + (row.stop ? character / 4 : 0), mark.centre().y - tip * 6 / 10, tip, tip * 12 / 10},
                    row.stop ? theme.on_stop : theme.on_row);
    }
    HitBox stop{.box = mark, .press = {Action::Kind::toggle_stop, row.address}};
    hits.add(std::move(stop));
    Rect count = place.take_right(character * static_cast<int>(cycles + (lecture ? 7 : 0)));
    stage.write(count, lecture && !row.cycles.empty() ? row.cycles + " cycles" : row.cycles, row.next ? bold : mono,
                text, Align::right);
    place.take_right(gap);
    stage.write(place.take_left(4 * character), row.place, row.next ? bold : mono, muted);
    place.take_left(gap);
    stage.write(place.take_left(static_cast<int>(bytes) * character), row.bytes, mono, muted);
    place.take_left(gap);
    stage.write(place.take_left(static_cast<int>(label) * character), row.label, mono, accent);
    place.take_left(gap);
    stage.write(place.take_left(static_cast<int>(mnemonic) * character), row.mnemonic, bold, text);
    place.take_left(gap);
    const int operand = std::min(place.w, std::max(14 * character, painter.width(row.operand, mono)));
    stage.write(place.take_left(operand), row.operand, mono, text);
    place.take_left(2 * gap);
    // A comment that has to be cut says little.
    if (painter.width(row.comment, stage.type(Face::label, size * 0.85)) <= place.w)
      stage.write(place, row.comment, stage.type(Face::label, size * 0.85), muted);
  }
}

}  // namespace prewire::front::desk
