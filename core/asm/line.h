// A line in its columns.
#pragma once

#include <cstddef>
#include <string_view>

#include "asm/cursor.h"

namespace prewire::assembler {

struct Columns {
  std::string_view label, mnemonic;
  std::size_t label_at = 0, mnemonic_at = 0, operand_at = 0;

  bool blank() const { return label.empty() && mnemonic.empty(); }
};

/// A label begins in the first column, or ends with a colon. A line whose first character is `*` or `;` is a comment.
Columns split_line(std::string_view text);

/// A name that a label may have.
bool is_name(std::string_view text);

}  // namespace prewire::assembler
