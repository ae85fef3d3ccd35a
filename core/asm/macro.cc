#include "asm/macro.h"

#include <algorithm>

#include "asm/cursor.h"

namespace prewire::assembler {

namespace {

/// The parameter that `\` at `at` names, and where it ends; `\\` is a backslash and names none.
std::string_view parameter_at(std::string_view text, std::size_t at, std::size_t& end) {
  end = at + 1;
  if (end < text.size() && text[end] == '\\') {
    ++end;
    return {};
  }
  if (end < text.size() && is_digit(text[end])) {
    ++end;
  } else {
    // Without the point: `\NAME.x` makes a name of two parts.
    while (end < text.size() && in_name(text[end]) && text[end] != '.') ++end;
  }
  return text.substr(at + 1, end - at - 1);
}

/// Its position, or -1.
int position_of(const std::vector<std::string>& parameters, std::string_view name) {
  if (name.size() == 1 && is_digit(name[0])) {
    const int number = name[0] - '1';
    return number < static_cast<int>(parameters.size()) ? number : -1;
  }
  const auto found = std::find(parameters.begin(), parameters.end(), upper(name));
  return found == parameters.end() ? -1 : static_cast<int>(found - parameters.begin());
}

}  // namespace

UnknownParameter add_to_body(Macro& macro, int line, std::string_view text) {
  const std::size_t before = macro.pieces.size();
  std::size_t first = 0;
  const auto add = [&](std::size_t end, int argument) {
    macro.pieces.push_back({static_cast<std::uint16_t>(first), static_cast<std::uint16_t>(end - first),
                            static_cast<std::int16_t>(argument)});
  };
  for (std::size_t at = text.find('\\'); at != std::string_view::npos;) {
    std::size_t end = 0;
    const std::string_view name = parameter_at(text, at, end);
    const bool backslash = end == at + 2 && name.empty();
    const int position = backslash ? -1 : position_of(macro.parameters, name);
    if (!backslash && position < 0) {
      macro.pieces.resize(before);
      return {at, name};
    }
    add(backslash ? at + 1 : at, position);
    first = end;
    at = text.find('\\', end);
  }
  add(text.size(), -1);
  macro.body.push_back({line, before, macro.pieces.size() - before});
  return {};
}

std::string expand(const Macro& macro, const Macro::Line& line, std::string_view text,
                   const std::vector<std::string>& arguments, std::size_t most) {
  std::string result;
  for (std::size_t i = line.piece; i < line.piece + line.count && result.size() <= most; ++i) {
    const Macro::Piece& piece = macro.pieces[i];
    result += text.substr(piece.first, piece.size);
    if (piece.argument >= 0) result += arguments[static_cast<std::size_t>(piece.argument)];
  }
  return result;
}

}  // namespace prewire::assembler
