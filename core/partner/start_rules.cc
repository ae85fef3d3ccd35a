#include "partner/start_rules.h"

#include <fmt/format.h>

#include <algorithm>

namespace prewire::partner {

namespace {

constexpr Picoseconds kLong = 50'000'000'000;  // 50 ms: hundreds of conversions

}  // namespace

void StartRules::on_start(std::string_view chip) {
  if (std::find(started_.begin(), started_.end(), chip) == started_.end()) started_.emplace_back(chip);
}

/// National ADC0801-05 data sheet, "Free running connection": INTR at WR starts each next conversion, and WR has to be
/// low once to begin with.
void StartRules::conclude() {
  const Machine& machine = scene_.machine;
  if (!scene_.saw_reset || machine.now() < machine.timebase().cycles(kLong)) return;
  const std::vector<ChipView> chips = machine.chips();
  const std::vector<NetView> nets = machine.nets();
  for (std::size_t i = 0; i < chips.size(); ++i) {
    const ChipView& chip = chips[i];
    const int number = static_cast<int>(i), done = chip.type->pin("INTR"), start = chip.type->pin("WR");
    if (done < 0 || start < 0 || std::find(started_.begin(), started_.end(), chip.name) != started_.end()) continue;
    const NetView* from = net_at(nets, number, done);
    const NetView* to = net_at(nets, number, start);
    if (from == nullptr || to == nullptr) continue;
    // Through a resistor, so that a button can pull WR low against it.
    const bool joined = from == to || std::any_of(from->pins.begin(), from->pins.end(), [&](const NetView::Pin& pin) {
                          if (pin.chip < 0) return false;
                          const ChipType& type = *chips[static_cast<std::size_t>(pin.chip)].type;
                          return type.links.size() == 1 && type.pins.size() == 2 && !type.by_hand() &&
                                 net_at(nets, pin.chip, 1 - pin.pin) == to;
                        });
    if (!joined) continue;
    scene_.say("converter-never-started", i, [&] {
      return std::pair(
          fmt::format("INTR of {0} starts its next conversion by {0}.WR, but nothing has started the first one: WR has "
                      "not been low",
                      chip.name),
          fmt::format("{0}.WR has to be low for a moment while {0}.CS is: by a button against a resistor, or "
                      "by an output with an open collector",
                      chip.name));
    });
  }
}

}  // namespace prewire::partner
