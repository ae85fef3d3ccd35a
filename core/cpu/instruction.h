// Instruction tables as tools see them: notation, length, cycles. The `.def` file of each processor is the source.
#pragma once

#include <cstdint>
#include <span>
#include <string_view>

#include "prewire/cpu.h"

namespace prewire {

/// What follows the opcode, as far as length and notation go.
enum class Mode : std::uint8_t {
  inherent,
  imm8,
  imm16,
  direct,
  offset,   ///< MC6800 indexed: an unsigned offset from X
  indexed,  ///< MC6809 indexed: a postbyte and what it asks for (M6809PM table 2-1)
  extended,
  relative,
  relative16,
  pair,   ///< two registers in a postbyte: TFR, EXG
  stack,  ///< registers to push or pull, in a postbyte
};

/// One row of an instruction table.
struct Instruction {
  std::string_view mnemonic;
  Mode mode = Mode::inherent;
  std::uint8_t prefix = 0;  ///< a byte before the opcode, $10 or $11; 0 if there is none
  std::uint8_t opcode = 0;
  int bytes = 0;           ///< all of them but those that an indexed postbyte asks for
  int cycles = 0;          ///< the least
  std::string_view group;  ///< rows with the same order of bus cycles
};

/// All rows of one processor, and how to find one.
class InstructionTable {
 public:
  explicit InstructionTable(std::span<const Instruction> rows);

  std::span<const Instruction> rows() const { return rows_; }
  /// Null where the data sheet defines nothing.
  const Instruction* find(std::uint8_t prefix, std::uint8_t opcode) const;
  /// The instruction that `code` begins with; missing bytes read as 0.
  const Instruction* find(std::span<const std::uint8_t> code) const;

 private:
  std::span<const Instruction> rows_;
  std::int16_t index_[3][256];
};

/// An indexed postbyte of the MC6809.
struct Postbyte {
  enum class Form : std::uint8_t {
    offset5,  ///< in the postbyte itself
    increment1,
    increment2,
    decrement1,
    decrement2,
    none,
    accumulator_b,
    accumulator_a,
    offset8,
    offset16,
    accumulator_d,
    pc8,
    pc16,
    extended,
    illegal,
  };
  Form form = Form::illegal;
  int base = 0;  ///< 0 X, 1 Y, 2 U, 3 S; the program counter's forms and `extended` have none
  bool indirect = false;
  int bytes = 0;   ///< after the postbyte
  int cycles = 0;  ///< on top of the instruction's
};

/// M6809PM tables 2-1 and F-2.
Postbyte postbyte(std::uint8_t byte);

/// Registers by their code in the postbyte of TFR and EXG; empty where the manual defines none.
std::string_view pair_register(unsigned code);
/// Whether TFR and EXG may join these two: both 8 bits wide, or both 16.
bool may_pair(std::uint8_t postbyte);

/// Cycles of the instruction that `code` begins with, its postbyte counted in: the least. Missing bytes read as 0.
int least_cycles(const Instruction& instruction, std::span<const std::uint8_t> code);

/// Bytes of the instruction that `code` begins with, with those that its postbyte asks for.
int length(const Instruction& instruction, std::span<const std::uint8_t> code);
/// Where the processor goes after it.
Flow flow_of(const Instruction& instruction, std::span<const std::uint8_t> code);

const InstructionTable& mc6800_instructions();
const InstructionTable& mc6809_instructions();

}  // namespace prewire
