// The fonts inside the program.
#pragma once

#include <span>

#include "painter.h"

namespace prewire::desk {

/// The bytes of a font file.
std::span<const unsigned char> font_file(Face face);

}  // namespace prewire::desk
