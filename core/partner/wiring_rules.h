// Rules about parts, wires and source that need no running.
#pragma once

#include "partner/scene.h"

namespace prewire::partner {

void look_at_wiring(Scene& scene);
/// Variables of the source where the machine has no RAM.
void look_at_source(Scene& scene);

}  // namespace prewire::partner
