#include "asm/source.h"

#include <fmt/format.h>

#include <algorithm>
#include <system_error>
#include <utility>

#include "image/file_bytes.h"

namespace prewire::assembler {

namespace {

/// Continues the field of a fault in which the line is shown.
constexpr std::string_view kMargin = "              ";

std::vector<std::string_view> split(std::string_view text) {
  std::vector<std::string_view> lines;
  while (!text.empty()) {
    const std::size_t end = std::min(text.find_first_of("\r\n"), text.size());
    lines.push_back(text.substr(0, end));
    text.remove_prefix(std::min(end + (text.substr(end, 2) == "\r\n" ? 2 : 1), text.size()));
  }
  return lines;
}

bool continues_character(char c) { return (static_cast<unsigned char>(c) & 0xC0) == 0x80; }

}  // namespace

int Source::add_file(std::string name, std::filesystem::path folder, std::string text) {
  SourceFile& file = files_.emplace_back();
  file.name = std::move(name);
  file.folder = std::move(folder);
  file.text = std::move(text);
  std::string_view rest = file.text;
  // Editors on some systems put a byte order mark before the first line.
  if (rest.substr(0, 3) == "\xEF\xBB\xBF") rest.remove_prefix(3);
  file.lines = split(rest);
  return static_cast<int>(files_.size()) - 1;
}

std::string Source::shown(int index) const {
  return fmt::format("{}:{}", file(line(index).file).name, line(index).number);
}

Place Source::place(At at) const {
  const SourceLine& where = line(at.line);
  const std::string_view before = where.text.substr(0, at.offset);
  const auto characters =
      before.size() - static_cast<std::size_t>(std::count_if(before.begin(), before.end(), continues_character));
  return {.file = file(where.file).name, .line = where.number, .column = static_cast<int>(characters) + 1};
}

std::string Source::excerpt(At at) const {
  constexpr std::size_t kMostShown = 100;
  const std::string_view text = line(at.line).text;
  // A long line is shown from somewhere before the place.
  std::size_t first = at.offset > kMostShown - 20 ? at.offset - (kMostShown - 20) : 0;
  while (first > 0 && first < text.size() && continues_character(text[first])) --first;
  std::string shown, caret;
  for (std::size_t i = first; i < text.size() && i < first + kMostShown; ++i) {
    const char c = text[i];
    const bool control = static_cast<unsigned char>(c) < ' ' || c == '\x7F';
    shown += c == '\t' ? ' ' : control ? '?' : c;
    if (i < at.offset && !continues_character(c)) caret += ' ';
  }
  shown.erase(shown.find_last_not_of(' ') + 1);
  return fmt::format("{}\n{}{}^", shown, kMargin, caret);
}

std::string read_source(const std::filesystem::path& path, std::string& error) {
  FileBytes file = read_bytes(path, kMostSourceBytes);
  if (file.error != 0) error = std::generic_category().message(file.error);
  if (file.too_large) error = "more than 4 MiB";
  return error.empty() ? std::move(file.bytes) : "";
}

}  // namespace prewire::assembler
