// Pins of a memory, from the drawing of its package.
#pragma once

#include <initializer_list>
#include <string_view>
#include <vector>

#include "prewire/chip.h"

namespace prewire::chips {

/// `package` holds the names in the order of the pin numbers. What a pin does follows from its name; all but the
/// supplies belong to the bus.
inline std::vector<PinSpec> memory_pins(std::initializer_list<std::string_view> package) {
  std::vector<PinSpec> pins;
  for (const std::string_view name : package) {
    PinSpec pin;
    pin.name = name;
    pin.number = static_cast<std::uint8_t>(pins.size() + 1);
    if (name == "NC") {
      pin.kind = PinKind::none;
    } else if (name == "GND" || name == "VCC" || name == "VPP") {
      pin.kind = PinKind::supply;
      pin.microvolts = name == "GND" ? 0 : kLogicHigh;
    } else {
      const bool data = name.starts_with("I/O") || ((name[0] == 'D' || name[0] == 'O') && name[1] <= '9');
      pin.kind = data ? PinKind::three_state : PinKind::input;
      pin.implied = Implied::bus;
    }
    pins.push_back(pin);
  }
  return pins;
}

}  // namespace prewire::chips
