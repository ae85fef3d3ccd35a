#include <fmt/format.h>

#include <algorithm>

#include "panels.h"

namespace prewire::front::desk {

void draw_tabs(const Stage& stage, const Rect& box, const View& view) {
  Painter& painter = stage.painter;
  const Theme& theme = stage.theme;
  const Metrics& px = stage.px;
  HitBoxes& hits = stage.hits;
  const Choices& choices = stage.choices;
  Rect inside = stage.panel(box, choices.tab == Tab::memory ? "memory" : "");
  Rect titles = inside.take_top(px(26));
  const Type type = stage.type(Face::label_bold, 15);
  const auto tab = [&](Tab which, const std::string& text, bool loud) {
    const int width = painter.width(text, type) + px(16);
    const Rect place = titles.take_left(width);
    const bool on = choices.tab == which;
    const Rect pill{place.x, place.y, place.w, place.h - px(4)};
    if (on) painter.fill(pill, theme.key, px(4));
    stage.write(pill, text, type, on ? theme.on_key : loud ? theme.stop : theme.muted, Align::centre);
    hits.add({place, {Action::Kind::show_tab, static_cast<int>(which)}});
    titles.take_left(px(4));
  };
  const auto counted = [](const char* word, std::size_t count) {
    return count == 0 ? std::string(word) : fmt::format("{} {}", word, count);
  };
  const bool grave = std::any_of(view.findings.begin(), view.findings.end(),
                                 [](const FindingView& finding) { return finding.weight == Weight::stop; });
  tab(Tab::memory, "MEMORY", false);
  tab(Tab::findings, counted("FINDINGS", view.findings.size()), grave);
  tab(Tab::stops, counted("STOPS", view.stops.size()), false);
  switch (choices.tab) {
    case Tab::memory:
      titles.take_left(px(8));
      stage.write({titles.x, titles.y, titles.w, titles.h - px(4)}, view.memory_place, stage.type(Face::label, 15),
                  theme.muted, Align::right);
      draw_memory(stage, inside, view);
      break;
    case Tab::findings: draw_findings(stage, inside, view); break;
    case Tab::stops: draw_stops(stage, inside, view); break;
  }
}

void draw_memory(const Stage& stage, Rect inside, const View& view) {
  const auto& [painter, theme, px, hits, choices] = stage;
  stage.scrolls(inside, "memory");
  const Type mono = stage.type(Face::mono, 16), bold = stage.type(Face::mono_bold, 16);
  const int character = painter.width("0", mono);
  const int line = line_height(inside, px(lines_of(choices.look).memory));
  for (const MemoryRow& row : view.memory) {
    Rect place = inside.take_top(line);
    const auto columns = static_cast<int>(row.cells.size());
    stage.write(place.take_left(4 * character), fmt::format("{:04X}", row.address), mono, theme.muted);
    place.take_left(character);
    const bool text = place.w >= character * (4 * columns + 1);
    const int step = text ? 3 * character : std::min(place.w / columns, character * 7 / 2);
    for (int i = 0; i < columns; ++i) {
      const MemoryCell& cell = row.cells[static_cast<std::size_t>(i)];
      const Rect box = place.take_left(step);
      const Rect mark{box.x + (box.w - 2 * character) / 2 - px(2), box.y + px(1), 2 * character + px(4), box.h - px(2)};
      Colour ink = cell.known ? theme.text : theme.muted;
      if (cell.next) {
        painter.fill(mark, theme.row, px(3));
        ink = theme.on_row;
      }
      if (cell.chosen) {
        painter.fill(mark, theme.write, px(3));
        ink = theme.on_write;
      }
      std::string byte = cell.known ? fmt::format("{:02X}", cell.value) : "??";
      if (cell.lines != 0 && (cell.lines & 0xF0) != 0xF0) byte[0] = '-';
      if (cell.lines != 0 && (cell.lines & 0x0F) != 0x0F) byte[1] = '-';
      stage.write(mark, byte, cell.executed ? bold : mono, ink, Align::centre);
      HitBox hit{.box = box, .press = {Action::Kind::choose_byte, row.address + i}};
      hit.wheel = {Action::Kind::scroll, -1, "memory"};
      hit.focus = "memory";
      hits.add(std::move(hit));
    }
    if (text) {
      place.take_left(character);
      stage.write(place, row.text, mono, theme.muted);
    }
  }
}

void draw_findings(const Stage& stage, Rect inside, const View& view) {
  const auto& [painter, theme, px, hits, choices] = stage;
  stage.scrolls(inside, "findings", false);
  if (view.findings.empty()) {
    stage.write(inside.take_top(px(26)), "Nothing to say so far.", stage.type(Face::label, 16), theme.muted);
    return;
  }
  const Type text = stage.type(Face::label, 16), bold = stage.type(Face::label_bold, 14);
  const auto first =
      static_cast<std::size_t>(std::clamp(choices.findings_from, 0, static_cast<int>(view.findings.size()) - 1));
  for (std::size_t i = first; i < view.findings.size(); ++i) {
    const FindingView& finding = view.findings[i];
    const int lines = finding.hint.empty() ? 1 : 2;
    if (inside.h < px(23.0 * lines)) break;
    Rect line = inside.take_top(px(23));
    const std::string weight(to_string(finding.weight));
    const Rect tag_place = line.take_left(px(48));
    const Rect tag{tag_place.x, tag_place.y + px(2), px(44), px(19)};
    const bool stop = finding.weight == Weight::stop, warn = finding.weight == Weight::warn;
    painter.fill(tag, stop ? theme.stop : warn ? theme.write : theme.key, px(3));
    stage.write(tag, weight, bold, stop ? theme.on_stop : warn ? theme.on_write : theme.on_key, Align::centre);
    line.take_left(px(4));
    stage.write(line, finding.message, text, theme.text);
    if (lines == 2) {
      Rect more = inside.take_top(px(23));
      more.take_left(px(52));
      stage.write(more, finding.when + ": " + finding.hint, stage.type(Face::label, 15), theme.muted);
    }
  }
}

void draw_stops(const Stage& stage, Rect inside, const View& view) {
  const auto& [painter, theme, px, hits, choices] = stage;
  const Type text = stage.type(Face::mono, 16);
  Rect add = inside.take_top(px(26));
  const int width = painter.width("add (Shift F6)", stage.type(Face::label, 16)) + px(16);
  const Rect button{add.x, add.y + px(1), width, px(23)};
  painter.fill(button, theme.key, px(4));
  stage.write(button, "add (Shift F6)", stage.type(Face::label, 16), theme.on_key, Align::centre);
  hits.add({button, {Action::Kind::ask_stop}});
  for (std::size_t i = 0; i < view.stops.size() && inside.h >= px(24); ++i) {
    Rect line = inside.take_top(px(24));
    const Rect cross = line.take_left(px(60));
    const Rect remove{cross.x, cross.y + px(1), px(56), px(21)};
    painter.fill(remove, theme.key, px(4));
    stage.write(remove, "drop", stage.type(Face::label, 15), theme.on_key, Align::centre);
    hits.add({remove, {Action::Kind::remove_stop, static_cast<int>(i)}});
    stage.write(line.take_right(px(130)), view.stops[i].place, text, theme.muted, Align::right);
    stage.write(line, view.stops[i].text, text, theme.text);
  }
}

}  // namespace prewire::front::desk
