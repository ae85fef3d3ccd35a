// Who answers where on the bus, as runs of addresses.
#pragma once

#include <cstdint>
#include <string>
#include <utility>
#include <vector>

#include "prewire/machine.h"

namespace prewire::front::cli {

struct MapEntry {
  std::uint16_t first = 0, last = 0;
  std::vector<std::string> chips;  ///< empty where nobody answers
  std::uint8_t lines = 0;          ///< data lines, a bit each, that they answer a read on
  std::string what;                ///< "MC6821 peripheral interface adapter"
  std::uint32_t size = 0;          ///< addresses that the chip tells apart; 0 unless there is one chip
  std::vector<std::pair<std::string, std::vector<std::string>>>
      by{};  ///< wired chips, and the outputs that select them
  std::uint32_t copies() const { return size == 0 ? 1 : (std::uint32_t{last} - first + size) / size; }
};

std::vector<MapEntry> address_map(const Machine& machine);

}  // namespace prewire::front::cli
