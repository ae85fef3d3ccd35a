#include "asm/warnings.h"

#include <fmt/format.h>

#include <utility>

namespace prewire::assembler {

namespace {

using Op = Statement::Op;

class Look {
 public:
  Look(Program& program, const Layout& layout)
      : program_(program),
        layout_(layout),
        uses_(static_cast<std::size_t>(program.symbols.count())),
        holders_(static_cast<std::size_t>(program.symbols.count()), nullptr) {}

  void run() {
    // A label of its own stands for what comes next.
    const Statement* holder = nullptr;
    for (auto statement = program_.statements.rbegin(); statement != program_.statements.rend(); ++statement) {
      if (holder == nullptr || statement->op != Op::label) holder = &*statement;
      if (statement->label >= 0) holders_[static_cast<std::size_t>(statement->label)] = holder;
      gather(*statement);
    }
    for (const Statement& statement : program_.statements) {
      if (statement.op != Op::instruction) continue;
      look_at_immediate(statement);
      look_at_address(statement);
      look_at_target(statement);
    }
    look_for_unused();
    look_at_vectors();
  }

 private:
  struct Uses {
    bool number = false;   ///< as an immediate value of 8 bits
    bool changed = false;  ///< as an address that something is stored to
  };

  void report(const char* id, const Statement& statement, Words words, Weight weight = Weight::warn) {
    program_.faults.report(id, weight, {statement.line, statement.operand.offset}, std::move(words));
  }
  int lone(const Statement& statement) const { return lone_symbol(program_.nodes, statement.operand.value); }
  Uses& uses(int symbol) { return uses_[static_cast<std::size_t>(symbol)]; }

  void gather(const Statement& statement) {
    if (statement.op != Op::instruction) return;
    const int symbol = lone(statement);
    if (symbol < 0) return;
    if (statement.row->mode == Mode::imm8) uses(symbol).number = true;
    const bool memory = statement.row->mode == Mode::direct || statement.row->mode == Mode::extended;
    const bool has_immediate =
        (*statement.mnemonic)[Mode::imm8] != nullptr || (*statement.mnemonic)[Mode::imm16] != nullptr;
    if (memory && !has_immediate) uses(symbol).changed = true;
  }

  bool is_data(int symbol, bool space) const {
    const Statement* holder = holders_[static_cast<std::size_t>(symbol)];
    if (holder == nullptr || program_.symbols[symbol].kind != Symbol::Kind::label) return false;
    return holder->op == Op::fcb || holder->op == Op::fdb || holder->op == Op::fcc || holder->op == Op::fill ||
           (space && holder->op == Op::rmb);
  }

  void look_at_immediate(const Statement& statement) {
    const int symbol = lone(statement);
    if (statement.row->mode != Mode::imm8 || symbol < 0) return;
    if (!is_data(symbol, true) && !uses(symbol).changed) return;
    const std::string& name = program_.symbols[symbol].name;
    report("asm-hash-extra", statement,
           {.what = fmt::format("#{} is the address of {}, not what it holds", name, name),
            .expected = fmt::format("{} without #", name),
            .hint = "with # the number itself is taken, without it the memory at that address"});
  }

  void look_at_address(const Statement& statement) {
    const bool memory = statement.row->mode == Mode::direct || statement.row->mode == Mode::extended;
    const bool has_immediate =
        (*statement.mnemonic)[Mode::imm8] != nullptr || (*statement.mnemonic)[Mode::imm16] != nullptr;
    if (!memory || !has_immediate || statement.operand.force != Operand::Force::none) return;
    const Node& node = program_.nodes[static_cast<std::size_t>(statement.operand.value)];
    const int symbol = lone(statement);
    const bool constant = symbol >= 0 && program_.symbols[symbol].kind != Symbol::Kind::label && uses(symbol).number &&
                          !uses(symbol).changed;
    if (!constant && !(node.kind == NodeKind::number && (node.notation == Notation::decimal || node.notation == Notation::character))) return;
    const std::string name = constant ? program_.symbols[symbol].name : fmt::format("the number {}", node.value);
    report(
        "asm-hash-missing", statement,
        {.what = fmt::format("this takes the memory at address ${:04X}, not {}",
                             static_cast<std::uint32_t>(constant ? program_.symbols[symbol].value : node.value), name),
         .expected = "# before a number",
         .hint =
             constant ? "elsewhere it stands with #" : "if an address is meant, write it in hex or give it a name"});
  }

  void look_at_target(const Statement& statement) {
    const bool branch = statement.row->mode == Mode::relative || statement.row->mode == Mode::relative16;
    const bool jump = statement.mnemonic->name == "JMP" || statement.mnemonic->name == "JSR";
    const int symbol = lone(statement);
    if (!(branch || jump) || statement.operand.kind != Operand::Kind::address || symbol < 0) return;
    if (!is_data(symbol, branch)) return;
    const Statement& holder = *holders_[static_cast<std::size_t>(symbol)];
    report("asm-branch-data", statement,
           {.what = fmt::format("{} is a line of data, {}", program_.symbols[symbol].name,
                                program_.source.shown(holder.line)),
            .expected = "the label of an instruction",
            .hint = "the processor would execute its bytes"});
  }

  void look_for_unused() {
    bool first_code = true;
    for (const Statement& statement : program_.statements) {
      // A program in RAM is started by its first address.
      const bool entry = first_code && holders_instruction(statement);
      if (statement.op == Op::instruction) first_code = false;
      if (statement.label < 0 || entry) continue;
      const Symbol& symbol = program_.symbols[statement.label];
      const SourceLine& line = program_.source.line(statement.line);
      if (!symbol.uses.empty() || symbol.kind == Symbol::Kind::set || line.caller >= 0 || line.file != 0) continue;
      program_.faults.report("asm-unused", Weight::hint, symbol.defined,
                             {.what = fmt::format("{} is defined and never used", symbol.name),
                              .hint = "remove it, or look for a name that was meant to be this one"});
    }
  }

  bool holders_instruction(const Statement& statement) const {
    if (statement.label < 0) return false;
    const Statement* holder = holders_[static_cast<std::size_t>(statement.label)];
    return holder != nullptr && holder->op == Op::instruction;
  }

  bool filled(std::uint32_t vector) const { return layout_.owner(vector) >= 0 && layout_.owner(vector + 1) >= 0; }

  void look_at_vectors() {
    const Statement* rom = nullptr;
    const Statement* software_interrupt = nullptr;
    for (const Statement& statement : program_.statements) {
      if (statement.op != Op::instruction || statement.address < 0x8000) continue;
      if (rom == nullptr) rom = &statement;
      if (software_interrupt == nullptr && statement.mnemonic->name == "SWI") software_interrupt = &statement;
    }
    const auto missing = [&](const Statement* statement, const char* what, const char* expected) {
      program_.faults.report("asm-no-vector", Weight::warn, {statement->line, 0},
                             {.what = what, .expected = expected, .hint = "the address goes there with ORG and FDB"});
    };
    if (rom != nullptr && !filled(0xFFFE)) {
      missing(rom, "code in the upper half of memory, and no reset vector", "an address in $FFFE-$FFFF");
    } else if (software_interrupt != nullptr && !filled(0xFFFA)) {
      missing(software_interrupt, "SWI is used, and its vector is missing", "an address in $FFFA-$FFFB");
    }
  }

  Program& program_;
  const Layout& layout_;
  std::vector<Uses> uses_;
  std::vector<const Statement*> holders_;
};

}  // namespace

void look_at_comments(Program& program) {
  for (const Doubt& doubt : program.doubts) {
    if (!doubt.name.empty()) {
      const int symbol = program.symbols.find(doubt.name);
      if (symbol < 0 || program.symbols[symbol].kind == Symbol::Kind::undefined) continue;
    }
    program.faults.report("asm-blank", Weight::warn, doubt.at,
                          {.what = "a blank ends the operand: this is taken for a comment",
                           .expected = "an expression without blanks, or in parentheses",
                           .hint = "if it is a comment, begin it with ;"});
  }
}

void look_at_program(Program& program, const Layout& layout) { Look(program, layout).run(); }

}  // namespace prewire::assembler
