// Turns lines into statements: labels, instructions, and the directives that make bytes or values.
#pragma once

#include <string>

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
  /// An expression that must be known where it stands, whatever the addresses turn out to be.
  bool constant(int line, const Columns& columns, const char* subject, std::int64_t& value);
  void cpu(int line, const Columns& columns);
  void end(int line, const Columns& columns);

  const Macro* find_macro(const std::string& upper_name) const;

 private:
  Statement& add(Statement::Op op, int line);
  ExpressionParser expressions(int line) { return {program_.nodes, program_.symbols, program_.faults, line, scope}; }
  /// The symbol that the label of the line defines, or -1.
  int define(int line, const Columns& columns, Symbol::Kind kind);
  void value(int line, const Columns& columns, Symbol::Kind kind);
  void list(Statement& statement, const Columns& columns, int least, int most);
  void text(Statement& statement, const Columns& columns);
  void title(int line, const Columns& columns);
  void unknown(int line, const Columns& columns, const std::string& name);
  /// Whether the operand is over; then looks at the comment.
  bool ends(int line, Cursor& in);
  void look_at_comment(int line, Cursor in);

  Program& program_;
};

}  // namespace prewire::assembler
