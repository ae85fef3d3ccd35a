// What the board should show, from an actual run for each position of a knob.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "prewire/machine.h"

namespace prewire::handout {

/// A part and what it is set to, one value after the other.
struct Positions {
  std::string part;
  std::vector<std::string> values;
};

struct Reading {
  std::string part, value;  ///< empty: as switched on
  std::string volts;        ///< "2.500 V" at the wiper or output of the knob; may be empty
  std::vector<std::pair<std::string, std::string>> texts;  ///< group of digits and what it shows
  std::vector<std::pair<std::string, bool>> leds;
  std::string remark;  ///< "keeps changing", or why the run ended; may be empty
};

struct Expected {
  std::vector<std::string> groups, leds;  ///< the columns
  std::vector<Reading> readings;
};

/// Positions of all knobs and contacts, for a person who names none. Leaves the machine switched on anew.
std::vector<Positions> usual_positions(Machine& machine);

/// Switches the machine off and on for each value, sets the part and runs until nothing has changed for a quarter of a
/// second. The machine is left switched on anew. Throws `InputError` for a part or value that it does not take.
Expected run_expected(Machine& machine, const std::vector<Positions>& positions);

}  // namespace prewire::handout
