#include "address_map.h"

#include <algorithm>

namespace prewire::front::cli {

std::vector<MapEntry> address_map(const Machine& machine) {
  std::vector<MapEntry> map;
  for (std::uint32_t address = 0; address <= 0xFFFF; ++address) {
    const auto here = static_cast<std::uint16_t>(address);
    std::vector<std::string> chips = machine.answering(here);
    if (!map.empty() && map.back().chips == chips) {
      map.back().last = here;
    } else {
      map.push_back({here, here, std::move(chips), machine.lines_at(here), {}, 0, {}});
    }
  }
  for (MapEntry& entry : map) {
    const std::vector<ChipView> chips = machine.chips();
    for (std::size_t i = 0; i < chips.size(); ++i) {
      const ChipView& chip = chips[i];
      const bool here = std::find(entry.chips.begin(), entry.chips.end(), chip.name) != entry.chips.end();
      const bool wired = chip.place && chip.place->wired;
      if (here && wired) entry.by.emplace_back(chip.name, machine.selected_by(static_cast<int>(i)));
      if (entry.chips.size() != 1 || entry.chips[0] != chip.name) continue;
      entry.what = chip.type->title;
      entry.size = chip.type->bus->size;
    }
  }
  return map;
}

}  // namespace prewire::front::cli
