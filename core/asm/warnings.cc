#include "asm/warnings.h"

#include <fmt/format.h>

#include <algorithm>
#include <utility>
#include <vector>

namespace prewire::assembler {

namespace {

using Op = Statement::Op;

class Look {
 public:
  Look(Program& program, const Layout& layout)
      : program_(program),
        layout_(layout),
        uses_(static_cast<std::size_t>(program.symbols.count())),
        holders_(static_cast<std::size_t>(program.symbols.count()), nullptr),
        notions_(static_cast<std::size_t>(program.symbols.count()), Notion::unknown) {}

  void run() {
    // A label of its own stands for what comes next.
    const Statement* holder = nullptr;
    for (auto statement = program_.statements.rbegin(); statement != program_.statements.rend(); ++statement) {
      if (holder == nullptr || statement->op != Op::label) holder = &*statement;
      if (statement->label >= 0) holders_[static_cast<std::size_t>(statement->label)] = holder;
    }
    for (const Statement& statement : program_.statements) {
      program_.watch.tick();
      gather(statement);
    }
    if (program_.entry >= 0) use(program_.entry, &Uses::address);
    for (const Statement& statement : program_.statements) {
      if (statement.op != Op::instruction) continue;
      look_at_immediate(statement);
      look_at_address(statement);
      look_at_target(statement);
    }
    look_at_read_over();
    // With a fault, lines may be missing that use a name or make a vector.
    if (program_.faults.any()) return;
    look_for_unused();
    look_at_vectors();
  }

 private:
  struct Uses {
    bool number = false;   ///< as an immediate value of 8 bits
    bool changed = false;  ///< as an address that something is stored to
    bool address = false;  ///< in another way that makes sense for an address alone
    bool either = false;   ///< in a way that makes sense for both, but for an address of two hex digits
  };

  /// What a value looks like, by the way it is written.
  enum class Notion : std::uint8_t { unknown, number, short_hex, address };

  void report(const char* id, const Statement& statement, Words words, Weight weight = Weight::warn) {
    program_.faults.report(id, weight, {statement.line, statement.operand.offset}, std::move(words));
  }
  int lone(const Statement& statement) const { return lone_symbol(program_.nodes, statement.operand.value); }
  Uses& uses(int symbol) { return uses_[static_cast<std::size_t>(symbol)]; }
  const Node& node(int index) const { return program_.nodes[static_cast<std::size_t>(index)]; }

  static bool has_immediate(const Mnemonic& mnemonic) {
    return mnemonic[Mode::imm8] != nullptr || mnemonic[Mode::imm16] != nullptr;
  }
  static bool in_memory(const Statement& statement) {
    return statement.row->mode == Mode::direct || statement.row->mode == Mode::extended;
  }

  /// Notes a use for every name in an expression.
  void use(int index, bool Uses::*how) {
    if (index < 0) return;
    const Node& part = node(index);
    if (part.kind == NodeKind::symbol) uses(part.value).*how = true;
    use(part.left, how);
    use(part.right, how);
  }

  void gather(const Statement& statement) {
    for (int i = 0; i < statement.count; ++i) {
      const int value = program_.values[static_cast<std::size_t>(statement.first) + static_cast<std::size_t>(i)];
      switch (statement.op) {
        case Op::org:
        case Op::bad: use(value, &Uses::address); break;
        case Op::equ:
        case Op::set:
        case Op::fdb: use(value, &Uses::either); break;
        default: break;
      }
    }
    if (statement.op == Op::bad) use(statement.operand.value, &Uses::address);
    if (statement.op != Op::instruction) return;
    const int symbol = lone(statement);
    const bool memory = in_memory(statement);
    const Mode mode = statement.row->mode;
    if (symbol < 0) {
      if (memory) use(statement.operand.value, &Uses::address);
      return;
    }
    if (mode == Mode::imm8) uses(symbol).number = true;
    if (mode == Mode::imm16) uses(symbol).either = true;
    if (memory && !has_immediate(*statement.mnemonic)) uses(symbol).changed = true;
    const bool branch = mode == Mode::relative || mode == Mode::relative16;
    if (branch || (memory && statement.operand.force != Operand::Force::none)) uses(symbol).address = true;
  }

  /// `hops` bounds the names behind names.
  Notion look_of(int index, int hops) {
    const Node& part = node(index);
    switch (part.kind) {
      case NodeKind::number:
        return part.notation == Notation::hex         ? Notion::address
               : part.notation == Notation::short_hex ? Notion::short_hex
                                                      : Notion::number;
      case NodeKind::symbol: return look_of_symbol(part.value, hops);
      case NodeKind::location: return Notion::address;
      case NodeKind::add:
      case NodeKind::bit_or: return std::max(look_of(part.left, hops), look_of(part.right, hops));
      case NodeKind::subtract: {
        const Notion left = look_of(part.left, hops), right = look_of(part.right, hops);
        return left == Notion::address && right == Notion::address ? Notion::number : std::max(left, right);
      }
      default: return Notion::number;
    }
  }
  /// Each name is looked at once, however often the others refer to it.
  Notion look_of_symbol(int symbol, int hops) {
    Notion& notion = notions_[static_cast<std::size_t>(symbol)];
    if (notion != Notion::unknown) return notion;
    notion = Notion::address;  // of what refers to itself
    return notions_[static_cast<std::size_t>(symbol)] = look_behind(symbol, hops);
  }
  Notion look_behind(int symbol, int hops) {
    const Statement* holder = holders_[static_cast<std::size_t>(symbol)];
    const bool value = holder != nullptr && (holder->op == Op::equ || holder->op == Op::set);
    if (!value || program_.symbols[symbol].kind == Symbol::Kind::label || hops == 0) return Notion::address;
    return look_of(program_.values[static_cast<std::size_t>(holder->first)], hops - 1);
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
            .hint = "with # the number itself is taken, without it the memory at that address",
            .fixes = {{statement.operand.offset, statement.operand.offset + 1, ""}}});
  }

  void look_at_address(const Statement& statement) {
    if (!in_memory(statement) || !has_immediate(*statement.mnemonic)) return;
    if (statement.operand.force != Operand::Force::none) return;
    const int symbol = lone(statement);
    if (symbol >= 0) return look_at_constant(statement, symbol);
    const Node& value = node(statement.operand.value);
    if (value.kind != NodeKind::number) return;
    if (value.notation != Notation::decimal && value.notation != Notation::character) return;
    hash_missing(statement, Weight::warn, value.value, fmt::format("the number {}", value.value),
                 "if an address is meant, write it in hex or give it a name");
  }

  void look_at_constant(const Statement& statement, int index) {
    const Symbol& symbol = program_.symbols[index];
    const Uses& how = uses(index);
    if (symbol.kind != Symbol::Kind::equ && symbol.kind != Symbol::Kind::set) return;
    if (!symbol.known || how.changed) return;
    if (how.number) {
      return hash_missing(statement, Weight::warn, symbol.value, symbol.name, "elsewhere it stands with #");
    }
    const Notion notion = look_of_symbol(index, 8);
    if (how.address || notion == Notion::address) return;
    // $80 may be a port that is only read.
    const bool doubtful = notion == Notion::short_hex;
    if (doubtful && (how.either || symbol.value > 0xFF)) return;
    hash_missing(statement, doubtful ? Weight::hint : Weight::warn, symbol.value, symbol.name,
                 doubtful ? "if it is an address, write it with four digits"
                          : "nothing uses it as an address; one would be written in hex");
  }

  void hash_missing(const Statement& statement, Weight weight, std::int64_t value, const std::string& name,
                    const char* hint) {
    if (value < 0 || value > 0xFFFF) return;  // out of range, which is reported
    const std::size_t at = statement.operand.offset;
    report("asm-hash-missing", statement,
           {.what = fmt::format("this takes the memory at address ${:04X}, not {}", static_cast<std::uint32_t>(value),
                                name),
            .expected = "# before a number",
            .hint = hint,
            .fixes = {{at, at, "#"}}},
           weight);
  }

  void look_at_target(const Statement& statement) {
    const int symbol = lone(statement);
    if (symbol < 0 || statement.operand.kind != Operand::Kind::address) return;
    const bool branch = statement.row->mode == Mode::relative || statement.row->mode == Mode::relative16;
    if (!is_data(symbol, branch)) return;
    if (!branch && statement.mnemonic->name != "JMP" && statement.mnemonic->name != "JSR") return;
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

  void look_at_read_over() {
    if (program_.read_over.empty()) return;
    std::vector<std::string> names;
    for (const ReadOver& each : program_.read_over) {
      names.push_back(each.count == 1 ? each.name : fmt::format("{} ({} times)", each.name, each.count));
    }
    const bool several = names.size() > 1;
    program_.faults.report("asm-read-over", Weight::hint, program_.read_over.front().at,
                           {.what = fmt::format("{} {} read over", list_of(names), several ? "are" : "is"),
                            .hint = "the listing has pages and options of its own: the lines can go"});
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
  std::vector<Notion> notions_;
};

}  // namespace

void look_at_program(Program& program, const Layout& layout) { Look(program, layout).run(); }

}  // namespace prewire::assembler
