// Forms of pins that several chips have.
#pragma once

#include <cstdint>
#include <string_view>
#include <vector>

#include "prewire/chip.h"

namespace prewire::chips {

inline PinSpec input_pin(std::string_view name, bool optional = false) {
  return {.name = name, .kind = PinKind::input, .listens = true, .optional = optional};
}

/// Pins that are listed in the order of the package, from 1.
inline void number_in_order(std::vector<PinSpec>& pins) {
  std::uint8_t number = 1;
  for (PinSpec& pin : pins) pin.number = number++;
}

}  // namespace prewire::chips
