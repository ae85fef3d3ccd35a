// Several resistors in one package. Pin assignments as in the symbols of Debian's kicad-symbols 6.0.10.
#include <vector>

#include "chips.h"
#include "pins.h"

namespace prewire::chips {

namespace {

ChipType network(std::string_view name, std::string_view title, std::string_view summary,
                 std::initializer_list<std::string_view> pins, std::vector<std::vector<int>> resistors) {
  ChipType type;
  type.name = name;
  type.title = title;
  type.summary = summary;
  for (const std::string_view pin : pins) type.pins.push_back({.name = pin});
  number_in_order(type.pins);
  type.parameters = {resistance("resistance of each")};
  for (std::vector<int>& ends : resistors) type.units.push_back({.type = "resistor", .pins = std::move(ends)});
  return type;
}

}  // namespace

std::vector<ChipType> resistor_network() {
  return {network("resistor_bussed_8", "eight resistors with a common pin, single in line",
                  "Pin 1, at the dot, is one end of all eight: pull-ups of a port, or the resistors of a digit.",
                  {"COM", "R1", "R2", "R3", "R4", "R5", "R6", "R7", "R8"},
                  {{0, 1}, {0, 2}, {0, 3}, {0, 4}, {0, 5}, {0, 6}, {0, 7}, {0, 8}}),
          network("resistor_isolated_4", "four separate resistors, single in line",
                  "Pins 1 and 2 are the first one, 3 and 4 the second and so on.",
                  {"1A", "1B", "2A", "2B", "3A", "3B", "4A", "4B"}, {{0, 1}, {2, 3}, {4, 5}, {6, 7}}),
          network("resistor_isolated_8", "eight separate resistors, dual in line",
                  "Each between a pin and the one opposite: 1 and 16, 2 and 15 and so on.",
                  {"1A", "2A", "3A", "4A", "5A", "6A", "7A", "8A", "8B", "7B", "6B", "5B", "4B", "3B", "2B", "1B"},
                  {{0, 15}, {1, 14}, {2, 13}, {3, 12}, {4, 11}, {5, 10}, {6, 9}, {7, 8}})};
}

}  // namespace prewire::chips
