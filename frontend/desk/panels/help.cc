#include <algorithm>

#include "panels.h"

namespace prewire::front::desk {

void draw_help(const Stage& stage, Size window, const View& view) {
  const auto& [painter, theme, px, hits, choices] = stage;
  const std::vector<KeyView>& keys = view.keys;
  const int columns = 2;
  const int rows = (static_cast<int>(keys.size()) + columns - 1) / columns;
  const int width = px(940), height = px(40 + 30.0 * rows + 128);
  const Rect box{(window.w - width) / 2, (window.h - height) / 2, width, height};
  hits.add({{0, 0, window.w, window.h}, {Action::Kind::help}});
  painter.fill({0, 0, window.w, window.h}, {0, 0, 0, 150});
  painter.fill(box, theme.panel, px(10));
  painter.frame(box, theme.accent, std::max(2, px(2)), px(10));
  Rect inside = box.inset(px(24), px(14));
  stage.write(inside.take_top(px(34)), "Keys", stage.type(Face::label_bold, 22), theme.text);
  const Rect table = inside.take_top(px(30.0 * rows));
  const int column_width = table.w / columns;
  for (int i = 0; i < static_cast<int>(keys.size()); ++i) {
    const KeyView& key = keys[static_cast<std::size_t>(i)];
    Rect place{table.x + i / rows * column_width, table.y + i % rows * px(30), column_width - px(16), px(30)};
    const Rect cap = place.take_left(px(104));
    const Rect cap_box{cap.x, cap.y + px(2), px(96), px(25)};
    painter.fill(cap_box, theme.key, px(4));
    stage.write(cap_box, key.keys, stage.type(Face::mono_bold, 15), theme.on_key, Align::centre);
    place.take_left(px(10));
    stage.write(place, key.does, stage.type(Face::label, 18), theme.text);
  }
  inside.take_top(px(8));
  const Type type = stage.type(Face::label, 16);
  const char* notes[] = {
      "Tab goes to a part: Space presses or flips it, the arrows turn it, Enter asks for its value.",
      "The arrows move in program, memory and bus strip. When stopped, hex digits change memory.",
      "Lamps flash as the program says. If flashing light can hurt you or a viewer, stop or slow it down.",
      "The desk is no safety check of real wiring: supply off before you rewire a board."};
  for (const char* note : notes) stage.write(inside.take_top(px(24)), note, type, theme.muted);
}

void draw_prompt(const Stage& stage, Size window, const View& view) {
  const auto& [painter, theme, px, hits, choices] = stage;
  const int width = std::min(px(640), window.w - px(40)), height = px(118);
  const Rect box{(window.w - width) / 2, px(120), width, height};
  painter.fill(box, theme.panel, px(10));
  painter.frame(box, theme.accent, std::max(2, px(2)), px(10));
  Rect inside = box.inset(px(18), px(10));
  std::string question, example;
  if (choices.prompt_for == "go") {
    question = "Go to an address";
    example = "$F800, or a label of the program";
  } else if (choices.prompt_for == "stop") {
    question = "Stop at";
    example = "a label   $F800   read $4000-$4003   write $0010   fall IRQ   rise PIA.CA2";
  } else if (choices.prompt_for.starts_with("part ")) {
    question = "Set " + choices.prompt_for.substr(5) + " to";
    example = "as on the command line: 25 %, or 2.5 V";
  } else {
    question = "Set register " + choices.prompt_for.substr(choices.prompt_for.find(' ') + 1) + " to";
    example = "hex digits";
  }
  stage.write(inside.take_top(px(28)), question, stage.type(Face::label_bold, 18), theme.text);
  const Rect field = inside.take_top(px(36));
  painter.fill(field, theme.well, px(4));
  painter.frame(field, theme.border, std::max(1, px(1.6)), px(4));
  // The end of a long text is what is being typed.
  std::string typed = choices.prompt + "_";
  const Type mono = stage.type(Face::mono, 20);
  while (typed.size() > 1 && painter.width(typed, mono) > field.w - px(20)) typed.erase(typed.begin());
  stage.write(field.inset(px(10), 0), typed, mono, theme.on_well);
  inside.take_top(px(4));
  stage.write(inside, view.why.empty() ? example : view.why, stage.type(Face::label, 15),
              view.why.empty() ? theme.muted : theme.accent);
}

}  // namespace prewire::front::desk
