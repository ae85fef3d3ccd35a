#include "fonts.h"

namespace prewire::front::desk {

namespace fonts {

// From sources that fonts/embed.cmake makes.
extern const unsigned label_size, label_bold_size, mono_size, mono_bold_size;
extern const char label[], label_bold[], mono[], mono_bold[];

}  // namespace fonts

std::span<const unsigned char> font_file(Face face) {
  const auto bytes = [](const char* data, unsigned size) {
    return std::span(reinterpret_cast<const unsigned char*>(data), size);
  };
  switch (face) {
    case Face::label: return bytes(fonts::label, fonts::label_size);
    case Face::label_bold: return bytes(fonts::label_bold, fonts::label_bold_size);
    case Face::mono: return bytes(fonts::mono, fonts::mono_size);
    case Face::mono_bold: return bytes(fonts::mono_bold, fonts::mono_bold_size);
  }
  return {};
}

}  // namespace prewire::front::desk
