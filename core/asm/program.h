// A source on its way to bytes: what all steps share.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

#include "asm/blanks.h"
#include "asm/expression.h"
#include "asm/faults.h"
#include "asm/macro.h"
#include "asm/mnemonics.h"
#include "asm/operand.h"
#include "asm/source.h"
#include "asm/symbols.h"
#include "asm/watch.h"

namespace prewire::assembler {

/// A line that does something.
struct Statement {
  enum class Op : std::uint8_t { label, instruction, org, equ, set, fcb, fdb, fcc, rmb, fill, setdp, bad };

  Op op = Op::label;
  int line = 0;
  int label = -1;  ///< symbol
  const Mnemonic* mnemonic = nullptr;
  Operand operand;
  int first = 0, count = 0;  ///< its expressions in `Program::values`
  std::string_view text;     ///< of FCC

  // Found by the layout.
  const Instruction* row = nullptr;
  int width = 0;  ///< bytes behind the opcode, or behind an indexed postbyte; only ever grows
  std::uint32_t address = 0;
  std::uint32_t size = 0;
  std::int64_t result = 0;  ///< of ORG, EQU and SET
};

/// A directive that has no meaning here.
struct ReadOver {
  std::string name;
  At at;  ///< of the first one
  int count = 1;
};

struct Program {
  Program() = default;
  explicit Program(const std::function<bool()>& stop) : watch(stop) {}

  /// For so many lines; there may be more.
  void make_room(std::size_t lines) {
    source.make_room(lines);
    nodes.reserve(lines);
    statements.reserve(lines);
  }

  Watch watch;
  Source source;
  Faults faults{source};
  Nodes nodes;
  Symbols symbols;
  Evaluator evaluate{nodes, symbols};
  std::vector<int> values;
  std::vector<Statement> statements;
  std::vector<Macro> macros;
  std::unordered_map<std::string, int> macro_index;  ///< by name
  std::vector<Comment> comments;
  std::vector<ReadOver> read_over;

  std::string part;  ///< of the processor
  const Target* target = nullptr;
  std::string title;
  int entry = -1;  ///< expression of END
  int entry_line = -1;
};

}  // namespace prewire::assembler
