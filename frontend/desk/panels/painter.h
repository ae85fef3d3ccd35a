// Everything that the desk can draw with. Panels know nothing else, so that a test can listen to what they draw.
#pragma once

#include <cstdint>
#include <optional>
#include <string_view>

#include "geometry.h"

namespace prewire::front::desk {

struct Colour {
  std::uint8_t r = 0, g = 0, b = 0, a = 255;
  friend bool operator==(const Colour&, const Colour&) = default;
};

/// 0xRRGGBB.
constexpr Colour rgb(std::uint32_t code) {
  return {static_cast<std::uint8_t>(code >> 16), static_cast<std::uint8_t>(code >> 8), static_cast<std::uint8_t>(code),
          255};
}

/// `share` of `b` over the rest of `a`.
Colour blend(Colour a, Colour b, double share);

enum class Face : std::uint8_t { label, label_bold, mono, mono_bold };

/// A font at a size: the height of a line of text without space between lines.
struct Type {
  Face face = Face::label;
  int px = 16;
};

enum class Align : std::uint8_t { left, centre, right };

/// Small pictures that fill their box.
enum class Shape : std::uint8_t {
  disc,     ///< of the size of the box
  arc,      ///< a gauge round the box; `detail`: how much of its 270 degrees, in percent
  pointer,  ///< of a knob; `detail`: as for `arc`
  segment,  ///< of a digit that fills the box; `detail`: 0 to 6 for a to g, 7 for the point
  play,     ///< a triangle that points right
};

class Painter {
 public:
  virtual ~Painter() = default;

  virtual void fill(const Rect& box, Colour colour, int radius = 0) = 0;
  virtual void frame(const Rect& box, Colour colour, int width, int radius = 0) = 0;
  virtual void shape(Shape shape, const Rect& box, Colour colour, int detail = 0) = 0;
  /// UTF-8 text in one line, in the middle of the height of its box; it may not be wider than the box (see `write`).
  virtual void text(const Rect& box, std::string_view text, Type type, Colour colour, Align align) = 0;
  virtual int width(std::string_view text, Type type) = 0;
  /// Draws within this box only, until the next call.
  virtual void clip(const std::optional<Rect>& box) = 0;
};

/// Draws a text, with an ellipsis in place of what does not fit.
void write(Painter& painter, const Rect& box, std::string_view text, Type type, Colour colour,
           Align align = Align::left);

}  // namespace prewire::front::desk
