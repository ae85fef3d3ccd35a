// LEDs and the segments of digits, as diodes between two nets.
#pragma once

#include <vector>

#include "description/circuit.h"

namespace prewire {

struct Diode {
  int pin = -1;                  ///< of the part: what tells it apart
  int anode = -1, cathode = -1;  ///< nets; -1 where no wire is
  std::int32_t forward = 0;      ///< microvolts
  bool optional = false;         ///< nobody misses it
};

/// Whether COM of a digit is the anode of its segments.
bool common_anode(const Circuit& circuit, int chip);
std::vector<Diode> diodes_of(const Circuit& circuit, int chip);

}  // namespace prewire
