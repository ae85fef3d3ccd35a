// Expressions: numbers, names, `*` for the address of the line, operators with precedence, parentheses.
#pragma once

#include <cstdint>
#include <string_view>
#include <vector>

#include "asm/cursor.h"
#include "asm/faults.h"
#include "asm/symbols.h"

namespace prewire::assembler {

enum class NodeKind : std::uint8_t {
  number,
  symbol,
  location,
  negate,
  complement,
  multiply,
  divide,
  remainder,
  add,
  subtract,
  shift_left,
  shift_right,
  bit_and,
  bit_xor,
  bit_or,
  equal,
  unequal,
  less,
  less_or_equal,
  greater,
  greater_or_equal,
};

/// How a number is written.
enum class Notation : std::uint8_t { decimal, character, hex, short_hex, binary, octal };

struct Node {
  NodeKind kind = NodeKind::number;
  Notation notation = Notation::hex;
  std::uint16_t offset = 0;  ///< in the line
  std::int32_t left = -1, right = -1;
  std::int32_t value = 0;  ///< of a number; of a symbol its id
};

using Nodes = std::vector<Node>;

/// Parses expressions of one line.
class ExpressionParser {
 public:
  ExpressionParser(Nodes& nodes, Symbols& symbols, Faults& faults, int line, std::string_view scope)
      : nodes_(nodes), symbols_(symbols), faults_(faults), line_(line), scope_(scope) {}

  /// The index of the root, or -1 after a fault. Ends where the expression can end: at a blank, or at a character that
  /// goes on with nothing.
  int parse(Cursor& in);
  /// Whether a bracket is open: within it blanks end nothing.
  void bracket(bool open) { bracket_ = open; }
  /// A 0 that nobody wrote.
  int zero(std::size_t offset) { return add_number(0, offset, Notation::hex); }

 private:
  int binary(Cursor& in, int least);
  int unary(Cursor& in);
  int primary(Cursor& in);
  int number(Cursor& in, int base, std::size_t first);
  int bad_digit(std::string_view text, std::size_t index, int base, std::size_t first, std::size_t digits);
  int character(Cursor& in);
  int symbol(Cursor& in);
  int add(NodeKind kind, std::size_t offset, int left, int right = -1);
  int add_number(std::int64_t value, std::size_t offset, Notation notation);
  int add(const Node& node);
  int intern(std::string_view name, std::size_t offset);
  int fail(const char* id, std::size_t offset, Words words);

  Nodes& nodes_;
  Symbols& symbols_;
  Faults& faults_;
  int line_;
  std::string_view scope_;
  int parentheses_ = 0;
  int depth_ = 0;
  bool bracket_ = false;
};

struct Value {
  std::int64_t number = 0;
  bool known = false;
  bool early = true;   ///< all names in it are defined above
  bool moves = false;  ///< depends on an address
};

/// Computes expressions. Faults are reported where `faults` is given.
class Evaluator {
 public:
  Evaluator(const Nodes& nodes, Symbols& symbols) : nodes_(nodes), symbols_(symbols) {}

  /// `location` is what `*` stands for, or negative where addresses are not known yet.
  Value operator()(int node, int pass, std::int64_t location, int line, Faults* faults) const;

 private:
  void report_undefined(const Symbol& symbol, At at, Faults& faults) const;

  const Nodes& nodes_;
  Symbols& symbols_;
};

/// The id of the symbol that the expression is, or -1.
int lone_symbol(const Nodes& nodes, int node);

/// 99 for what is none.
int digit_value(char c);

/// The base of a number that begins with a digit: 10, or what it tells as other notations do, 0x1F, 1Fh, 0b101, 101b,
/// 17q. Leaves the digits in `text`.
int base_of(std::string_view& text);

/// Registers cannot be names, whatever the processor and the case.
bool is_register(std::string_view name);

/// The symbol of what is written `name`; -1 after a fault: the name is too long, or there are too many.
int intern_name(Symbols& symbols, Faults& faults, std::string_view name, std::string_view scope, At at);

}  // namespace prewire::assembler
