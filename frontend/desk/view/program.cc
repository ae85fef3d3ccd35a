#include <fmt/format.h>

#include <algorithm>

#include "desk/session/session.h"
#include "see.h"

namespace prewire::front::desk {

namespace {

using Line = SourceMap::Line;

/// Lines that fill memory, by address.
std::vector<const Line*> filled_lines(const SourceMap& map) {
  std::vector<const Line*> lines;
  for (const Line& line : map.lines) {
    if (line.size > 0) lines.push_back(&line);
  }
  std::stable_sort(lines.begin(), lines.end(), [](const Line* a, const Line* b) { return a->address < b->address; });
  return lines;
}

std::ptrdiff_t index_at(const std::vector<const Line*>& lines, std::uint16_t address) {
  for (std::size_t i = 0; i < lines.size(); ++i) {
    if (address >= lines[i]->address && address < lines[i]->address + lines[i]->size) {
      return static_cast<std::ptrdiff_t>(i);
    }
  }
  return -1;
}

/// Where decoding has to begin so that a few lines stand before the one at `address`.
std::uint16_t some_before(const Machine& machine, std::uint16_t address, int lines) {
  for (int back = 3 * lines; back > 0; --back) {
    auto at = static_cast<std::uint16_t>(address - back);
    int count = 0;
    while (static_cast<std::int16_t>(address - at) > 0 && count <= lines) {
      const Outline line = outline(machine, at);
      if (!line.defined) break;
      at = static_cast<std::uint16_t>(at + line.bytes);
      ++count;
    }
    if (at == address && count <= lines) return static_cast<std::uint16_t>(address - back);
  }
  return address;
}

/// What the row at `address` shows of memory.
ProgramRow row_at(const Session& session, const Choices& choices, std::uint16_t address, std::uint32_t size) {
  const Machine& machine = *session.machine();
  ProgramRow row;
  row.address = address;
  row.place = fmt::format("{:04X}", address);
  constexpr std::uint32_t kShown = 5;
  for (std::uint32_t i = 0; i < std::min(size, kShown); ++i) {
    row.bytes += fmt::format("{}{:02X}", i == 0 ? "" : " ", machine.peek(static_cast<std::uint16_t>(address + i)));
  }
  if (size > kShown) row.bytes.replace(row.bytes.size() - 2, 2, "\u2026");
  row.label = machine.label_at(address);
  row.next = machine.cpu().pc() >= address && machine.cpu().pc() < address + size;
  row.chosen = choices.line == address;
  row.stop = session.stops_at(address);
  return row;
}

std::string cycles_text(const Line& line) {
  if (line.kind != LineKind::instruction) return {};
  if (line.most_cycles == 0) return fmt::format("{}+", line.cycles);
  if (line.most_cycles != line.cycles) return fmt::format("{}-{}", line.cycles, line.most_cycles);
  return std::to_string(line.cycles);
}

const SourceMap* map_at(const Machine& machine, std::uint16_t address) {
  const auto place = machine.source_at(address);
  return place ? place->map : nullptr;
}

std::uint16_t looked_at(const Session& session, const Choices& choices) {
  return choices.line.value_or(session.machine()->cpu().pc());
}

}  // namespace

SourceText take_apart(std::string_view line) {
  SourceText text;
  const auto blanks = [&] {
    const auto end = line.find_first_not_of(" \t");
    line.remove_prefix(end == std::string_view::npos ? line.size() : end);
  };
  const auto word = [&] {
    const auto end = std::min(line.find_first_of(" \t"), line.size());
    const std::string taken(line.substr(0, end));
    line.remove_prefix(end);
    return taken;
  };
  if (!line.empty() && line.front() != ' ' && line.front() != '\t' && line.front() != ';' && line.front() != '*') {
    text.label = word();
    if (text.label.ends_with(':')) text.label.pop_back();
  }
  blanks();
  if (line.empty() || line.front() == ';' || line.front() == '*') {
    text.comment = line;
    return text;
  }
  text.mnemonic = word();
  blanks();
  // The operand ends at the comment; a quote may hold a semicolon.
  char quote = 0;
  std::size_t end = 0;
  for (; end < line.size(); ++end) {
    const char c = line[end];
    if (quote != 0) {
      if (c == quote) quote = 0;
    } else if (c == '"' || (c == '\'' && line.find('\'', end + 1) != std::string_view::npos)) {
      quote = c;
    } else if (c == ';') {
      break;
    }
  }
  text.operand = line.substr(0, end);
  while (!text.operand.empty() && (text.operand.back() == ' ' || text.operand.back() == '\t')) text.operand.pop_back();
  text.comment = line.substr(end);
  return text;
}

void follow_program(const Session& session, Choices& choices, int rows) {
  if (session.machine() == nullptr || rows <= 0) return;
  const Machine& machine = *session.machine();
  const std::uint16_t aim = looked_at(session, choices);
  if (const SourceMap* map = map_at(machine, aim)) {
    const auto lines = filled_lines(*map);
    const std::ptrdiff_t at = index_at(lines, aim), top = index_at(lines, choices.program_top);
    const auto count = static_cast<std::ptrdiff_t>(lines.size());
    const std::ptrdiff_t last_top = std::max<std::ptrdiff_t>(0, count - rows);
    // What comes next is to be seen, too.
    const std::ptrdiff_t ahead = rows > 4 ? 2 : 0;
    if (top >= 0 && top <= last_top && at >= top && (at < top + rows - ahead || top == last_top)) return;
    choices.program_top =
        lines[static_cast<std::size_t>(std::clamp<std::ptrdiff_t>(at - rows / 3, 0, last_top))]->address;
    return;
  }
  std::uint16_t at = choices.program_top;
  for (int row = 0; row < rows; ++row) {
    if (at == aim) return;
    at = static_cast<std::uint16_t>(at + outline(machine, at).bytes);
  }
  choices.program_top = some_before(machine, aim, rows / 3);
}

std::uint16_t program_line(const Session& session, std::uint16_t from, int lines) {
  const Machine& machine = *session.machine();
  if (const SourceMap* map = map_at(machine, from)) {
    const auto all = filled_lines(*map);
    const std::ptrdiff_t to =
        std::clamp<std::ptrdiff_t>(index_at(all, from) + lines, 0, static_cast<std::ptrdiff_t>(all.size()) - 1);
    return all[static_cast<std::size_t>(to)]->address;
  }
  if (lines < 0) return some_before(machine, from, -lines);
  for (; lines > 0; --lines) from = static_cast<std::uint16_t>(from + outline(machine, from).bytes);
  return from;
}

void see_program(const Session& session, const Choices& choices, int rows, View& view) {
  const Machine& machine = *session.machine();
  const std::uint16_t aim = looked_at(session, choices);
  if (const SourceMap* map = map_at(machine, aim)) {
    view.program_name = map->files.empty() ? std::string() : map->files.front();
    if (const auto slash = view.program_name.rfind('/'); slash != std::string::npos) {
      view.program_name.erase(0, slash + 1);
    }
    const auto lines = filled_lines(*map);
    for (std::ptrdiff_t i = std::max<std::ptrdiff_t>(0, index_at(lines, choices.program_top));
         i < static_cast<std::ptrdiff_t>(lines.size()) && static_cast<int>(view.program.size()) < rows; ++i) {
      const Line& line = *lines[static_cast<std::size_t>(i)];
      ProgramRow row = row_at(session, choices, line.address, line.kind == LineKind::space ? 0 : line.size);
      SourceText text = take_apart(line.text);
      if (row.label.empty()) row.label = std::move(text.label);
      row.mnemonic = std::move(text.mnemonic);
      row.operand = std::move(text.operand);
      const auto first = text.comment.find_first_not_of("; *");
      if (first != std::string::npos) row.comment = text.comment.substr(first);
      row.cycles = cycles_text(line);
      view.program.push_back(std::move(row));
    }
    return;
  }
  std::uint16_t at = choices.program_top;
  for (int i = 0; i < rows; ++i) {
    const Disassembly line = disassemble(machine, at);
    ProgramRow row = row_at(session, choices, at, static_cast<std::uint32_t>(line.bytes));
    const auto blank = line.text.find(' ');
    row.mnemonic = line.text.substr(0, blank);
    if (blank != std::string::npos) row.operand = line.text.substr(line.text.find_first_not_of(' ', blank));
    if (line.cycles > 0) row.cycles = std::to_string(line.cycles);
    view.program.push_back(std::move(row));
    at = static_cast<std::uint16_t>(at + line.bytes);
  }
}

}  // namespace prewire::front::desk
