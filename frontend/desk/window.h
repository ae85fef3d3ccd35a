// The window: events in, frames out.
#pragma once

#include "desk.h"

namespace prewire::desk {

/// Returns when the window is closed. Throws `cli::Trouble` if there is no screen.
void run_window(Desk& desk, Size size);

}  // namespace prewire::desk
