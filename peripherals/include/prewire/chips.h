// The chips that come with Prewire.
#pragma once

#include "prewire/chip.h"

namespace prewire {

/// All of them, with the rules by which they find fault. Add your own to a copy.
Registry standard_chips();

}  // namespace prewire
