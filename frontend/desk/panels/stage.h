// What every panel draws with, and the few forms that they share.
#pragma once

#include <string_view>

#include "hits.h"
#include "layout.h"
#include "painter.h"
#include "theme.h"

namespace prewire::front::desk {

struct Stage {
  Painter& painter;
  const Theme& theme;
  const Metrics& px;
  HitBoxes& hits;
  const Choices& choices;

  /// A type at a size of the design.
  Type type(Face face, double size) const { return {face, px(size)}; }
  void write(const Rect& box, std::string_view text, Type type, Colour colour, Align align = Align::left) const {
    desk::write(painter, box, text, type, colour, align);
  }
  bool focused(std::string_view name) const { return choices.focus == name; }
  /// Ground and border of a panel. Returns the box for what is in it.
  Rect panel(const Rect& box, std::string_view focus = {}) const;
  /// The wheel over the box scrolls what is called `name`, and keys go there once it is chosen.
  void scrolls(const Rect& box, std::string_view name, bool takes_keys = true) const;
  /// The title line, cut off the box; returns it.
  Rect title(Rect& inside, std::string_view text) const;
  /// Shows where keys go.
  void focus_ring(const Rect& box, int radius) const;
};

}  // namespace prewire::front::desk
