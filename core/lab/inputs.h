// What a check does to the parts of a machine: presses, turns, ramps and noise, one by one.
#pragma once

#include <vector>

#include "lab/plan.h"

namespace prewire {

/// In order of time. Throws `InputError` if there are too many.
std::vector<TimedInput> inputs_of(const LabCheck::Plan& plan, const Timebase& timebase);

}  // namespace prewire
