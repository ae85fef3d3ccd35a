#include "nets.h"

namespace prewire::front {

std::string pin_name(const Machine& machine, const std::vector<ChipView>& chips, const NetView::Pin& pin) {
  const ChipView chip = pin.chip < 0 ? machine.processor() : chips[static_cast<std::size_t>(pin.chip)];
  return std::string(chip.name) + "." + std::string(chip.type->pins[static_cast<std::size_t>(pin.pin)].name);
}

std::optional<NetView> find_net(const Machine& machine, std::string_view label_or_pin) {
  const std::vector<ChipView> chips = machine.chips();
  const std::vector<NetView> nets = machine.nets();
  for (const NetView& net : nets) {
    if (net.name == label_or_pin) return net;
  }
  for (const NetView& net : nets) {
    for (const NetView::Pin& pin : net.pins) {
      if (pin_name(machine, chips, pin) == label_or_pin) return net;
    }
  }
  return std::nullopt;
}

}  // namespace prewire::front
