// Rules about parts and wires that need no running.
#pragma once

#include "partner/scene.h"

namespace prewire::partner {

void look_at_wiring(Scene& scene);

}  // namespace prewire::partner
