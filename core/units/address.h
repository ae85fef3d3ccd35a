// Ranges of addresses on the bus.
#pragma once

#include <cstdint>
#include <string>

namespace prewire {

/// Addresses from first to last, both included.
struct Range {
  std::uint16_t first = 0;
  std::uint16_t last = 0;
};

/// "$4000-$4003", or "$4000" for one address.
std::string format_range(Range range);

}  // namespace prewire
