#include <fmt/format.h>

#include <algorithm>

#include "panels.h"

namespace prewire::front::desk {

namespace {

/// A legend of small boxes with words.
void draw_legend(const Stage& stage, Rect line) {
  Painter& painter = stage.painter;
  const Theme& theme = stage.theme;
  const Metrics& px = stage.px;
  const Type type = stage.type(Face::label, 15);
  const auto entry = [&](const char* word, auto&& draw) {
    const int width = painter.width(word, type);
    if (line.w < width + px(34)) return;
    stage.write(line.take_right(width), word, type, theme.muted);
    const Rect box = line.take_right(px(20));
    draw(Rect{box.x, box.centre().y - px(7), px(14), px(14)});
    line.take_right(px(14));
  };
  entry("no valid address", [&](Rect r) {
    painter.fill({r.x, r.centre().y - px(2), r.w, std::max(2, px(4))}, theme.grid);
  });
  entry("read", [&](Rect r) { painter.frame(r, theme.border, std::max(1, px(1.6))); });
  entry("write", [&](Rect r) { painter.fill(r, theme.write); });
  entry("opcode", [&](Rect r) { painter.fill(r, theme.active); });
}

void draw_cell(const Stage& stage, const Rect& cell, const BusCell& bus, double size) {
  const auto& [painter, theme, px, hits, choices] = stage;
  const int third = cell.h / 3;
  if (!bus.valid) {
    const int thick = std::max(2, px(3.4));
    painter.fill({cell.x, cell.y + third - thick / 2, cell.w - 1, thick}, theme.grid);
    painter.fill({cell.x, cell.y + 5 * cell.h / 6 - thick / 2, cell.w - 1, thick}, theme.grid);
    return;
  }
  const Rect box{cell.x, cell.y, cell.w - 1, cell.h};
  Colour ink = theme.text;
  if (!bus.read) {
    painter.fill(box, theme.write);
    ink = theme.on_write;
  } else if (bus.fetch) {
    painter.fill(box, theme.active);
    ink = theme.on_active;
  } else {
    painter.frame(box, theme.border, std::max(1, px(1.2)));
  }
  const Type type = stage.type(Face::mono_bold, size);
  const std::string address = fmt::format("{:04X}", bus.address);
  stage.write({box.x, box.y + px(1), box.w, third}, address.substr(0, 2), type, ink, Align::centre);
  stage.write({box.x, box.y + third - px(1), box.w, third}, address.substr(2), type, ink, Align::centre);
  painter.fill({box.x + px(2), box.y + 2 * third + px(1), box.w - 2 * px(2), std::max(1, px(1.2))}, ink);
  stage.write({box.x, box.bottom() - third + px(1), box.w, third - px(1)},
              bus.driven ? fmt::format("{:02X}", bus.data) : "--", type, ink, Align::centre);
}

/// A wave: levels as a line that goes up and down; neither floats in the middle.
void draw_wave(const Stage& stage, const Rect& area, const BusLine& line, int cell_width, double size) {
  Painter& painter = stage.painter;
  const Theme& theme = stage.theme;
  const Metrics& px = stage.px;
  const int thick = std::max(2, px(2.4));
  const int top = area.y + area.h * 18 / 100, bottom = area.bottom() - area.h * 18 / 100, middle = (top + bottom) / 2;
  const auto height = [&](Level level) { return level == Level::high ? top : level == Level::low ? bottom : middle; };
  const auto colour = [&](Level level) { return is_sure(level) ? theme.high : theme.unsure; };
  for (std::size_t i = 0; i < line.levels.size(); ++i) {
    const Level level = line.levels[i];
    const int x = area.x + static_cast<int>(i) * cell_width;
    const bool marked = line.mark_low && level == Level::low;
    const Colour ink = marked ? theme.write : line.mark_low ? theme.low : colour(level);
    painter.fill({x, height(level) - thick / 2, cell_width, thick}, ink);
    if (i > 0 && height(line.levels[i - 1]) != height(level)) {
      const int from = std::min(height(line.levels[i - 1]), height(level));
      const int to = std::max(height(line.levels[i - 1]), height(level));
      const bool edge_marked = line.mark_low;
      painter.fill({x - thick / 2, from - thick / 2, thick, to - from + thick},
                   edge_marked ? theme.write : colour(level));
    }
    if (marked && (i == 0 || line.levels[i - 1] != Level::low)) {
      stage.write({x + thick, area.y, cell_width - thick, bottom - area.y - thick / 2}, "W",
                  stage.type(Face::mono_bold, size * 0.85), theme.text, Align::centre);
    }
  }
}

}  // namespace

void draw_bus(const Stage& stage, const Rect& box, const View& view) {
  const auto& [painter, theme, px, hits, choices] = stage;
  const bool lecture = choices.look == Look::lecture;
  Rect inside = stage.panel(box, "bus");
  stage.scrolls(box, "bus");
  if (!lecture) {
    Rect title = stage.title(inside, "BUS");
    title.take_left(px(66));
    const Rect about = title.take_left(title.w * 56 / 100);
    stage.write(about, view.bus.about, stage.type(Face::mono_bold, 16), theme.text);
    draw_legend(stage, title);
  } else {
    inside.take_top(px(2));
  }
  const Type name = stage.type(Face::label_bold, lecture ? 21 : 15);
  Rect names = inside.take_left(px(lecture ? 92 : 66));
  const int cells = std::max(1, lecture ? 24 : inside.w / px(18.5));
  const int width = inside.w / cells;
  double size = lecture ? 27 : 14.5;
  while (size > 10 && painter.width("00", stage.type(Face::mono_bold, size)) > width - 1) size -= 0.5;
  const Rect strip = inside.take_top(px(lecture ? 126 : 76));
  const Rect strip_names = names.take_top(strip.h);
  const int third = strip.h / 3;
  stage.write({strip_names.x, strip_names.y + third / 2, strip_names.w, third}, "ADDR", name, theme.text);
  stage.write({strip_names.x, strip_names.bottom() - third, strip_names.w, third}, "DATA", name, theme.text);

  const auto shown = std::min<std::size_t>(view.bus.cells.size(), static_cast<std::size_t>(cells));
  const std::size_t skipped = view.bus.cells.size() - shown;
  // The newest cycle is at the right end.
  const int start = inside.x + (cells - static_cast<int>(shown)) * width;
  for (std::size_t i = 0; i < shown; ++i) {
    const BusCell& cell = view.bus.cells[skipped + i];
    const Rect place{start + static_cast<int>(i) * width, strip.y, width, strip.h};
    draw_cell(stage, place, cell, size);
    HitBox hit{.box = {place.x, place.y, place.w, box.bottom() - place.y - px(4)}};
    hit.press = {Action::Kind::choose_cycle, static_cast<int>(i)};
    hit.hover = {Action::Kind::choose_cycle, static_cast<int>(i)};
    hit.wheel = {Action::Kind::scroll, -1, "bus"};
    hit.focus = "bus";
    hits.add(std::move(hit));
  }
  inside.take_top(px(4));
  names.take_top(px(4));
  const int line = px(lecture ? 34 : 27);
  for (const BusLine& wave : view.bus.lines) {
    if (inside.h < line) break;
    const Rect area = inside.take_top(line);
    stage.write(names.take_top(line), wave.name, name, theme.text);
    BusLine visible = wave;
    visible.levels.erase(visible.levels.begin(), visible.levels.begin() + static_cast<std::ptrdiff_t>(skipped));
    draw_wave(stage, {start, area.y, area.w, area.h}, visible, width, size);
  }
  if (view.bus.chosen && *view.bus.chosen >= skipped) {
    const int at = start + static_cast<int>(*view.bus.chosen - skipped) * width;
    painter.frame({at - px(2), strip.y - px(2), width + px(3), box.bottom() - strip.y - px(4)}, theme.accent,
                  std::max(2, px(2)), px(3));
  }
}

}  // namespace prewire::front::desk
