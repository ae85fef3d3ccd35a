// What a line was perhaps meant to be that is none: notations of the trade that this assembler does not have, and slips
// of those who learn.
#pragma once

#include <string>
#include <vector>

#include "asm/line.h"
#include "asm/program.h"

namespace prewire::assembler {

/// Nothing, or a hint, or the line as it should read, or both.
struct Slip {
  std::string hint{};
  std::vector<Fix> fixes{};
  bool line = false;  ///< it explains all of the line: nothing else is worth saying

  bool found() const { return !hint.empty() || !fixes.empty(); }
};

/// The second column holds `name`, in capitals, which is no instruction, directive or macro.
Slip slip_in_mnemonic(const Program& program, int line, const Columns& columns, const std::string& name);
/// The first column holds what can be no name.
Slip slip_in_label(const Program& program, int line, const Columns& columns);
/// The operand begins with a register by itself: `LDA A #5`, `INC A`, `PSH A`, `LDA X` for the MC6809.
Slip slip_in_register(const Program& program, int line, const Columns& columns, const std::string& name);
/// A condition that exists elsewhere: IFDEF, IFEQ, ELSEIF.
Slip slip_in_condition(const Program& program, int line, const Columns& columns, const std::string& name);

}  // namespace prewire::assembler
