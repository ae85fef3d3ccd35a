#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "panels.h"

namespace prewire::front::desk {

namespace {

Colour colour_of(const Theme& theme, const NetShown& net) {
  if (net.strength == Strength::contended) return theme.stop;
  switch (net.level) {
    case Level::high: return theme.high;
    case Level::low: return theme.low;
    default: return theme.unsure;
  }
}

const char* letter_of(const NetShown& net) {
  if (net.strength == Strength::contended) return "!";
  switch (net.level) {
    case Level::high: return "1";
    case Level::low: return "0";
    case Level::floating: return "-";
    case Level::unknown: return "?";
  }
  return "?";
}

/// A chip's box: how many pins on either side.
int rows_of(const ChipBox& chip) { return (static_cast<int>(chip.pins.size()) + 1) / 2; }

/// The lines above the pins: name and type, and the place on the bus.
double head_of(const ChipBox& chip, double row) { return row * (chip.place.empty() ? 1.4 : 2.2); }

struct Placed {
  const ChipBox* chip;
  Rect box;
};

/// Between two columns.
int gap_between(const Rect& area) { return std::max(18, area.w / 22); }

/// The end of a trace: a pin, and the channel beside it.
struct End {
  Point at;
  int channel = 0;
};

/// From pin to pin: out to the channel between the columns, along it, and by the street below to other channels.
void draw_trace(const Stage& stage, const std::vector<End>& ends, int street, int thick) {
  if (ends.size() < 2) return;
  const Colour colour = stage.theme.accent;
  std::map<int, std::pair<int, int>> channels;  // highest and lowest end in each
  for (const End& end : ends) {
    auto [place, fresh] = channels.try_emplace(end.channel, end.at.y, end.at.y);
    place->second.first = std::min(place->second.first, end.at.y);
    place->second.second = std::max(place->second.second, end.at.y);
    const int from = std::min(end.at.x, end.channel), to = std::max(end.at.x, end.channel);
    stage.painter.fill({from, end.at.y - thick / 2, to - from, thick}, colour);
  }
  const bool many = channels.size() > 1;
  for (const auto& [x, span] : channels) {
    const int bottom = many ? street : span.second;
    stage.painter.fill({x - thick / 2, span.first - thick / 2, thick, bottom - span.first + thick}, colour);
  }
  if (!many) return;
  const int left = channels.begin()->first, right = channels.rbegin()->first;
  stage.painter.fill({left - thick / 2, street - thick / 2, right - left + thick, thick}, colour);
}

/// Columns of boxes, each on top of the shortest column.
std::vector<Placed> place(const std::vector<ChipBox>& chips, const Rect& area, double row, int columns, int& tallest) {
  const int gap_x = gap_between(area), gap_y = static_cast<int>(row * 0.7);
  const int width = (area.w - gap_x * (columns + 1)) / columns;
  std::vector<int> height(static_cast<std::size_t>(columns), 0);
  std::vector<Placed> placed;
  for (const ChipBox& chip : chips) {
    const auto column = std::min_element(height.begin(), height.end()) - height.begin();
    int& top = height[static_cast<std::size_t>(column)];
    const int h = static_cast<int>(std::lround(head_of(chip, row) + row * (rows_of(chip) + 0.2)));
    placed.push_back({&chip, {area.x + gap_x + static_cast<int>(column) * (width + gap_x), area.y + top, width, h}});
    top += h + gap_y;
  }
  tallest = *std::max_element(height.begin(), height.end()) - gap_y;
  return placed;
}

}  // namespace

void draw_wiring(const Stage& stage, const Rect& box, const View& view) {
  const auto& [painter, theme, px, hits, choices] = stage;
  const Rect inside = stage.panel(box);
  const WiringView& wiring = view.wiring;
  if (wiring.chips.empty()) return;

  // The largest rows with which all chips fit.
  std::vector<Placed> chips;
  const Rect area{inside.x, inside.y, inside.w, inside.h - px(22)};
  double row = px(24);
  for (;; row *= 0.94) {
    const int columns = std::clamp(static_cast<int>(area.w / (row * 8.5)), 1, 8);
    int tallest = 0;
    chips = place(wiring.chips, area, row, columns, tallest);
    if (tallest <= area.h || row < px(7)) break;
  }
  const Type name{Face::label_bold, static_cast<int>(row * 0.68)}, pin_type{Face::label, static_cast<int>(row * 0.66)};
  const Type bit{Face::mono_bold, static_cast<int>(row * 0.62)};

  std::vector<End> ends;
  const int channel = gap_between(area) / 2;
  const int stub = std::max(10, static_cast<int>(row * 0.72));
  for (const Placed& placed : chips) {
    const ChipBox& chip = *placed.chip;
    const Rect body = placed.box;
    painter.fill(body, theme.well, px(5));
    painter.frame(body, theme.border, std::max(1, px(1.4)), px(5));
    const double head = head_of(chip, row);
    Rect title = Rect{body.x, body.y, body.w, static_cast<int>(row * 1.4)}.inset(px(8), 0);
    const int name_width = std::min(painter.width(chip.name, name), title.w);
    stage.write(title.take_left(name_width), chip.name, name, theme.on_well);
    title.take_left(px(8));
    stage.write(title, chip.type, pin_type, theme.muted, Align::right);
    if (!chip.place.empty()) {
      stage.write({body.x + px(8), body.y + static_cast<int>(row * 1.25), body.w - px(16), static_cast<int>(row)},
                  chip.place, pin_type, theme.muted);
    }
    const int rows = rows_of(chip);
    for (std::size_t i = 0; i < chip.pins.size(); ++i) {
      const PinView& pin = chip.pins[i];
      const bool left = static_cast<int>(i) < rows;
      const int line = static_cast<int>(i) % rows;
      const int y = body.y + static_cast<int>(std::lround(head + row * line));
      const Rect half{left ? body.x : body.x + body.w / 2, y, body.w / 2, static_cast<int>(row)};
      const NetShown& net = wiring.nets[static_cast<std::size_t>(pin.net)];
      const Colour colour = colour_of(theme, net);
      const int size = static_cast<int>(row * 0.8);
      const Rect lamp{left ? body.x - size / 2 : body.right() - size / 2, y + (static_cast<int>(row) - size) / 2, size,
                      size};
      const int thick = std::max(2, static_cast<int>(row * 0.12));
      const int outer = left ? lamp.x - stub / 2 : lamp.right();
      painter.fill({outer, lamp.centre().y - thick / 2, stub / 2, thick}, colour);
      if (net.traced) painter.fill(half.inset(px(2), 0), theme.row, px(3));
      painter.fill(lamp, theme.ground, size / 2);
      painter.frame(lamp, net.traced ? theme.accent : colour, std::max(2, thick), size / 2);
      stage.write(lamp, letter_of(net), bit, theme.text, Align::centre);
      Rect label = half;
      (left ? label.take_left(size / 2 + px(4)) : label.take_right(size / 2 + px(4)));
      stage.write(label, pin.name, pin_type, net.traced ? theme.on_row : theme.on_well,
                  left ? Align::left : Align::right);
      if (net.traced)
        ends.push_back(
            {{left ? lamp.x : lamp.right(), lamp.centre().y}, left ? body.x - channel : body.right() + channel});
      HitBox hit{.box = {std::min(half.x, lamp.x - stub / 2), y, half.w + size / 2 + stub / 2, static_cast<int>(row)}};
      hit.press = {Action::Kind::hold_net, 0, net.name};
      hit.hover = {Action::Kind::trace_net, 0, net.name};
      hits.add(std::move(hit));
    }
  }
  draw_trace(stage, ends, area.bottom() + px(10), std::max(3, px(3)));
}

void draw_nets(const Stage& stage, const Rect& box, const View& view) {
  const auto& [painter, theme, px, hits, choices] = stage;
  Rect inside = stage.panel(box);
  stage.title(inside, fmt::format("NETS {}", view.wiring.nets.size()));
  const Type type = stage.type(Face::label, 16), bold = stage.type(Face::mono_bold, 15);
  Rect foot = inside.take_bottom(px(50));
  const int line = px(23);
  const auto count = static_cast<int>(view.wiring.nets.size());
  const int fits = std::max(1, inside.h / line);
  // The traced one is always in the list.
  int first = 0;
  if (view.wiring.traced)
    first = std::clamp(static_cast<int>(*view.wiring.traced) - fits / 2, 0, std::max(0, count - fits));
  if (choices.net_held || !view.wiring.traced)
    first = std::clamp(first + choices.findings_from, 0, std::max(0, count - fits));
  for (int i = first; i < std::min(count, first + fits); ++i) {
    const NetShown& net = view.wiring.nets[static_cast<std::size_t>(i)];
    Rect place = inside.take_top(line);
    if (net.traced) painter.fill({place.x - px(6), place.y, place.w + px(12), place.h}, theme.row, px(4));
    const Colour ink = net.traced ? theme.on_row : theme.text, quiet = net.traced ? theme.on_row : theme.muted;
    const Rect dot = place.take_left(px(26));
    const int size = px(19);
    const Rect lamp{dot.x, dot.centre().y - size / 2, size, size};
    painter.fill(lamp, theme.ground, size / 2);
    painter.frame(lamp, colour_of(theme, net), std::max(2, px(2)), size / 2);
    stage.write(lamp, letter_of(net), bold, theme.text, Align::centre);
    stage.write(place.take_right(px(66)), net.volts, stage.type(Face::mono, 14), quiet, Align::right);
    stage.write(place.take_right(px(64)), net.strength == Strength::none ? "" : std::string(to_string(net.strength)),
                stage.type(Face::label, 14), quiet);
    stage.write(place, net.probed ? net.name + " *" : net.name, type, ink);
    HitBox hit{.box = {inside.x, dot.y, inside.w, line}, .press = {Action::Kind::toggle_probe, 0, net.name}};
    hit.hover = {Action::Kind::trace_net, 0, net.name};
    hit.wheel = {Action::Kind::scroll, -1, "nets"};
    hits.add(std::move(hit));
  }
  stage.write(foot.take_top(px(25)), "Click a pin to hold its net.", stage.type(Face::label, 15), theme.muted);
  stage.write(foot.take_top(px(25)), "Click a net here: bus strip (*).", stage.type(Face::label, 15), theme.muted);
}

}  // namespace prewire::front::desk
