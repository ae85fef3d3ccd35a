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
    if (const std::string why = socket.could_drive(pin); !why.empty()) {
      return report(socket, "port-bit-input", Weight::warn, pin, [&] {
        return std::pair(
            fmt::format("nobody drives {}, which hangs on a line of a port: {}", socket.pin_name(pin), why),
            "let the program make it an output: ones in the direction register, which is reached while bit 2 of the "
            "control register is 0; bits 5 to 3 of that register for CA2 and CB2");
      });
    }
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
