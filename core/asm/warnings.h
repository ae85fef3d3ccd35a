// Looks for what is legal and bites those who learn.
#pragma once

#include "asm/layout.h"
#include "asm/program.h"

namespace prewire::assembler {

/// Comments that look like the rest of an operand: of interest for sources with faults, too.
void look_at_comments(Program& program);

/// The program is laid out and without faults.
void look_at_program(Program& program, const Layout& layout);

}  // namespace prewire::assembler
