// Names of nets and pins.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "prewire/machine.h"

namespace prewire::front {

/// "PIA.CA2", "CPU.IRQ"; `chips` are those of the machine.
std::string pin_name(const Machine& machine, const std::vector<ChipView>& chips, const NetView::Pin& pin);

/// The net with that label or at that pin, as the machine lists it.
std::optional<NetView> find_net(const Machine& machine, std::string_view label_or_pin);

}  // namespace prewire::front
