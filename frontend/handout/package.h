// Packages and designators: what stands on the parts and in the drawing.
#pragma once

#include <string>
#include <vector>

#include "board.h"

namespace prewire::handout {

/// The pins of a part in order of their numbers, with those that the model has no use for.
std::vector<Terminal> package_of(const ChipType& type);

/// Letters of the part's designator: "U" for what has a package, "R" for a resistor.
std::string prefix_of(const ChipType& type);

/// "4.7 kOhm", "red", "common cathode": what to ask for in the stock room; empty for most chips.
std::string value_of(const ChipView& chip);

/// "+5V", "GND", "-12V".
std::string rail_name(std::int32_t microvolts);

}  // namespace prewire::handout
