// Something that a person does to a part.
#pragma once

#include <cstdint>

#include "prewire/clock.h"

namespace prewire {

struct Input {
  static constexpr std::int32_t kReset = -2;  ///< the reset line instead of a chip
  Stamp when = 0;
  std::int64_t value = 0;
  std::int32_t chip = 0;
  std::int32_t order = 0;
};

}  // namespace prewire
