// Questions to a log of bus cycles.
#pragma once

#include <algorithm>
#include <vector>

#include "prewire/bus.h"

namespace prewire::testing {

/// Addresses of the opcode fetches, interrupt entries included.
inline std::vector<int> fetches(const std::vector<BusCycle>& log) {
  std::vector<int> at;
  for (const BusCycle& cycle : log) {
    if (cycle.fetch) at.push_back(cycle.address);
  }
  return at;
}

inline bool reads(const std::vector<BusCycle>& log, int address) {
  return std::any_of(log.begin(), log.end(), [&](const BusCycle& c) { return c.vma && c.rw && c.address == address; });
}

/// Where an address first stands on the bus; the length of the log if it never does.
inline std::size_t position(const std::vector<BusCycle>& log, int address) {
  std::size_t at = 0;
  while (at < log.size() && !(log[at].vma && log[at].address == address)) ++at;
  return at;
}

}  // namespace prewire::testing
