// Characters of UTF-8 text.
#pragma once

#include <cstdint>
#include <string_view>

namespace prewire::front::desk {

/// Takes the first character off `text`, which must not be empty; U+FFFD for bytes that are no character.
inline std::uint32_t take_character(std::string_view& text) {
  const auto first = static_cast<unsigned char>(text.front());
  text.remove_prefix(1);
  if (first < 0x80) return first;
  const int more = first >= 0xF0 && first < 0xF5 ? 3 : first >= 0xE0 ? 2 : first >= 0xC2 && first < 0xE0 ? 1 : 0;
  if (more == 0 || first >= 0xF5) return 0xFFFD;
  std::uint32_t character = first & (0x3FU >> more);
  for (int i = 0; i < more; ++i) {
    if (text.empty() || (static_cast<unsigned char>(text.front()) & 0xC0) != 0x80) return 0xFFFD;
    character = character << 6 | (static_cast<unsigned char>(text.front()) & 0x3FU);
    text.remove_prefix(1);
  }
  return character;
}

}  // namespace prewire::front::desk
