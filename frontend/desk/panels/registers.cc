#include <algorithm>

#include "panels.h"

namespace prewire::front::desk {

void draw_registers(const Stage& stage, const Rect& box, const View& view) {
  Painter& painter = stage.painter;
  const Theme& theme = stage.theme;
  const Metrics& px = stage.px;
  HitBoxes& hits = stage.hits;
  const Choices& choices = stage.choices;
  const bool lecture = choices.look == Look::lecture;
  Rect inside = stage.panel(box);
  const int count = static_cast<int>(view.registers.size());
  Rect flags = inside.take_bottom(std::max(px(lecture ? 44 : 50), inside.h * (lecture ? 26 : 34) / 100));
  inside.take_bottom(px(4));
  if (!lecture) stage.title(inside, "REGISTERS");

  // One line, or two in a lecture; a size at which all of it fits.
  const int rows = lecture ? 2 : 1;
  const int columns = (count + rows - 1) / rows;
  const auto measure = [&](double size) {
    int widest = 0;
    for (int row = 0; row < rows; ++row) {
      int width = 0;
      for (int i = row * columns; i < std::min(count, (row + 1) * columns); ++i) {
        const RegisterView& entry = view.registers[static_cast<std::size_t>(i)];
        width += painter.width(entry.name, stage.type(Face::label_bold, size * 0.6)) + px(7) +
                 painter.width(entry.value, stage.type(Face::mono_bold, size));
      }
      widest = std::max(widest, width + px(14) * (columns - 1));
    }
    return widest;
  };
  double size = lecture ? 40 : 30;
  while (size > 14 && measure(size) > inside.w) size -= 1;
  const int line = inside.h / rows;
  for (int row = 0; row < rows; ++row) {
    const int first = row * columns, last = std::min(count, first + columns);
    int used = 0;
    for (int i = first; i < last; ++i) {
      const RegisterView& entry = view.registers[static_cast<std::size_t>(i)];
      used += painter.width(entry.name, stage.type(Face::label_bold, size * 0.6)) + px(7) +
              painter.width(entry.value, stage.type(Face::mono_bold, size));
    }
    const int gap = last - first > 1 ? std::min((inside.w - used) / (last - first - 1), px(lecture ? 64 : 40)) : 0;
    int x = inside.x;
    for (int i = first; i < last; ++i) {
      const RegisterView& entry = view.registers[static_cast<std::size_t>(i)];
      const Type name = stage.type(Face::label_bold, size * 0.6), value = stage.type(Face::mono_bold, size);
      const int name_width = painter.width(entry.name, name), value_width = painter.width(entry.value, value);
      const Rect place{x, inside.y + row * line, name_width + px(7) + value_width, line};
      stage.write({x, place.y + px(size * 0.1), name_width, line}, entry.name, name, theme.muted);
      stage.write({x + name_width + px(7), place.y, value_width, line}, entry.value, value, theme.text);
      hits.add({place, {Action::Kind::ask_register, i}});
      x += place.w + gap;
    }
  }

  const int letters = static_cast<int>(view.flags.size());
  if (letters == 0) return;
  if (!lecture) {
    const Type type = stage.type(Face::label_bold, 16);
    stage.write(flags.take_left(px(44)), view.flags_name, type, theme.muted);
    stage.write(flags.take_right(px(64)), view.flags_value, stage.type(Face::mono, 22), theme.text, Align::right);
    flags.take_right(px(8));
  }
  const Grid cells{
      letters, 1, {flags.x, flags.y, std::min(flags.w, px(lecture ? 700 : 62.0 * letters)), flags.h}, px(8)};
  for (int i = 0; i < letters; ++i) {
    const FlagView& flag = view.flags[static_cast<std::size_t>(i)];
    Rect cell = cells.cell(i);
    if (flag.set) painter.fill(cell, theme.active, px(4));
    painter.frame(cell, flag.set ? theme.active : theme.border, std::max(1, px(1.6)), px(4));
    const Colour ink = flag.set ? theme.on_active : theme.muted;
    const std::string letter(1, flag.letter), bit(1, flag.set ? '1' : '0');
    if (lecture) {
      stage.write(cell, letter + " " + bit, stage.type(Face::mono_bold, letters > 6 ? 22 : 26), ink, Align::centre);
      continue;
    }
    stage.write(cell.take_top(cell.h / 2), letter, stage.type(Face::mono_bold, 18), ink, Align::centre);
    stage.write({cell.x, cell.y - px(2), cell.w, cell.h}, bit, stage.type(Face::mono_bold, 18), ink, Align::centre);
  }
}

}  // namespace prewire::front::desk
