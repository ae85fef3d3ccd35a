#include "description/address_map.h"

#include <fmt/format.h>

#include <algorithm>

#include "description/select_logic.h"
#include "prewire/bus.h"

namespace prewire {

WiredWindows::WiredWindows(const MachineSpec& spec, const std::vector<int>& chips)
    : spec_(spec), chips_(chips), reached_(chips.size()), lines_(chips.size()) {}

void WiredWindows::add(const std::vector<WiredPlace>& places) {
  for (std::size_t i = 0; i < places.size(); ++i) {
    lines_[i] = places[i].lines();
    for (std::uint32_t at = 0; at < 65536; ++at) {
      const BusMode& mode = places[i].mode(static_cast<std::uint16_t>(at));
      if (mode.reads() || mode.writes()) reached_[i].set(at);
    }
  }
}

void WiredWindows::append_to(std::vector<Window>& windows) const {
  for (std::size_t i = 0; i < chips_.size(); ++i) {
    const ChipSpec& chip = spec_.chips[static_cast<std::size_t>(chips_[i])];
    for (std::uint32_t at = 0; at < 65536;) {
      if (!reached_[i][at]) {
        ++at;
        continue;
      }
      const std::uint32_t first = at;
      while (at < 65536 && reached_[i][at]) ++at;
      Window window{chip.name, chip.pointer, {}, {}, chip.bus, true};
      window.bus.data_mask = lines_[i];
      window.decoded = {static_cast<std::uint16_t>(first), static_cast<std::uint16_t>(at - 1)};
      window.home = {window.decoded.first, static_cast<std::uint16_t>(std::min(at, first + chip.bus.size) - 1)};
      windows.push_back(std::move(window));
    }
  }
}

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
  const auto wired = [](const ChipSpec& chip) { return chip.wired; };
  if (std::any_of(spec.chips.begin(), spec.chips.end(), wired)) {
    const Nets nets(spec);
    const SelectLogic logic(spec, nets);
    WiredWindows by_wires(spec, logic.chips());
    for (const std::vector<Logic>& state : logic.states()) by_wires.add(logic.places(state));
    by_wires.append_to(windows);
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
