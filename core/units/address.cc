#include "units/address.h"

#include <fmt/format.h>

#include <optional>
#include <string_view>

#include "prewire/quantity.h"

namespace prewire {

std::optional<std::uint16_t> parse_address(std::string_view text) {
  if (text.starts_with('$')) {
    text.remove_prefix(1);
  } else if (text.starts_with("0x") || text.starts_with("0X")) {
    text.remove_prefix(2);
  } else {
    return std::nullopt;
  }
  if (text.empty() || text.size() > 4) return std::nullopt;
  unsigned value = 0;
  for (const char c : text) {
    const char letter = static_cast<char>(c | 0x20);
    if (c >= '0' && c <= '9') {
      value = value << 4 | static_cast<unsigned>(c - '0');
    } else if (letter >= 'a' && letter <= 'f') {
      value = value << 4 | static_cast<unsigned>(letter - 'a' + 10);
    } else {
      return std::nullopt;
    }
  }
  return static_cast<std::uint16_t>(value);
}

std::string format_range(Range range) {
  if (range.first == range.last) return fmt::format("${:04X}", range.first);
  return fmt::format("${:04X}-${:04X}", range.first, range.last);
}

}  // namespace prewire
