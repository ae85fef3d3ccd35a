// Who may look at a text is not asked: it is made safe for all. RFC 3629 has the syntax of UTF-8.
#include <cstddef>
#include <cstdint>
#include <iterator>
#include <utility>

#include "prewire/text.h"

namespace prewire {

namespace {

struct CodePoint {
  std::uint32_t value = 0;
  std::size_t bytes = 1;
  bool valid = false;  // else it is one byte that is no UTF-8
};

CodePoint first_of(std::string_view text) {
  const auto byte = [&](std::size_t i) {
    return i < text.size() ? static_cast<unsigned char>(text[i]) : std::uint32_t{0};
  };
  const std::uint32_t lead = byte(0);
  if (lead < 0x80) return {lead, 1, true};
  const std::size_t bytes = lead < 0xC2 ? 1 : lead < 0xE0 ? 2 : lead < 0xF0 ? 3 : lead < 0xF5 ? 4 : 1;
  if (bytes == 1) return {lead, 1, false};
  std::uint32_t value = lead & (0x7FU >> bytes);
  for (std::size_t i = 1; i < bytes; ++i) {
    if ((byte(i) & 0xC0) != 0x80) return {lead, 1, false};
    value = value << 6 | (byte(i) & 0x3F);
  }
  const bool shorter = value < (bytes == 3 ? 0x800U : bytes == 4 ? 0x10000U : 0U);
  const bool surrogate = value >= 0xD800 && value <= 0xDFFF;
  if (shorter || surrogate || value > 0x10FFFF) return {lead, 1, false};
  return {value, bytes, true};
}

bool is_control(std::uint32_t c) { return c < 0x20 || (c >= 0x7F && c <= 0x9F); }

/// Beside the control characters: what orders other text, ends lines unseen, or is not seen at all.
bool misleads(std::uint32_t c) {
  static constexpr std::pair<std::uint32_t, std::uint32_t> kRanges[] = {
      {0x061C, 0x061C}, {0x200E, 0x200F}, {0x2028, 0x202E},  {0x2066, 0x206F},
      {0xFEFF, 0xFEFF}, {0xFFF9, 0xFFFB}, {0xE0000, 0xE0FFF}};
  for (const auto& [first, last] : kRanges) {
    if (c >= first && c <= last) return true;
  }
  return (c & 0xFFFE) == 0xFFFE;
}

void add_hex(std::string& text, std::uint32_t value, int digits) {
  for (int shift = 4 * (digits - 1); shift >= 0; shift -= 4) text += "0123456789ABCDEF"[value >> shift & 15];
}

/// `\u202E`; behind the first plane as two surrogates, as JSON has it.
void add_unit(std::string& text, std::uint32_t value) {
  if (value > 0xFFFF) {
    add_unit(text, 0xD800 + ((value - 0x10000) >> 10));
    value = 0xDC00 + ((value - 0x10000) & 0x3FF);
  }
  text += "\\u";
  add_hex(text, value, 4);
}

bool is_plain(std::string_view text, std::string_view kept) {
  for (const char c : text) {
    const bool ascii = c >= ' ' && c <= '~';
    if (!ascii && kept.find(c) == std::string_view::npos) return false;
  }
  return true;
}

}  // namespace

std::string printable(std::string_view text, std::string_view kept) {
  if (is_plain(text, kept)) return std::string(text);
  std::string shown;
  shown.reserve(text.size());
  while (!text.empty()) {
    const CodePoint c = first_of(text);
    if (!c.valid || (is_control(c.value) && (c.value > 0x7F || kept.find(text[0]) == std::string_view::npos))) {
      shown += "\\x";
      add_hex(shown, c.value, 2);
    } else if (misleads(c.value)) {
      add_unit(shown, c.value);
    } else {
      shown += text.substr(0, c.bytes);
    }
    text.remove_prefix(c.bytes);
  }
  return shown;
}

std::string csv_cell(std::string_view text) {
  static constexpr std::string_view kFormulas[] = {"=",  "+",      "-",      "@",      "\t",
                                                   "\r", "\uFF1D", "\uFF0B", "\uFF0D", "\uFF20"};
  std::string cell;
  for (const std::string_view begin : kFormulas) {
    if (text.starts_with(begin)) cell = "'";
  }
  cell += printable(text);
  if (cell.find_first_of(",\"") == std::string::npos) return cell;
  std::string quoted = "\"";
  for (const char c : cell) quoted += c == '"' ? std::string("\"\"") : std::string(1, c);
  return quoted + '"';
}

std::string printable_json(std::string_view json) {
  if (is_plain(json, "\n")) return std::string(json);
  std::string shown;
  shown.reserve(json.size());
  while (!json.empty()) {
    const CodePoint c = first_of(json);
    if ((is_control(c.value) && c.value != '\n') || misleads(c.value)) {
      add_unit(shown, c.value);
    } else {
      shown += json.substr(0, c.bytes);
    }
    json.remove_prefix(c.bytes);
  }
  return shown;
}

}  // namespace prewire
