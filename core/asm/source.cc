#include "asm/source.h"

#include <fmt/format.h>

#include <algorithm>
#include <system_error>
#include <utility>

#include "asm/faults.h"
#include "image/file_bytes.h"
#include "prewire/text.h"

namespace prewire::assembler {

namespace {

/// Continues the field of a fault in which the line is shown.
constexpr std::string_view kMargin = "              ";
constexpr std::size_t kMostShown = 100;

/// A line on a terminal.
std::string plain(std::string_view line) {
  std::string text(line);
  std::replace(text.begin(), text.end(), '\t', ' ');
  return printable(text);
}

/// Without what other systems put around a text: a byte order mark before the first line; behind the last one a
/// control-Z for its end, and zeros or more of them up to the end of a disk's sector.
std::string_view without_wrapping(std::string_view text) {
  if (text.substr(0, 3) == "\xEF\xBB\xBF") text.remove_prefix(3);
  constexpr std::string_view kPadding("\x1A\0\r\n \t\f", 7);
  const std::size_t last = text.find_last_not_of(kPadding);
  const std::size_t end = text.find_first_of(kPadding.substr(0, 2), last == std::string_view::npos ? 0 : last);
  return text.substr(0, end);
}

bool continues_character(char c) { return (static_cast<unsigned char>(c) & 0xC0) == 0x80; }

}  // namespace

int Source::add_file(std::string name, std::filesystem::path folder, std::string text) {
  SourceFile& file = files_.emplace_back();
  file.name = std::move(name);
  file.folder = std::move(folder);
  const std::string_view plain = without_wrapping(text);
  const auto first = static_cast<std::size_t>(plain.data() - text.data());
  text.resize(first + plain.size());
  text.erase(0, first);
  file.text = std::move(text);
  bytes_ += file.text.size();
  return static_cast<int>(files_.size()) - 1;
}

bool Source::next_line(int index, FilePosition& position, std::string_view& line) const {
  const std::string_view text = file(index).text;
  if (position.offset >= text.size()) return false;
  // Lines are short: a plain loop is faster than a search.
  std::size_t end = position.offset;
  while (end < text.size() && text[end] != '\n' && text[end] != '\r') ++end;
  line = text.substr(position.offset, end - position.offset);
  position.offset = end + (text.substr(end, 2) == "\r\n" ? 2 : 1);
  ++position.line;
  // A form feed between two pages of a printout.
  while (!line.empty() && line.front() == '\f') line.remove_prefix(1);
  while (!line.empty() && line.back() == '\f') line.remove_suffix(1);
  return true;
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
  const std::string_view text = line(at.line).text;
  // A long line is shown from somewhere before the place.
  std::size_t first = at.offset > kMostShown - 20 ? at.offset - (kMostShown - 20) : 0;
  while (first > 0 && first < text.size() && continues_character(text[first])) --first;
  std::size_t last = std::min(text.size(), first + kMostShown);
  while (last < text.size() && last > first && continues_character(text[last])) --last;
  std::string shown = plain(text.substr(first, last - first));
  shown.erase(shown.find_last_not_of(' ') + 1);
  const std::string before = plain(text.substr(first, std::min(at.offset, last) - first));
  const auto tails = static_cast<std::size_t>(std::count_if(before.begin(), before.end(), continues_character));
  return fmt::format("{}\n{}{:{}}^", shown, kMargin, "", before.size() - tails);
}

std::string Source::mended(int index, const Fix& fix) const {
  const std::string_view text = line(index).text;
  std::string shown(text.substr(0, fix.first));
  shown += fix.text;
  shown += text.substr(std::min(fix.last, text.size()));
  if (shown.size() > kMostShown) {
    std::size_t end = kMostShown;
    while (end > 0 && continues_character(shown[end])) --end;
    shown.resize(end);
    shown += " ...";
  }
  shown = plain(shown);
  shown.erase(shown.find_last_not_of(' ') + 1);
  return shown;
}

std::string read_source(const std::filesystem::path& path, std::string& error) {
  FileBytes file = read_bytes(path, kMostSourceBytes);
  error = file.trouble;
  if (file.too_large) error = "more than 4 MiB";
  return error.empty() ? std::move(file.bytes) : "";
}

}  // namespace prewire::assembler
