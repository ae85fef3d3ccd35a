#include "asm/line.h"

#include <algorithm>

namespace prewire::assembler {

Columns split_line(std::string_view text) {
  Columns columns;
  Cursor in(text);
  const auto column = [&](bool label) {
    const std::size_t first = in.at();
    while (!in.at_end_of_operand() && !(label && in.peek() == ':')) in.skip();
    return in.since(first);
  };
  const bool first_column = !is_blank(in.peek());
  in.skip_blanks();
  if (in.done() || in.peek() == ';' || in.peek() == '*') return columns;
  if (first_column) {
    columns.label_at = in.at();
    columns.label = column(true);
    in.take(':');
    in.skip_blanks();
  } else {
    const std::size_t first = in.at();
    const std::string_view word = in.word();
    if (!word.empty() && in.take(':')) {
      columns.label_at = first;
      columns.label = word;
      in.skip_blanks();
    } else {
      in.go(first);
    }
  }
  columns.mnemonic_at = in.at();
  columns.mnemonic = column(false);
  in.skip_blanks();
  columns.operand_at = in.at();
  return columns;
}

bool is_name(std::string_view text) {
  return !text.empty() && begins_name(text.front()) && text != "." && std::all_of(text.begin(), text.end(), in_name);
}

}  // namespace prewire::assembler
