// Quantities as people write them, "4.7 kOhm", in exact decimal arithmetic, with the reason where a text is none.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "prewire/quantity.h"

namespace prewire {

enum class QuantityTrouble : std::uint8_t {
  none,
  number,  ///< does not start with a number
  unit,    ///< no unit, or not one of this kind
  fine,    ///< digits below the smallest step
  large,   ///< beyond 64 bits
};

struct Quantity {
  std::int64_t value = 0;
  QuantityTrouble trouble = QuantityTrouble::none;
};

Quantity read_quantity(std::string_view text, Unit unit);

/// One next step for who wrote `text`; may be empty.
std::string quantity_hint(std::string_view text, Unit unit, QuantityTrouble trouble);

/// A regular expression (ECMA-262), without anchors, for the texts that `read_quantity` takes, sizes aside.
std::string quantity_pattern(Unit unit);

}  // namespace prewire
