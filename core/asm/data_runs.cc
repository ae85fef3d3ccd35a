#include "asm/data_runs.h"

#include <algorithm>

#include "asm/cursor.h"

namespace prewire::assembler {

namespace {

constexpr std::size_t kLeastText = 4, kLeastFill = 16;

template <class Kind>
std::size_t length(std::span<const std::uint8_t> data, Kind kind) {
  return static_cast<std::size_t>(std::find_if_not(data.begin(), data.end(), kind) - data.begin());
}

/// Most of a text is made of these, and little of anything else.
bool wordy(std::uint8_t byte) {
  const char c = static_cast<char>(byte);
  return is_letter(c) || is_digit(c) || c == ' ';
}

}  // namespace

std::size_t fill_length(std::span<const std::uint8_t> data) {
  const std::size_t size = length(data, [&](std::uint8_t byte) { return byte == data.front(); });
  return size >= kLeastFill ? size : 0;
}

std::size_t printable_length(std::span<const std::uint8_t> data) {
  return length(data, [](std::uint8_t byte) { return byte >= ' ' && byte <= '~'; });
}

std::size_t text_length(std::span<const std::uint8_t> data) {
  const std::span<const std::uint8_t> text = data.first(printable_length(data));
  if (text.size() < kLeastText || mark_for(text) == '\0') return 0;
  const auto words = static_cast<std::size_t>(std::count_if(text.begin(), text.end(), wordy));
  return text.size() - words <= (text.size() - 2) / 4 ? text.size() : 0;
}

char mark_for(std::span<const std::uint8_t> text) {
  for (const char mark : {'"', '/', '|', '\''}) {
    if (std::find(text.begin(), text.end(), static_cast<std::uint8_t>(mark)) == text.end()) return mark;
  }
  return '\0';
}

}  // namespace prewire::assembler
