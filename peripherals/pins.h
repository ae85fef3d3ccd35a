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

/// The value of a part that is a resistor, or several alike.
inline ParameterSpec resistance(std::string_view help) {
  return {.name = "ohms",
          .unit = Unit::ohms,
          .fallback = 4'700,
          .minimum = 1,
          .maximum = 100'000'000,
          .help = help,
          .required = true};
}

/// Low makes the digit dark; the chip itself pulls it low to blank the digit before it.
inline PinSpec blanking_pin(std::string_view name) {
  return {.name = name,
          .kind = PinKind::open_drain,
          .listens = true,
          .optional = true,
          .held_low = "the digit stays dark",
          .pull_up = 20'000};
}

/// The package of seven-segment decoders: `pins` are 1 to 7, and `segment` makes the output of one.
template <class Segment>
std::vector<PinSpec> decoder_package(std::vector<PinSpec> pins, Segment segment) {
  pins.push_back({.name = "GND", .kind = PinKind::supply});
  for (const std::string_view name : {"e", "d", "c", "b", "a", "g", "f"}) pins.push_back(segment(name));
  pins.push_back({.name = "VCC", .kind = PinKind::supply, .microvolts = kLogicHigh});
  number_in_order(pins);
  return pins;
}

}  // namespace prewire::chips
