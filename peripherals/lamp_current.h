// Whether the current through an LED is enough to see.
#pragma once

#include "prewire/chip.h"

namespace prewire::chips {

/// Below a tenth of a milliampere nobody sees an LED (common practice).
inline constexpr std::int64_t kLeastMicroamps = 100;

/// Of an LED between two pins, both of which are driven or pulled: forward voltage in microvolts. What the nets show is
/// their voltage without it, so the rest falls across the resistances behind them.
inline bool lights(const Socket& socket, int anode, int cathode, std::int32_t forward) {
  const NetState& a = socket.look(anode);
  const NetState& k = socket.look(cathode);
  if (a.strength == Strength::none || k.strength == Strength::none) return false;
  const std::int64_t rest = std::int64_t{a.microvolts} - k.microvolts - forward;
  if (rest < 0) return false;
  if (a.strength != Strength::pulled && k.strength != Strength::pulled) return true;
  const std::int64_t ohms = std::int64_t{socket.ohms(anode)} + socket.ohms(cathode);
  return rest >= kLeastMicroamps * ohms;
}

}  // namespace prewire::chips
