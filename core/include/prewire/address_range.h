// Addresses of a memory, from one to another.
#pragma once

#include <cstdint>
#include <string>

namespace prewire {

/// Addresses from `first` to `last`, both included. An image may use 32 bits, a processor's memory 16.
struct AddressRange {
  std::uint32_t first = 0;
  std::uint32_t last = 0;  ///< not below `first`

  std::uint64_t size() const { return std::uint64_t{last} - first + 1; }
  bool contains(std::uint32_t address) const { return first <= address && address <= last; }
  friend bool operator==(const AddressRange&, const AddressRange&) = default;
};

/// "$F800-$FFFF".
std::string to_string(const AddressRange& range);

}  // namespace prewire
