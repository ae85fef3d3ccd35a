// What stands behind the blank at which an operand is over: a comment, or more of the operand. docs/assembler.md,
// "Comments behind an operand", is the rule.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

namespace prewire::assembler {

struct Program;

/// What an operand consists of.
enum class Shape : std::uint8_t {
  nothing,    ///< an instruction without operand, a macro without parameters
  value,      ///< one expression
  values,     ///< a list of them
  operand,    ///< that of an instruction: #value, an address, an indexed form
  registers,  ///< a list of them, or #value
  pair,       ///< two registers
  arguments,  ///< of a macro: anything with commas between
  word,       ///< a name that is no symbol: a part, the name of a program, parameters of a macro
  text,       ///< between marks
};

/// An operand with something behind it that does not begin with `;`.
struct Comment {
  int line = 0;
  std::uint16_t first = 0;  ///< where the operand begins
  std::uint16_t last = 0;   ///< where it is over
  Shape shape = Shape::value;
  std::string scope{};  ///< of local labels
};

/// Reports comments that read as operand: all names must be known, and nothing laid out yet.
void look_behind_blanks(Program& program);

}  // namespace prewire::assembler
