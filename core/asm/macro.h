// Macros: their text in pieces, so that a call only joins them.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace prewire::assembler {

struct Macro {
  /// Text as it stands, then an argument.
  struct Piece {
    std::uint16_t first = 0, size = 0;  ///< in the line
    std::int16_t argument = -1;         ///< from 0; -1 for none
  };
  struct Line {
    int line = 0;           ///< index into the source's lines
    std::size_t piece = 0;  ///< its first one in `pieces`
    std::size_t count = 0;
  };

  std::string name;
  int line = 0;  ///< of its MACRO
  std::vector<std::string> parameters;
  std::vector<Line> body;
  std::vector<Piece> pieces;
  std::vector<int> uses;
};

/// A `\` with a name that is no parameter: where it stands, and the name.
struct UnknownParameter {
  std::size_t at = std::string_view::npos;
  std::string_view name;
};

/// Adds a line of at most 65535 bytes to the body. Nothing is added if a parameter is not known.
UnknownParameter add_to_body(Macro& macro, int line, std::string_view text);

/// The line with the arguments of a call put in; cut off somewhere behind `most` bytes.
std::string expand(const Macro& macro, const Macro::Line& line, std::string_view text,
                   const std::vector<std::string>& arguments, std::size_t most);

}  // namespace prewire::assembler
