#include <fmt/format.h>

#include <algorithm>

#include "desk/session/session.h"
#include "see.h"

namespace prewire::front::desk {

void see_wiring(const Session& session, const Choices& choices, View& view) {
  const Machine& machine = *session.machine();
  const std::vector<ChipView> chips = machine.chips();
  const auto box_of = [](const ChipView& chip) {
    ChipBox box{std::string(chip.name), chip.type->name, {}, {}};
    if (chip.place) {
      box.place = chip.place->first == chip.place->last
                      ? fmt::format("${:04X}", chip.place->first)
                      : fmt::format("${:04X}-${:04X}", chip.place->first, chip.place->last);
    }
    return box;
  };
  WiringView& wiring = view.wiring;
  wiring.chips.push_back(box_of(machine.processor()));
  for (const ChipView& chip : chips) wiring.chips.push_back(box_of(chip));
  const auto& probes = session.bus().probes();
  // Pins in the order of their types.
  struct Wired {
    int chip, pin, net;
  };
  std::vector<Wired> wired;
  for (const NetView& net : machine.nets()) {
    if (net.pins.empty()) continue;
    const int index = static_cast<int>(wiring.nets.size());
    NetShown shown{std::string(net.name), net.state.level, net.state.strength, volts_text(net.state)};
    shown.traced = net.name == choices.net;
    shown.probed = std::find(probes.begin(), probes.end(), net.name) != probes.end();
    if (shown.traced) wiring.traced = wiring.nets.size();
    wiring.nets.push_back(std::move(shown));
    for (const NetView::Pin& pin : net.pins) {
      const ChipType& type = pin.chip < 0 ? *machine.processor().type : *chips[static_cast<std::size_t>(pin.chip)].type;
      if (type.pins[static_cast<std::size_t>(pin.pin)].kind == PinKind::supply) continue;
      wired.push_back({pin.chip, pin.pin, index});
    }
  }
  std::sort(wired.begin(), wired.end(),
            [](const Wired& a, const Wired& b) { return a.chip != b.chip ? a.chip < b.chip : a.pin < b.pin; });
  for (const Wired& end : wired) {
    const ChipType& type = end.chip < 0 ? *machine.processor().type : *chips[static_cast<std::size_t>(end.chip)].type;
    wiring.chips[static_cast<std::size_t>(end.chip + 1)].pins.push_back(
        {std::string(type.pins[static_cast<std::size_t>(end.pin)].name), end.net});
  }
  std::erase_if(wiring.chips, [](const ChipBox& box) { return box.pins.empty() && box.place.empty(); });
}

}  // namespace prewire::front::desk
