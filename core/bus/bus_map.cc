#include "bus/bus_map.h"

#include <algorithm>

namespace prewire {

void CellIndex::spread() {
  full_.resize(65536);
  for (std::uint32_t address = 0; address < 65536; ++address)
    full_[address] = low_[address & 0xFF] | high_[address >> 8];
}

bool CellIndex::plain(std::uint32_t size) const {
  for (std::uint32_t address = 0; address < 65536; ++address) {
    if (at(static_cast<std::uint16_t>(address)) != (address & (size - 1))) return false;
  }
  return true;
}

std::uint8_t WiredPlace::lines() const {
  unsigned lines = 0;
  for (const std::int8_t at : line) {
    if (at >= 0) lines |= 1U << at;
  }
  return static_cast<std::uint8_t>(lines);
}

bool WiredPlace::straight() const {
  for (std::size_t bit = 0; bit < line.size(); ++bit) {
    if (line[bit] != static_cast<int>(bit)) return false;
  }
  return true;
}

std::uint8_t WiredPlace::to_bus(std::uint8_t own) const {
  unsigned bus = 0;
  for (std::size_t bit = 0; bit < line.size(); ++bit) {
    if (line[bit] >= 0 && (own >> bit & 1) != 0) bus |= 1U << line[bit];
  }
  return static_cast<std::uint8_t>(bus);
}

std::uint8_t WiredPlace::from_bus(std::uint8_t bus) const {
  unsigned own = open_ones;
  for (std::size_t bit = 0; bit < line.size(); ++bit) {
    if (line[bit] >= 0 && (bus >> line[bit] & 1) != 0) own |= 1U << bit;
  }
  return static_cast<std::uint8_t>(own);
}

}  // namespace prewire
