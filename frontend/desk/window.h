// The window: events in, frames out.
#pragma once

#include "desk.h"

namespace prewire::front::desk {

/// Returns when the window is closed. Throws `Trouble` if there is no screen.
void run_window(Desk& desk, Size size);

}  // namespace prewire::front::desk
