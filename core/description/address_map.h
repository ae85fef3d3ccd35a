// The address map that a description makes, before anything is built from it.
#pragma once

#include <bitset>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "bus/bus_map.h"
#include "description/spec.h"

namespace prewire {

/// A chip's place in the map.
struct Window {
  std::string name;
  std::string pointer;  ///< JSON pointer of the chip
  Range home;           ///< `at`: where its cells are
  Range decoded;        ///< all addresses at which it answers, mirrors included
  BusSpec bus;
  bool wired = false;  ///< by its wires

  bool memory() const { return bus.kind != BusSpec::Kind::registers; }
  bool covers(std::uint32_t address) const { return address >= decoded.first && address <= decoded.last; }
};

/// The RAM inside an MC6802.
inline constexpr const char* kProcessorRam = "CPU's RAM";
inline constexpr Range kProcessorRamRange{0x0000, 0x007F};

/// Of all chips that have an `at`, in file order, and then of those that wires put on the bus: one for each run of
/// addresses at which they can be read, or else written, however lines stand that change now and then. RAM inside the
/// processor comes first.
std::vector<Window> windows_of(const MachineSpec& spec);

/// Those of them that wires put on the bus, gathered from the maps that the wires make.
class WiredWindows {
 public:
  /// Both must live on; `chips` are those of the maps, in the same order.
  WiredWindows(const MachineSpec& spec, const std::vector<int>& chips);
  void add(const std::vector<WiredPlace>& places);
  void append_to(std::vector<Window>& windows) const;

 private:
  const MachineSpec& spec_;
  const std::vector<int>& chips_;
  std::vector<std::bitset<65536>> reached_;  // by chip
  std::vector<std::uint8_t> lines_;
};

/// The byte that the program images leave at an address, by way of mirrors too. Empty unless they load all eight lines.
std::optional<std::uint8_t> loaded_byte(const MachineSpec& spec, const std::vector<Window>& windows,
                                        std::uint16_t address);

}  // namespace prewire
