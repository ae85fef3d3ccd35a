// Eight small switches in one package. Pin assignment as in the symbols of Debian's kicad-symbols 6.0.10.
#include "chips.h"
#include "contact.h"
#include "pins.h"

namespace prewire::chips {

ChipType dip_switch() {
  ChipType type;
  type.name = "dip_switch";
  type.title = "eight switches, dual in line";
  type.summary = "Each between a pin and the one opposite, and closed where it says ON.";
  for (const std::string_view pin :
       {"1A", "2A", "3A", "4A", "5A", "6A", "7A", "8A", "8B", "7B", "6B", "5B", "4B", "3B", "2B", "1B"}) {
    type.pins.push_back({.name = pin});
  }
  number_in_order(type.pins);
  type.parameters = {{.name = "closed",
                      .unit = Unit::count,
                      .fallback = 0,
                      .minimum = 0,
                      .maximum = 255,
                      .help = "switches that are closed at power-on: the sum of 1 for the first, 2, 4 and so on"},
                     bounce_parameter(0)};
  for (int i = 0; i < 8; ++i) type.units.push_back({.type = "switch", .pins = {i, 15 - i}});
  type.share = [](const Parameters& package, int unit, Parameters& of_unit) {
    of_unit.set("closed", package["closed"] >> unit & 1, package.given("closed"));
  };
  return type;
}

}  // namespace prewire::chips
