// Ten LEDs in one package. Pin assignment as in the symbols of Debian's kicad-symbols 6.0.10.
#include "chips.h"
#include "pins.h"

namespace prewire::chips {

ChipType led_bar() {
  ChipType type;
  type.name = "led_bar";
  type.title = "bar of ten LEDs";
  type.summary = "Anodes on one side, from pin 1 on, and the cathode of each opposite; turned round nothing is lit.";
  for (const std::string_view pin : {"A1",  "A2", "A3", "A4", "A5", "A6", "A7", "A8", "A9", "A10",
                                     "K10", "K9", "K8", "K7", "K6", "K5", "K4", "K3", "K2", "K1"}) {
    type.pins.push_back({.name = pin});
  }
  number_in_order(type.pins);
  type.parameters = led().parameters;
  for (int i = 0; i < 10; ++i) type.units.push_back({.type = "led", .pins = {i, 19 - i}});
  return type;
}

}  // namespace prewire::chips
