// Ctrl-C as a flag that a run looks at.
#pragma once

namespace prewire::front {

/// From now on the first Ctrl-C sets the flag; a second one ends the program at once.
void catch_interrupt();
bool interrupted();
/// From now on every Ctrl-C sets the flag, and `forget_interrupt` takes it back.
void catch_interrupts();
void forget_interrupt();

}  // namespace prewire::front
