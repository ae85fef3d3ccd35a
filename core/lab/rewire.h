// A machine as a check wants it: with wires pulled or shorted, another seed, and the nets of the check in view.
#pragma once

#include "lab/plan.h"

namespace prewire {

/// Throws `InputError` for what the machine does not have.
Machine rewired(const LabCheck::Plan& plan, const Description& description);

}  // namespace prewire
