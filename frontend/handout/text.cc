// The handout as plain text, for terminals, mail and printers that print lines.
#include <fmt/format.h>

#include <algorithm>

#include "handout.h"
#include "prewire/text.h"

namespace prewire::handout {

namespace {

std::string headline(std::string_view text, char line) {
  return fmt::format("\n{}\n{}\n", text, std::string(text.size(), line));
}

/// Words in lines of at most 100 characters, with `first` before the first and blanks before the others.
std::string wrapped(std::string_view first, std::string_view words) {
  constexpr std::size_t kColumns = 100;
  std::string text(first);
  const std::string indent(first.size(), ' ');
  std::size_t column = first.size();
  bool begins = true;
  while (!words.empty()) {
    const std::size_t end = std::min(words.find(' '), words.size());
    if (!begins && column + 1 + end > kColumns) {
      text += "\n" + indent;
      column = indent.size();
      begins = true;
    }
    if (!begins) text += ' ';
    text += words.substr(0, end);
    column += end + (begins ? 0 : 1);
    begins = false;
    words.remove_prefix(std::min(end + 1, words.size()));
  }
  return text + "\n";
}

std::string pinout_text(const Part& part) {
  std::string text;
  if (part.packaged()) {
    const std::size_t half = part.pins.size() / 2;
    for (std::size_t i = 0; i < half; ++i) {
      const Terminal &left = part.pins[i], &right = part.pins[part.pins.size() - 1 - i];
      text += fmt::format("  {:>12} {:>2} |{}| {:<2} {}\n", left.name, left.number, i == 0 ? "_U_" : "   ",
                          right.number, right.name);
    }
    return text;
  }
  return wrapped("          ", terminals_of(part));
}

std::string parts_text(const Board& board) {
  std::string text = headline("Parts", '-');
  for (const Part& part : board.parts) {
    if (part.kind == Part::Kind::rail) continue;
    std::string words = part.name.empty() || part.name == part.ref ? "" : part.name + ", ";
    words += part.what;
    if (!part.value.empty()) words += ", " + part.value;
    text += wrapped(fmt::format("[ ] {:<5} ", part.ref), words) + pinout_text(part);
  }
  return text;
}

std::string selects_text(const Board& board) {
  std::string text = headline("Selects: what the address decoder has to do", '-');
  for (const Select& select : board.selects) {
    const Part& part = board.parts[static_cast<std::size_t>(select.part)];
    text += wrapped(fmt::format("{} {}: ", part.ref, part.name), select.where);
    text += wrapped(fmt::format("  {} ({} when selected): ", select.output, select.high ? "high" : "low"),
                    condition(select));
  }
  for (const std::string& line : decoder_notes(board)) text += wrapped("", line);
  return text;
}

std::string wires_text(const Board& board) {
  std::string text = headline("Wiring list", '-');
  text += "Wire colours are a suggestion:";
  for (int i = 0; i < kPurposes; ++i) {
    const PurposeStyle& style = style_of(static_cast<Purpose>(i));
    text += fmt::format("{}{} {} {}", i % 4 == 0 ? "\n  " : "   ", style.letter, style.name, style.colour);
  }
  text += "\n";
  int number = 0;
  for (const Step& step : board.steps) {
    text += fmt::format("\n{}. {}\n", ++number, step.title);
    if (!step.about.empty()) text += "   " + step.about + "\n";
    for (const Wire& wire : step.wires) {
      const Net& net = board.nets[static_cast<std::size_t>(wire.net)];
      text += fmt::format("  [ ] {:<66} {} {}\n",
                          fmt::format("{} - {}", to_string(board, wire.from), to_string(board, wire.to)),
                          style_of(net.purpose).letter, style_of(net.purpose).colour);
    }
    for (const std::string& line : step.also) text += wrapped("  [ ] ", line);
  }
  return text;
}

std::string notes_text(const Board& board) {
  std::string text;
  for (const Notes& each : board.notes) {
    text += headline(each.title, '-');
    for (const std::string& line : each.lines) text += wrapped("- ", line);
  }
  return text;
}

std::string shows_text(const Expected& expected) {
  std::string text = headline("What the board should show", '-') + "From a run of this machine with this program.\n";
  for (const Reading& reading : expected.readings) {
    std::string line = reading.part.empty() ? "as switched on" : fmt::format("{} at {}", reading.part, reading.value);
    if (!reading.volts.empty()) line += fmt::format(", {}", reading.volts);
    line = fmt::format("  [ ] {:<28}", fmt::format("{}:", line));
    for (const auto& [group, shown] : reading.texts) line += fmt::format(" {} \"{}\"", group, shown);
    for (const auto& [led, on] : reading.leds) line += fmt::format(" {} {}", led, on ? "on" : "off");
    if (!reading.remark.empty()) line += fmt::format(" ({})", reading.remark);
    text.append(printable(line)).append("\n");
  }
  return text;
}

}  // namespace

std::vector<std::string> decoder_notes(const Board& board) {
  std::vector<std::string> lines;
  bool reads = false, writes = false;
  for (const Net& net : board.nets) {
    reads = reads || net.name == "RD";
    writes = writes || net.name == "WR";
  }
  if (reads) lines.push_back("RD is low while E = 1 and R/W = 1. It keeps outputs off the bus in a write.");
  if (writes) lines.push_back("WR is low while E = 1 and R/W = 0. It goes high as E falls, which ends the write.");
  const auto pairs = clashes(board.selects);
  for (const auto& [a, b] : pairs) {
    lines.push_back(fmt::format("{} and {} are active together at some addresses, in writes.",
                                board.selects[static_cast<std::size_t>(a)].output,
                                board.selects[static_cast<std::size_t>(b)].output));
  }
  if (pairs.empty() && board.selects.size() > 1) {
    lines.emplace_back("No two of these selects can be active at once: compared for all 65536 addresses.");
  }
  return lines;
}

std::string to_text(const Handout& handout) {
  const unsigned sections = handout.sections;
  if (sections == kKeys) return fmt::format("{}{}\n", kKeysMark, handout.title) + to_text(handout.keys);
  std::string text = fmt::format("{}{}\n", kTextMark, handout.title);
  text += std::string(text.size() - 1, '=') + "\n";
  if (!handout.about.empty()) text += wrapped("", handout.about);
  text += handout.processor + "\n";
  for (const std::string& remark : handout.remarks) text += wrapped("The check says: ", remark);
  if ((sections & kNotes) != 0) text += notes_text(handout.board);
  if ((sections & kParts) != 0) text += parts_text(handout.board);
  if ((sections & kSelects) != 0 && !handout.board.selects.empty()) text += selects_text(handout.board);
  if ((sections & kWires) != 0) text += wires_text(handout.board);
  if ((sections & kKeys) != 0 && !handout.keys.lines.empty()) {
    text += headline("Key-in sheet", '-') + to_text(handout.keys);
  }
  if ((sections & kShows) != 0) text += shows_text(handout.expected);
  return text;
}

}  // namespace prewire::handout
