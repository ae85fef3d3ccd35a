// Names of nets and pins.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "prewire/machine.h"

namespace prewire::front::desk {

/// "PIA.CA2", "CPU.IRQ".
std::string pin_name(const Machine& machine, const std::vector<ChipView>& chips, const NetView::Pin& pin);

/// The name under which observers hear of the net with that label or at that pin; empty if there is none.
std::string net_name(const Machine& machine, std::string_view label_or_pin);

}  // namespace prewire::front::desk
