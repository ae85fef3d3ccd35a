// Where the panels are. Sizes are designed for 1280 x 720 and grow and shrink with the window.
#pragma once

#include "desk/view/choices.h"
#include "desk/view/view.h"
#include "geometry.h"

namespace prewire::front::desk {

/// How much there is to show.
struct Needs {
  std::vector<int> digits;  ///< in each group
  int leds = 0, switches = 0, buttons = 0, knobs = 0;
  int registers = 0;  ///< those without flags
  int bus_lines = 2;
  bool fault = false;
};

/// Pixels for a length of the design.
struct Metrics {
  double unit = 1;
  int operator()(double length) const;
};

struct Layout {
  Metrics px;
  Rect header;
  // Empty boxes: the panel is not shown.
  Rect digits, lamps, knobs, buttons, registers, program, tabs, bus, wiring, nets, fault;
  Room room;
};

/// At the scale that is asked for, or as much smaller (down to 0.75) as it takes for nothing to be left out.
Layout lay_out(Size window, double scale, Look look, const Needs& needs);

/// A grid of `count` cells in a box: as many columns as make the cells largest for their shape (width to height).
struct Grid {
  int columns = 1, rows = 1;
  Rect box;
  int gap = 0;
  Rect cell(int index) const;
};
Grid grid(const Rect& box, int count, double shape, int gap);

/// The height of one of the lines that fill a box, each at least `line` high.
inline int line_height(const Rect& box, int line) { return box.h / (box.h / line > 0 ? box.h / line : 1); }

/// Heights of lines of text in the panels, in the design's units.
struct Lines {
  double program, memory;
};
Lines lines_of(Look look);

}  // namespace prewire::front::desk
