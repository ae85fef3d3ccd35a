// Wires that a check pulls or plugs in while the machine runs: contacts that stand between the pins from the start.
#pragma once

#include <string>

#include "description/fault_list.h"
#include "description/spec.h"
#include "lab/plan.h"

namespace prewire {

/// What moves the wires to and fro, as inputs of the part that stands for them.
inline constexpr const char *kPulled = "pulled", *kPlugged = "plugged in";

/// Puts the part of one entry of the plan's `wire_moves` on the board, with its wires as they are at power-on. A fault
/// for what the machine does not have.
void add_moved_wires(const WireMove& move, MachineSpec& spec, FaultList& faults);

}  // namespace prewire
