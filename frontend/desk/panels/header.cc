#include <algorithm>

#include "panels.h"

namespace prewire::front::desk {

void draw_header(const Stage& stage, const Rect& box, const View& view) {
  Painter& painter = stage.painter;
  const Theme& theme = stage.theme;
  const Metrics& px = stage.px;
  HitBoxes& hits = stage.hits;
  const Choices& choices = stage.choices;
  painter.fill({box.x, box.bottom() - std::max(1, px(1.4)), box.w, std::max(1, px(1.4))}, theme.border);
  const bool lecture = choices.look == Look::lecture;
  const double size = lecture ? 25 : 19;
  Rect line = box.inset(px(16), px(6));

  // From the right: time, help; in the middle the state, and what is said beside it; what is left is the title's.
  const Rect middle{box.x + static_cast<int>(box.w * 0.405), line.y, px(lecture ? 132 : 104), line.h};
  const auto beside = [&] {
    return Rect{middle.right() + px(12), line.y, line.right() - middle.right() - px(12), line.h};
  };
  const std::string& word = view.why.empty() ? view.speed : view.why;
  double letters = lecture ? 22 : 17;
  const Type time_type = stage.type(Face::mono, lecture ? 24 : 17);
  // Of a width that does not change with every digit.
  const int time_width = view.time.empty() ? 0 : std::max(painter.width(view.time, time_type), px(lecture ? 330 : 235));
  const int help_width = lecture ? 0 : painter.width("F1 help", stage.type(Face::label, 16)) + px(20);
  // Something long is said for a moment, and may take their place.
  const bool at_length =
      painter.width(word, stage.type(Face::label, letters)) > beside().w - time_width - help_width - px(16);
  if (!lecture && !at_length) {
    const Type type = stage.type(Face::label, 16);
    const Rect help = line.take_right(painter.width("F1 help", type));
    stage.write(help, "F1 help", type, theme.muted);
    hits.add({help, {Action::Kind::help}});
    line.take_right(px(20));
  }
  if (time_width > 0 && !at_length) {
    stage.write(line.take_right(time_width), view.time, time_type, theme.text, Align::right);
    line.take_right(px(16));
  }
  if (!view.state_word.empty()) {
    const bool running = view.state != RunState::stopped && view.state != RunState::none;
    const bool bad = view.state_word == "STUCK" || view.state_word == "FAULT";
    const Colour fill = bad ? theme.stop : running ? theme.active : theme.key;
    const Colour ink = bad ? theme.on_stop : running ? theme.on_active : theme.on_key;
    painter.fill(middle, fill, px(5));
    if (!bad && !running) painter.frame(middle, theme.border, std::max(1, px(1.4)), px(5));
    Rect inside = middle.inset(px(10), 0);
    const int icon = px(lecture ? 20 : 15);
    const Rect mark{inside.x, inside.centre().y - icon / 2, icon, icon};
    if (running) {
      painter.shape(Shape::play, mark, ink);
    } else {
      painter.fill(mark.inset(px(1)), ink);
    }
    inside.take_left(icon + px(6));
    stage.write(inside, view.state_word, stage.type(Face::label_bold, lecture ? 22 : 17), ink, Align::centre);
    hits.add({middle, {Action::Kind::run}});
  }
  while (letters > 13 && painter.width(word, stage.type(Face::label, letters)) > beside().w) --letters;
  stage.write(beside(), word, stage.type(Face::label, letters), view.why.empty() ? theme.text : theme.accent);

  Rect title{line.x, line.y, middle.x - line.x - px(12), line.h};
  const Type bold = stage.type(Face::label_bold, size);
  const int width = std::min(painter.width(view.title, bold), title.w);
  stage.write(title.take_left(width), view.title, bold, theme.text);
  title.take_left(px(14));
  const Type plain = stage.type(Face::label, 16);
  if (!lecture && painter.width(view.processor, plain) <= title.w)
    stage.write(title, view.processor, plain, theme.muted);
}

}  // namespace prewire::front::desk
