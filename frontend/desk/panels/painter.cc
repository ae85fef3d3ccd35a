#include "painter.h"

#include <cmath>
#include <string>

namespace prewire::front::desk {

Colour blend(Colour a, Colour b, double share) {
  const auto mix = [share](std::uint8_t from, std::uint8_t to) {
    return static_cast<std::uint8_t>(std::lround(from + (to - from) * share));
  };
  return {mix(a.r, b.r), mix(a.g, b.g), mix(a.b, b.b), mix(a.a, b.a)};
}

void write(Painter& painter, const Rect& box, std::string_view text, Type type, Colour colour, Align align) {
  if (text.empty() || box.empty()) return;
  if (painter.width(text, type) <= box.w) {
    painter.text(box, text, type, colour, align);
    return;
  }
  static constexpr std::string_view kMore = "\u2026";
  // Halving finds the longest beginning that fits; it must end between two characters.
  std::size_t fits = 0, too_long = text.size();
  const auto whole = [&](std::size_t length) {
    while (length > 0 && length < text.size() && (static_cast<unsigned char>(text[length]) & 0xC0) == 0x80) --length;
    return length;
  };
  while (too_long - fits > 1) {
    const std::size_t half = (fits + too_long) / 2;
    const std::string shorter = std::string(text.substr(0, whole(half))).append(kMore);
    (painter.width(shorter, type) <= box.w ? fits : too_long) = half;
  }
  std::string shorter(text.substr(0, whole(fits)));
  while (!shorter.empty() && shorter.back() == ' ') shorter.pop_back();
  shorter += kMore;
  if (painter.width(shorter, type) <= box.w) painter.text(box, shorter, type, colour, align);
}

}  // namespace prewire::front::desk
