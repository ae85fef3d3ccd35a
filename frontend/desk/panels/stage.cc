#include "stage.h"

#include <algorithm>
#include <string>
#include <utility>

namespace prewire::front::desk {

Rect Stage::panel(const Rect& box, std::string_view focus) const {
  painter.fill(box, theme.panel, px(7));
  const bool on = !focus.empty() && focused(focus);
  painter.frame(box, on ? theme.accent : theme.border, on ? std::max(2, px(2)) : std::max(1, px(1.4)), px(7));
  return box.inset(px(12), px(6));
}

void Stage::scrolls(const Rect& box, std::string_view name, bool takes_keys) const {
  HitBox whole{.box = box};
  whole.wheel = {Action::Kind::scroll, -1, std::string(name)};
  if (takes_keys) whole.focus = name;
  hits.add(std::move(whole));
}

Rect Stage::title(Rect& inside, std::string_view text) const {
  const Rect line = inside.take_top(px(26));
  write(line, text, type(Face::label_bold, 15), theme.muted);
  return line;
}

void Stage::focus_ring(const Rect& box, int radius) const {
  painter.frame(box.inset(-px(3)), theme.accent, std::max(2, px(2)), radius + px(3));
}

}  // namespace prewire::front::desk
