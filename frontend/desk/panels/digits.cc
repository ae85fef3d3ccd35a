#include <algorithm>
#include <cmath>

#include "panels.h"

namespace prewire::front::desk {

namespace {

// Light in steps that no eye tells apart, so that few sprites are enough.
constexpr int kShades = 24;

Colour shade(const Theme& theme, double light) {
  // An eye sees dim segments brighter than they are; 0.6 is near to the response of a screen (common practice).
  const double seen = std::round(std::pow(light, 0.6) * kShades) / kShades;
  return blend(theme.unlit, theme.lit, seen);
}

}  // namespace

void draw_digits(const Stage& stage, const Rect& box, const View& view) {
  const auto& [painter, theme, px, hits, choices] = stage;
  Rect inside = stage.panel(box).inset(-px(4), 0);
  const bool lecture = choices.look == Look::lecture;
  const bool names = view.digits.size() > 1 || !lecture;
  int count = 0;
  for (const DigitGroupView& group : view.digits) count += static_cast<int>(group.digits.size());
  if (count == 0) return;
  const int gap = px(10);
  const int groups = static_cast<int>(view.digits.size());
  const int width = inside.w - gap * (groups - 1);
  int done = 0;
  for (int g = 0; g < groups; ++g) {
    const DigitGroupView& group = view.digits[static_cast<std::size_t>(g)];
    const int size = static_cast<int>(group.digits.size());
    const int from = width * done / count;
    done += size;
    Rect part{inside.x + from + g * gap, inside.y, width * done / count - from, inside.h};
    if (names) {
      const bool beside = groups == 1;
      const Type type = stage.type(Face::label_bold, 15);
      const Rect name =
          beside ? part.take_left(std::min(px(84), painter.width(group.name, type) + px(12))) : part.take_top(px(22));
      const Rect line{name.x + px(4), name.y, name.w - px(4), px(beside ? 26 : 22)};
      stage.write(line, group.name, type, theme.muted);
    }
    painter.fill(part, theme.glass, px(5));
    Rect glass = part.inset(px(10), px(10));
    // Digits are about 0.72 as wide as high, with their point.
    const int most = glass.h * 76 / 100;
    const int step = std::min(glass.w / size, most + px(12));
    const int start = glass.x + (glass.w - step * size) / 2;
    for (int i = 0; i < size; ++i) {
      const DigitView& digit = group.digits[static_cast<std::size_t>(i)];
      const int w = std::min(step - px(6), most);
      const int h = std::min(glass.h, w * 100 / 66);
      const Rect place{start + i * step + (step - w) / 2, glass.y + (glass.h - h) / 2, w, h};
      for (int segment = 0; segment < 8; ++segment) {
        painter.shape(Shape::segment, place, shade(theme, digit.light[static_cast<std::size_t>(segment)]), segment);
      }
    }
  }
}

}  // namespace prewire::front::desk
