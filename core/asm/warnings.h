// Looks for what is legal and bites those who learn.
#pragma once

#include "asm/layout.h"
#include "asm/program.h"

namespace prewire::assembler {

/// The program is laid out. Of one with faults less can be said.
void look_at_program(Program& program, const Layout& layout);

}  // namespace prewire::assembler
