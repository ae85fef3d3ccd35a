// The chips that come with Prewire.
#pragma once

#include "prewire/chip.h"

namespace prewire {

/// All of them. Add your own to a copy.
Registry standard_chips();

}  // namespace prewire
