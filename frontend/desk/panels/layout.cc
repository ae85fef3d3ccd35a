#include "layout.h"

#include <algorithm>
#include <cmath>

namespace prewire::front::desk {

namespace {

constexpr double kWidth = 1280, kHeight = 720;
constexpr double kMargin = 12, kGap = 8;
constexpr double kTitle = 26;
constexpr double kBusCells = 78, kBusLine = 27;
constexpr double kLeastScale = 0.75;

/// Rows of text in a panel below its title.
int rows_in(const Layout& layout, const Rect& panel, double line) {
  return std::max(0, (panel.h - layout.px(kTitle) - 2 * layout.px(6)) / layout.px(line));
}

int memory_columns(const Layout& layout, const Rect& panel) {
  // Address, then three characters for a byte; a character of monospaced type is 0.6 of its size.
  const double character = 0.602 * layout.px(16);
  return (panel.w - layout.px(24)) > 54 * character ? 16 : 8;
}

void full(Layout& layout, Rect area, const Needs& needs) {
  const Metrics& px = layout.px;
  // In a low window nets beside the bus have to wait.
  const double most = area.h * 0.4 / px.unit - kTitle - kBusCells - 16;
  const int lines = std::clamp(static_cast<int>(most / kBusLine), 2, needs.bus_lines);
  layout.bus = area.take_bottom(px(kTitle + kBusCells + kBusLine * lines + 16));
  area.take_bottom(px(kGap));
  Rect left = area.take_left(static_cast<int>(area.w * 0.487));
  area.take_left(px(kGap));
  Rect right = area;

  layout.registers = right.take_top(px(needs.registers > 7 ? 128 : 122));
  right.take_top(px(kGap));

  const int tall = std::max(0, left.h - px(440));  // more than the design's: digits may grow
  if (!needs.digits.empty()) {
    layout.digits = left.take_top(px(124) + tall / 4);
    left.take_top(px(kGap));
  }
  const bool lamps = needs.leds + needs.switches > 0;
  if (lamps || needs.knobs > 0) {
    Rect row = left.take_top(px(needs.leds > 0 && needs.switches > 0 ? 134 : 112) + tall / 8);
    left.take_top(px(kGap));
    if (lamps && needs.knobs > 0) {
      // By what they ask for.
      const double for_lamps = std::max(150.0, 24 + 56.0 * std::max(needs.leds, needs.switches));
      const double for_knobs = 230.0 * needs.knobs;
      const double share = std::clamp(for_knobs / (for_lamps + for_knobs), 0.3, 0.62);
      layout.knobs = row.take_right(static_cast<int>((row.w - px(kGap)) * share));
      row.take_right(px(kGap));
    }
    (lamps ? layout.lamps : layout.knobs) = row;
  }
  if (needs.buttons > 0) {
    const int per_row = needs.buttons > 12 ? 8 : 6;
    const int rows = (needs.buttons + per_row - 1) / per_row;
    layout.buttons = left.take_top(std::min(left.h, px(16 + 40.0 * rows)));
    left.take_top(px(kGap));
  }
  if (left.h >= px(kTitle + 12 + 3 * 24)) {
    layout.tabs = left;
    layout.program = right;
    return;
  }
  // No room below the parts: they get it, and the tabs go under the program.
  const int bottom = left.bottom();
  const auto grow = [bottom](Rect& box) {
    if (!box.empty()) box.h += std::max(0, bottom - box.bottom());
  };
  if (!layout.buttons.empty()) {
    grow(layout.buttons);
  } else if (lamps || needs.knobs > 0) {
    grow(layout.lamps);
    grow(layout.knobs);
  } else {
    grow(layout.digits);
  }
  const int tabs = std::max(px(kTitle + 12 + 3 * 24), right.h * 36 / 100);
  if (right.h - tabs >= px(kTitle + 12 + 4 * 26 + kGap)) {
    layout.tabs = right.take_bottom(tabs);
    right.take_bottom(px(kGap));
  }
  layout.program = right;
}

void lecture(Layout& layout, Rect area, const Needs& needs) {
  const Metrics& px = layout.px;
  const double extra = std::max(0, area.h - px(648)) / layout.px.unit;
  const int lines = std::min(needs.bus_lines, extra > 120 ? 3 : 2);
  layout.bus = area.take_bottom(px(150 + 34.0 * lines + 10));
  area.take_bottom(px(kGap));
  Rect top = area.take_top(px(170 + extra / 4));
  area.take_top(px(kGap));
  const bool lamps = needs.leds + needs.switches > 0, knobs = needs.knobs > 0, digits = !needs.digits.empty();
  // Lamps above switches take all the height that there is beside digits.
  const bool tall = needs.leds > 0 && needs.switches > 0;
  const bool knobs_below = digits && tall && knobs;
  if (needs.buttons > 0 || knobs_below) {
    const int rows = (needs.buttons + 15) / 16;
    Rect row = area.take_top(std::max(px(16 + 40.0 * rows), knobs_below ? px(76) : 0));
    area.take_top(px(kGap));
    if (knobs_below) {
      layout.knobs = needs.buttons > 0 ? row.take_left(std::min(px(230.0 * needs.knobs), row.w * 4 / 10)) : row;
      if (needs.buttons > 0) row.take_left(px(kGap));
    }
    if (needs.buttons > 0) layout.buttons = row;
  }
  layout.program = area;
  if (digits || lamps || knobs) {
    Rect left = top.take_left(top.w / 2 - px(4));
    top.take_left(px(kGap));
    Rect side = left;
    if (digits) {
      side = lamps || knobs ? left.take_right(px(tall ? 290 : 210)) : Rect{};
      if (!side.empty()) left.take_right(px(kGap));
      layout.digits = left;
    }
    if (lamps && knobs && !knobs_below) {
      layout.lamps = digits ? side.take_top((side.h - px(kGap)) / 2) : side.take_left((side.w - px(kGap)) / 2);
      (digits ? side.take_top(px(kGap)) : side.take_left(px(kGap)));
      layout.knobs = side;
    } else if (lamps || knobs) {
      (lamps ? layout.lamps : layout.knobs) = side;
    }
  }
  layout.registers = top;
}

/// Whether the program can be followed, and nothing is left out.
bool enough(const Layout& layout, Look look) {
  switch (look) {
    case Look::full: return !layout.fault.empty() || (layout.room.program_rows >= 4 && layout.room.memory_rows >= 3);
    case Look::lecture: return !layout.fault.empty() || layout.room.program_rows >= 4;
    case Look::wiring: break;
  }
  return true;
}

Layout arrange(Size window, double scale, Look look, const Needs& needs) {
  Layout layout;
  layout.px.unit = std::min(window.w / kWidth, window.h / kHeight) * scale;
  const Metrics& px = layout.px;
  Rect area{0, 0, window.w, window.h};
  layout.header = area.take_top(px(46));
  area = {area.x + px(kMargin), area.y + px(kGap), area.w - 2 * px(kMargin), area.h - px(kGap) - px(kMargin)};
  if (needs.fault) {
    layout.fault = area;
    return layout;
  }
  switch (look) {
    case Look::full: full(layout, area, needs); break;
    case Look::lecture: lecture(layout, area, needs); break;
    case Look::wiring:
      layout.nets = area.take_right(px(300));
      area.take_right(px(kGap));
      layout.wiring = area;
      break;
  }
  const Lines lines = lines_of(look);
  if (look == Look::lecture) {
    layout.room.program_rows = std::max(0, (layout.program.h - 2 * px(6)) / px(lines.program));
    layout.room.bus_cells = 24;
  } else {
    layout.room.program_rows = rows_in(layout, layout.program, lines.program);
    layout.room.bus_cells = std::max(0, (layout.bus.w - px(66 + 10)) / px(18.5));
  }
  layout.room.memory_rows = rows_in(layout, layout.tabs, lines.memory);
  layout.room.memory_columns = memory_columns(layout, layout.tabs);
  return layout;
}

}  // namespace

Lines lines_of(Look look) { return look == Look::lecture ? Lines{37, 24} : Lines{26, 24}; }

int Metrics::operator()(double length) const { return static_cast<int>(std::lround(length * unit)); }

Layout lay_out(Size window, double scale, Look look, const Needs& needs) {
  // Letters for the last row are large already.
  if (look == Look::lecture) scale = std::min(scale, 1.1);
  Layout layout = arrange(window, scale, look, needs);
  while (!enough(layout, look) && scale > kLeastScale) {
    scale = std::max(kLeastScale, scale - 0.05);
    layout = arrange(window, scale, look, needs);
  }
  return layout;
}

Rect Grid::cell(int index) const {
  const int column = index % columns, row = index / columns;
  const int x = box.x + (box.w + gap) * column / columns, next_x = box.x + (box.w + gap) * (column + 1) / columns;
  const int y = box.y + (box.h + gap) * row / rows, next_y = box.y + (box.h + gap) * (row + 1) / rows;
  return {x, y, next_x - x - gap, next_y - y - gap};
}

Grid grid(const Rect& box, int count, double shape, int gap) {
  Grid best{1, std::max(count, 1), box, gap};
  double best_size = -1;
  // From one long row to more, if that makes them clearly larger.
  for (int columns = count; columns >= 1; --columns) {
    const int rows = (count + columns - 1) / columns;
    const double w = static_cast<double>(box.w + gap) / columns - gap,
                 h = static_cast<double>(box.h + gap) / rows - gap;
    const double size = std::min(w / shape, h);
    if (size > best_size * 1.15) {
      best_size = size;
      best.columns = columns;
      best.rows = rows;
    }
  }
  if (count > 0) best.columns = (count + best.rows - 1) / best.rows;  // rows of one length
  return best;
}

}  // namespace prewire::front::desk
