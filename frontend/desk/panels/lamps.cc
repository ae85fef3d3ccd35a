#include <algorithm>
#include <cmath>

#include "panels.h"

namespace prewire::front::desk {

namespace {

void draw_led(const Stage& stage, const Rect& cell, const LedView& led) {
  const auto& [painter, theme, px, hits, choices] = stage;
  const int size = std::min({cell.w, cell.h - px(20), px(44)});
  const Rect disc{cell.centre().x - size / 2, cell.y + px(20) + (cell.h - px(20) - size) / 2, size, size};
  const auto& colours = theme.leds[static_cast<std::size_t>(led.colour)];
  const double seen = std::round(std::pow(led.light, 0.6) * 24) / 24;
  painter.shape(Shape::disc, disc, theme.border);
  painter.shape(Shape::disc, disc.inset(std::max(1, px(1.6))), blend(colours[0], colours[1], seen));
  // A glint on what is lit, so that colour does not say it alone.
  if (led.light > 0.1) {
    const int glint = std::max(3, size / 4);
    painter.shape(Shape::disc, {disc.x + size / 4, disc.y + size / 4 - glint / 4, glint, glint}, rgb(0xFFFFFF));
  }
  stage.write({cell.x, cell.y, cell.w, px(20)}, led.name, stage.type(Face::label, 14), theme.muted, Align::centre);
}

void draw_switch(const Stage& stage, const Rect& cell, const ContactView& contact, bool named) {
  const auto& [painter, theme, px, hits, choices] = stage;
  Rect place = cell;
  if (named) {
    stage.write(place.take_top(px(20)), contact.name, stage.type(Face::label, 14), theme.muted, Align::centre);
  }
  const int w = std::min(cell.w, px(26)), h = std::min(place.h, px(46));
  const Rect slot{place.centre().x - w / 2, place.y + (place.h - h) / 2, w, h};
  painter.fill(slot, theme.well, px(4));
  painter.frame(slot, theme.border, std::max(1, px(1.6)), px(4));
  const Rect inner = slot.inset(px(3));
  const Rect thumb{inner.x, contact.closed ? inner.y : inner.y + inner.h / 2, inner.w, inner.h - inner.h / 2};
  painter.fill(thumb, contact.closed ? theme.active : theme.key, px(3));
  stage.write(thumb, contact.closed ? "1" : "0", stage.type(Face::mono_bold, 15),
              contact.closed ? theme.on_active : theme.on_key, Align::centre);
  const std::string focus = "part " + contact.name;
  if (stage.focused(focus)) stage.focus_ring(slot, px(4));
  HitBox hit{.box = cell, .press = {Action::Kind::flip, 0, contact.name}};
  hit.focus = focus;
  hits.add(std::move(hit));
}

}  // namespace

void draw_lamps(const Stage& stage, const Rect& box, const View& view) {
  const int leds = static_cast<int>(view.leds.size()), switches = static_cast<int>(view.switches.size());
  Rect inside = stage.panel(box);
  const int gap = stage.px(4);
  Rect upper = inside;
  if (leds > 0 && switches > 0) upper = inside.take_top(inside.h * (leds > 8 ? 60 : 46) / 100);
  if (leds > 0) {
    const Grid cells = grid(upper, leds, 1.0, gap);
    for (int i = 0; i < leds; ++i) draw_led(stage, cells.cell(i), view.leds[static_cast<std::size_t>(i)]);
  }
  if (switches > 0) {
    const Grid cells = grid(inside, switches, 0.7, gap);
    for (int i = 0; i < switches; ++i) {
      draw_switch(stage, cells.cell(i), view.switches[static_cast<std::size_t>(i)], true);
    }
  }
}

void draw_knobs(const Stage& stage, const Rect& box, const View& view) {
  const auto& [painter, theme, px, hits, choices] = stage;
  const Rect inside = stage.panel(box);
  const int count = static_cast<int>(view.knobs.size());
  const Grid cells = grid(inside, count, 2.0, px(8));
  for (int i = 0; i < count; ++i) {
    const KnobView& knob = view.knobs[static_cast<std::size_t>(i)];
    Rect cell = cells.cell(i);
    const std::string focus = "part " + knob.name;
    HitBox whole{.box = cell, .press = {Action::Kind::ask_part, 0, knob.name}};
    whole.wheel = {Action::Kind::turn, -1, knob.name};
    whole.focus = focus;
    hits.add(std::move(whole));
    const int size = std::min(cell.h, cell.w * 43 / 100);
    const Rect dial_place = cell.take_left(size);
    const Rect dial{dial_place.x, dial_place.y + (dial_place.h - size) / 2, size, size};
    painter.shape(Shape::arc, dial, theme.grid, 100);
    if (knob.percent > 0) painter.shape(Shape::arc, dial, theme.high, knob.percent);
    const Rect cap = dial.inset(size * 22 / 100);
    painter.shape(Shape::disc, cap, theme.border);
    painter.shape(Shape::disc, cap.inset(std::max(1, px(1.6))), theme.key);
    painter.shape(Shape::pointer, cap, theme.on_key, knob.percent);
    if (stage.focused(focus)) stage.focus_ring(dial, size / 2);
    // The left half turns down, the right half up.
    HitBox down{.box = {dial.x, dial.y, dial.w / 2, dial.h}, .press = {Action::Kind::turn, -1, knob.name}};
    down.wheel = {Action::Kind::turn, -1, knob.name};
    HitBox up{.box = {dial.x + dial.w / 2, dial.y, dial.w - dial.w / 2, dial.h},
              .press = {Action::Kind::turn, 1, knob.name}};
    up.wheel = {Action::Kind::turn, -1, knob.name};
    hits.add(std::move(down));
    hits.add(std::move(up));
    cell.take_left(px(10));
    const bool lecture = choices.look == Look::lecture;
    const bool three = !knob.setting.empty() && cell.h >= px(76);
    const int line = cell.h / (three ? 3 : 2);
    stage.write(cell.take_top(line), knob.name, stage.type(Face::label_bold, 15), theme.muted);
    const std::string volts = knob.volts.empty() ? std::string("floats") : knob.volts;
    double letters = lecture ? 24 : 20;
    while (letters > 12 && painter.width(volts, stage.type(Face::mono_bold, letters)) > cell.w) letters -= 1;
    stage.write(cell.take_top(line), volts, stage.type(Face::mono_bold, letters), theme.text);
    if (three) stage.write(cell, knob.setting, stage.type(Face::mono, 17), theme.muted);
  }
}

void draw_buttons(const Stage& stage, const Rect& box, const View& view) {
  const auto& [painter, theme, px, hits, choices] = stage;
  const Rect inside = stage.panel(box).inset(-px(4), px(2));
  const int count = static_cast<int>(view.buttons.size());
  const Grid cells = grid(inside, count, 2.4, px(5));
  for (int i = 0; i < count; ++i) {
    const ContactView& button = view.buttons[static_cast<std::size_t>(i)];
    const Rect cell = cells.cell(i);
    painter.fill(cell, button.closed ? theme.write : theme.key, px(5));
    painter.frame(cell, theme.border, std::max(1, px(1.4)), px(5));
    double letters = choices.look == Look::lecture ? 22 : 19;
    while (letters > 11 && painter.width(button.name, stage.type(Face::mono_bold, letters)) > cell.w - px(12))
      --letters;
    stage.write(cell.inset(px(6), 0), button.name, stage.type(Face::mono_bold, letters),
                button.closed ? theme.on_write : theme.on_key, Align::centre);
    const std::string focus = "part " + button.name;
    if (stage.focused(focus)) stage.focus_ring(cell, px(5));
    HitBox hit{.box = cell,
               .press = {Action::Kind::press, 0, button.name},
               .release = {Action::Kind::release, 0, button.name}};
    hit.focus = focus;
    hits.add(std::move(hit));
  }
}

}  // namespace prewire::front::desk
