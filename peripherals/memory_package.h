// Pins of a memory, from the drawing of its package.
#pragma once

#include <cstdint>
#include <initializer_list>
#include <string_view>
#include <vector>

#include "prewire/chip.h"

namespace prewire::chips {

/// The number at the end of a name: of a line.
constexpr std::uint8_t number_in(std::string_view name) {
  const std::size_t digits = name.find_first_of("0123456789");
  std::uint8_t number = 0;
  for (const char c : name.substr(digits)) number = static_cast<std::uint8_t>(number * 10 + (c - '0'));
  return number;
}

/// Of an input. CS0 and CS3 of the MCM6810 are active high (NTE6810 data sheet); of other memories no select is.
constexpr BusRole memory_role(std::string_view name) {
  if (name == "CS0" || name == "CS3" || name == "PGM") return BusRole::select_high;
  if (name[0] == 'C') return BusRole::select_low;  // CS, CE, CE/PGM
  if (name == "R/W") return BusRole::read_write;
  if (name[0] == 'O') return BusRole::read_low;  // OE, OE/VPP
  return name == "WE" ? BusRole::write_low : BusRole::address;
}

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
      pin.role = data ? BusRole::data : memory_role(name);
      if (data || pin.role == BusRole::address) pin.bit = number_in(name);
      if (name.starts_with("I/O")) --pin.bit;  // they count from 1
    }
    pins.push_back(pin);
  }
  return pins;
}

}  // namespace prewire::chips
