// The fonts inside the program.
#pragma once

#include <span>

#include "desk/panels/painter.h"

namespace prewire::front::desk {

/// The bytes of a font file.
std::span<const unsigned char> font_file(Face face);

}  // namespace prewire::front::desk
