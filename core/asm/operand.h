// The operand of an instruction, as written.
#pragma once

#include <cstdint>

#include "asm/expression.h"
#include "asm/mnemonics.h"

namespace prewire::assembler {

struct Operand {
  enum class Kind : std::uint8_t { none, immediate, address, indexed, postbyte };
  enum class Force : std::uint8_t { none, in_postbyte, byte, word };  ///< `<<`, `<`, `>`

  Kind kind = Kind::none;
  Force force = Force::none;
  bool indirect = false;
  /// Of an indexed operand: `offset16` for any offset, `pc16` for any distance, `extended` for `[address]`, else what
  /// it is.
  Postbyte::Form form = Postbyte::Form::illegal;
  std::uint8_t base = 0;      ///< as in `Postbyte`
  std::uint8_t postbyte = 0;  ///< of register pairs and lists
  int value = -1;             ///< expression
  std::size_t offset = 0;     ///< where it begins in the line
};

/// Parses operands of one line.
class OperandParser {
 public:
  OperandParser(const Target& target, Nodes& nodes, Symbols& symbols, Faults& faults, int line, std::string_view scope)
      : target_(target), faults_(faults), line_(line), expressions_(nodes, symbols, faults, line, scope) {}

  /// Whether the operand of `mnemonic` is in order. The cursor is behind it then.
  bool parse(Cursor& in, const Mnemonic& mnemonic, Operand& operand);

 private:
  bool general(Cursor& in, Operand& operand);
  bool immediate(Cursor& in, Operand& operand);
  bool indirect(Cursor& in, Operand& operand);
  /// An address or something indexed, without brackets.
  bool plain(Cursor& in, Operand& operand);
  /// From the comma on.
  bool index(Cursor& in, Operand& operand);
  bool accumulator(Cursor& in, Operand& operand);
  bool pair(Cursor& in, Operand& operand);
  bool stack(Cursor& in, const Mnemonic& mnemonic, Operand& operand);
  bool ends(Cursor& in);
  bool fail(const char* id, std::size_t offset, Words words);

  const Target& target_;
  Faults& faults_;
  int line_;
  ExpressionParser expressions_;
};

/// The forms of operands that a mnemonic takes, for a message.
std::string forms_of(const Mnemonic& mnemonic);

}  // namespace prewire::assembler
