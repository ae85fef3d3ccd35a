#include <fmt/format.h>

#include <algorithm>

#include "panels.h"

namespace prewire::front::desk {

namespace {

// As wide as "    found:    ", with which messages begin such a line.
constexpr std::string_view kIndent = "              ";

/// Text in its lines, and in as many more as it takes, broken at blanks. Returns what is left of the box.
Rect write_lines(const Stage& stage, Rect box, std::string_view text, Type type, Colour colour, int line) {
  while (!text.empty() && box.h >= line) {
    const std::size_t whole = std::min(text.find('\n'), text.size());
    std::size_t end = whole;
    if (stage.painter.width(text.substr(0, end), type) > box.w) {
      end = 0;
      for (std::size_t blank = text.find(' '); blank < whole; blank = text.find(' ', blank + 1)) {
        if (stage.painter.width(text.substr(0, blank), type) > box.w) break;
        end = blank;
      }
      if (end == 0) end = std::min(text.find(' '), whole);
    }
    stage.write(box.take_top(line), text.substr(0, end), type, colour);
    text.remove_prefix(std::min(text.size(), end + 1));
  }
  return box;
}

std::string place_of(const Place& place) {
  std::string text = place.file;
  if (place.line > 0) text += fmt::format(":{}", place.line);
  if (place.line > 0 && place.column > 0) text += fmt::format(":{}", place.column);
  if (!place.pointer.empty()) text += fmt::format("  at {}", place.pointer);
  return text;
}

}  // namespace

void draw_fault(const Stage& stage, const Rect& box, const View& view) {
  const Theme& theme = stage.theme;
  const Metrics& px = stage.px;
  Rect inside = stage.panel(box).inset(px(12), px(10));
  if (view.faults.empty()) {
    write_lines(stage, inside, "Drop a machine file or a check file on this window to open it.",
                stage.type(Face::label, 24), theme.text, px(36));
    return;
  }
  stage.write(inside.take_top(px(38)), fmt::format("{} cannot be used yet", view.file),
              stage.type(Face::label_bold, 26), theme.stop);
  stage.write(inside.take_top(px(30)), "Mend it and save: it is read again by itself.", stage.type(Face::label, 18),
              theme.text);
  inside.take_top(px(10));
  const Type label = stage.type(Face::label, 17), mono = stage.type(Face::mono, 17);
  std::size_t shown = 0;
  for (const Fault& fault : view.faults) {
    if (inside.h < px(110)) break;
    ++shown;
    stage.write(inside.take_top(px(26)), place_of(fault.place), mono, theme.accent);
    inside = write_lines(stage, inside, fault.what, stage.type(Face::label_bold, 19), theme.text, px(28));
    const auto more = [&](const char* name, const std::string& text) {
      if (text.empty() || inside.h < px(26)) return;
      Rect line = inside;
      stage.write(Rect{line.x, line.y, px(96), px(26)}, name, label, theme.muted);
      line.take_left(px(100));
      // A line of source, and below it where in it, indented for a terminal.
      const std::size_t end = text.find('\n');
      const bool source = end != std::string::npos;
      std::string lines = text;
      if (source && lines.compare(end + 1, kIndent.size(), kIndent) == 0) lines.erase(end + 1, kIndent.size());
      const Rect left = write_lines(stage, line, lines, source ? mono : label, theme.text, px(26));
      inside.take_top(left.y - inside.y);
    };
    more("expected", fault.expected);
    more("found", fault.found);
    more("hint", fault.hint);
    inside.take_top(px(14));
  }
  const std::size_t rest = view.faults.size() - shown + view.faults_omitted;
  if (rest > 0 && inside.h >= px(26)) {
    stage.write(inside.take_top(px(26)), fmt::format("and {} more", rest), label, theme.muted);
  }
}

}  // namespace prewire::front::desk
