// What chips say about an input pin that has no sure level when it matters.
#pragma once

#include <fmt/format.h>

#include "prewire/chip.h"
#include "report.h"

namespace prewire::chips {

/// Reports the input, as `floating-input` or `uncertain-input`, with the bit it read as.
inline void report_unsure(Socket& socket, int pin, bool read_as) {
  const NetState& net = socket.look(pin);
  if (net.level == Level::floating) {
    if (socket.in_reset()) return;
    return report(socket, "floating-input", Weight::warn, pin, [&] {
      return std::pair(
          fmt::format("{} was read while nobody drives it; it read as {:d}", socket.pin_name(pin), read_as),
          "wire the pin, or hold it with a pull-up or pull-down resistor");
    });
  }
  report(socket, "uncertain-input", Weight::warn, pin, [&] {
    const int hundredths = net.microvolts / 10'000;
    return std::pair(fmt::format("{} was read at {}.{:02} V, between low (0.8 V) and high (2.0 V); it read as {:d}",
                                 socket.pin_name(pin), hundredths / 100, hundredths % 100, read_as),
                     "look for resistors that form a divider, or a source that is too weak for this input");
  });
}

}  // namespace prewire::chips
