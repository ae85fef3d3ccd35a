// Turns lines into statements: labels, instructions, and the directives that make bytes or values.
#pragma once

#include <string>
#include <vector>

#include "asm/line.h"
#include "asm/program.h"

namespace prewire::assembler {

class StatementParser {
 public:
  explicit StatementParser(Program& program) : program_(program) {}

  /// Local labels belong to the scope; the expander changes it.
  std::string scope;
  /// In a macro an ordinary label does not begin a scope.
  bool fixed_scope = false;

  /// Defines the label of a line whose second column needs no statement of its own.
  void label(int line, const Columns& columns);
  void directive(int line, const Columns& columns, Directive directive);
  void instruction(int line, const Columns& columns);
  /// The same, for the mnemonic in upper case; null if the processor, where there is one, has none of that name.
  void instruction(int line, const Columns& columns, const std::string& name, const Mnemonic* mnemonic);
  /// An expression that must be known where it stands, whatever the addresses turn out to be.
  bool constant(int line, const Columns& columns, const char* subject, std::int64_t& value);
  void cpu(int line, const Columns& columns);
  void end(int line, const Columns& columns);

  const Macro* find_macro(const std::string& upper_name) const;
  /// What stands behind an operand is looked at when all names are known.
  void keep_comment(int line, std::size_t first, Cursor in, Shape shape);

  /// A comma in place of the blanks that stand there.
  static std::vector<Fix> with_comma(Cursor in);

 private:
  Statement& add(Statement::Op op, int line);
  ExpressionParser expressions(int line) { return {program_.nodes, program_.symbols, program_.faults, line, scope}; }
  /// The symbol that the label of the line defines, or -1.
  int define(int line, const Columns& columns, Symbol::Kind kind);
  void value(int line, const Columns& columns, Symbol::Kind kind);
  void list(Statement& statement, const Columns& columns, int least, int most);
  /// An item of a list that is not there.
  int empty_item(int line, const Cursor& in);
  void text(Statement& statement, const Columns& columns);
  /// Its length, a comma and the text.
  void counted_text(Statement& statement, Cursor in);
  bool printable_text(const Statement& statement, std::size_t first);
  /// A directive for printed listings.
  void read_over(int line, const Columns& columns);
  void title(int line, const Columns& columns);
  void unknown(int line, const Columns& columns, const std::string& name);
  /// Whether the operand, which began at `first`, is over; then keeps the comment.
  bool ends(int line, std::size_t first, Cursor& in, Shape shape);

  Program& program_;
};

}  // namespace prewire::assembler
