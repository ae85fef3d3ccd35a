// Which lines are assembled: files that include others, macros, conditions.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "asm/program.h"
#include "asm/statements.h"

namespace prewire::assembler {

class Expander {
 public:
  /// Included files must lie under `root`.
  Expander(Program& program, std::filesystem::path root)
      : program_(program), root_(std::move(root)), statements_(program) {}

  /// Reads the source's first file, and all that it leads to.
  void run();

 private:
  static constexpr std::size_t kMostIncludes = 16;
  static constexpr int kMostFiles = 100;
  static constexpr std::size_t kMostCalls = 64;

  /// A file or a macro that is being read.
  struct Frame {
    int file = -1;
    int macro = -1;  ///< index into `Program::macros`
    FilePosition position{};
    std::size_t next = 0;  ///< in the body of the macro
    std::vector<std::string> arguments{};
    int caller = -1;  ///< line
    std::string outer_scope{};
    std::size_t conditions = 0;  ///< that were open when it began
  };
  struct Condition {
    At at;
    bool outer;  ///< the lines around it are assembled
    bool holds;  ///< the part that is being read is assembled, if `outer`
    bool in_else = false;
  };

  /// The next line of the innermost frame, or -1 at its end.
  int next_line();
  void leave();
  void line(int index);
  /// The directive that the line has; reports one that gives the source its structure elsewhere, such as ENDC.
  Directive known(int line, const Columns& columns, const std::string& name);
  /// A comment that goes on at an address elsewhere.
  void look_at_place(int line);
  void condition(int line, const Columns& columns, Directive directive);
  void other_condition(int line, const Columns& columns, Directive directive, const std::string& name);
  bool skipping() const { return !conditions_.empty() && !(conditions_.back().outer && conditions_.back().holds); }
  void define_macro(int line, const Columns& columns);
  void read_body(Macro& macro, bool good);
  void call(int line, const Columns& columns, int macro);
  bool read_arguments(int line, Cursor& in, std::vector<std::string>& arguments);
  /// Whether the line that was read last is within the limits of a source, and of a line.
  bool within_limits(int line);
  void include(int line, const Columns& columns);
  std::size_t depth(bool macros) const;

  Program& program_;
  std::filesystem::path root_;
  StatementParser statements_;
  std::vector<Frame> frames_;
  std::vector<Condition> conditions_;
  const Mnemonic* mnemonic_ = nullptr;  // of the line that `known` was asked about
  int calls_ = 0;
  bool over_ = false;
};

}  // namespace prewire::assembler
