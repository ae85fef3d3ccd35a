#include "description/address_map.h"

#include <fmt/format.h>

#include "prewire/bus.h"

namespace prewire {

std::vector<Window> windows_of(const MachineSpec& spec) {
  std::vector<Window> windows;
  if (spec.cpu != nullptr && spec.cpu->internal_ram && spec.ram_enabled) {
    BusSpec bus;
    bus.kind = BusSpec::Kind::ram;
    bus.size = 128;
    windows.push_back({kProcessorRam, "/cpu", kProcessorRamRange, kProcessorRamRange, bus});
  }
  for (const ChipSpec& chip : spec.chips) {
    if (!chip.at) continue;
    windows.push_back({chip.name, chip.pointer, *chip.at, chip.mirror.value_or(*chip.at), chip.bus});
  }
  return windows;
}

std::optional<std::uint8_t> loaded_byte(const MachineSpec& spec, const std::vector<Window>& windows,
                                        std::uint16_t address) {
  unsigned value = 0, lines = 0;
  for (const Window& window : windows) {
    if (!window.memory() || !window.covers(address)) continue;
    for (const ProgramSpec& program : spec.programs) {
      for (const Segment& segment : program.image.segments) {
        // The chip sees only its own address lines: look at every address of the segment that is the same to it.
        std::uint64_t at = cell_of(segment.start, window.bus.size, address);
        for (; at < segment.end() && at <= window.decoded.last; at += window.bus.size) {
          if (at < window.decoded.first) continue;
          value =
              (value & ~unsigned{window.bus.data_mask}) | (segment.bytes[at - segment.start] & window.bus.data_mask);
          lines |= window.bus.data_mask;
        }
      }
    }
  }
  if (lines != 0xFF) return std::nullopt;
  return static_cast<std::uint8_t>(value);
}

}  // namespace prewire
