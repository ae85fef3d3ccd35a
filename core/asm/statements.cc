#include "asm/statements.h"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "asm/slips.h"

namespace prewire::assembler {

Statement& StatementParser::add(Statement::Op op, int line) {
  Statement& statement = program_.statements.emplace_back();
  statement.op = op;
  statement.line = line;
  return statement;
}

const Macro* StatementParser::find_macro(const std::string& upper_name) const {
  if (program_.macro_index.empty()) return nullptr;
  const auto found = program_.macro_index.find(upper_name);
  return found == program_.macro_index.end() ? nullptr : &program_.macros[static_cast<std::size_t>(found->second)];
}

// Labels --------------------------------------------------------------------------------------------------------------

int StatementParser::define(int line, const Columns& columns, Symbol::Kind kind) {
  const At at{line, columns.label_at};
  if (!is_name(columns.label)) {
    Slip slip = slip_in_label(program_, line, columns);
    program_.faults.fault("asm-label", at,
                          {.what = "what stands in the first column is no name for a label",
                           .expected = "a letter, '_' or '.', then letters, digits, '_' and '.'",
                           .hint = std::move(slip.hint),
                           .fixes = std::move(slip.fixes)});
    return -1;
  }
  if (is_register(columns.label)) {
    program_.faults.fault("asm-label", at,
                          {.what = fmt::format("{} is a register", upper(columns.label)),
                           .expected = "another name",
                           .hint = "registers cannot be names"});
    return -1;
  }
  const int id = intern_name(program_.symbols, program_.faults, columns.label, scope, at);
  if (id < 0) return -1;
  Symbol& symbol = program_.symbols[id];
  const bool again = kind == Symbol::Kind::set && symbol.kind == Symbol::Kind::set;
  if (symbol.kind != Symbol::Kind::undefined && !again) {
    program_.faults.fault(
        "asm-duplicate", at,
        {.what = fmt::format("{} is defined already", symbol.name),
         .expected = fmt::format("another name than that in {}", program_.source.shown(symbol.defined.line)),
         .hint = symbol.kind == Symbol::Kind::set || kind == Symbol::Kind::set
                     ? "SET changes only names that SET has made"
                     : ""});
    return -1;
  }
  symbol.kind = kind;
  if (!again) symbol.defined = at;
  symbol.pass = 0;
  symbol.early = true;
  symbol.moves = kind == Symbol::Kind::label;
  symbol.known = false;
  if (kind == Symbol::Kind::label && columns.label[0] != '.' && !fixed_scope) scope = columns.label;
  return id;
}

void StatementParser::label(int line, const Columns& columns) {
  const int id = define(line, columns, Symbol::Kind::label);
  if (id < 0) return;
  add(Statement::Op::label, line).label = id;
  if (!columns.mnemonic.empty() || program_.target == nullptr) return;
  const std::string name = upper(columns.label);
  if (program_.target->find_mnemonic(name) == nullptr &&
      (find_directive(name) == Directive::none || find_directive(name) == Directive::layout)) {
    return;
  }
  program_.faults.report("asm-label-mnemonic", Weight::warn, {line, columns.label_at},
                         {.what = fmt::format("{} stands in the first column and is taken for a label", name),
                          .expected = "a blank before a mnemonic",
                          .hint = "begin the line with a blank"});
}

// Directives ----------------------------------------------------------------------------------------------------------

bool StatementParser::ends(int line, std::size_t first, Cursor& in, Shape shape) {
  if (in.at_end_of_operand()) {
    keep_comment(line, first, in, shape);
    return true;
  }
  program_.faults.fault("asm-operand", {line, in.at()}, not_over(in));
  return false;
}

void StatementParser::keep_comment(int line, std::size_t first, Cursor in, Shape shape) {
  const std::size_t last = in.at();
  in.skip_blanks();
  if (in.done() || in.peek() == ';') return;
  program_.comments.push_back(
      {line, static_cast<std::uint16_t>(first), static_cast<std::uint16_t>(last), shape, scope});
}

void StatementParser::list(Statement& statement, const Columns& columns, int least, int most) {
  Cursor in(program_.source.line(statement.line).text);
  in.go(columns.operand_at);
  statement.first = static_cast<int>(program_.values.size());
  const Statement::Op op = std::exchange(statement.op, Statement::Op::bad);
  const bool many = most == 0;
  while (true) {
    const bool missing = in.peek() == ',' || (statement.count > 0 && (in.done() || in.peek() == ';'));
    const int node = many && missing ? empty_item(statement.line, in) : expressions(statement.line).parse(in);
    if (node < 0) return;
    program_.values.push_back(node);
    ++statement.count;
    const std::size_t comma = in.at();
    if (!in.take(',')) break;
    if (statement.count == most) {
      program_.faults.fault(
          "asm-operand", {statement.line, comma},
          {.what = fmt::format("{} takes {}", upper(columns.mnemonic), most == 1 ? "one value" : "two values"),
           .expected = "nothing more"});
      return;
    }
    in.skip_blanks();
  }
  if (statement.count < least) {
    program_.faults.fault(
        "asm-operand-missing", {statement.line, in.at()},
        {.what = "FILL needs a value and a count", .expected = "FILL value,count", .fixes = with_comma(in)});
    return;
  }
  const Shape shape = most == 1 ? Shape::value : Shape::values;
  if (ends(statement.line, columns.operand_at, in, shape)) statement.op = op;
}

std::vector<Fix> StatementParser::with_comma(Cursor in) {
  const std::size_t last = in.at();
  in.skip_blanks();
  in.take(',');
  in.skip_blanks();
  if (in.done() || in.peek() == ';') return {};
  return {{last, in.at(), ","}};
}

int StatementParser::empty_item(int line, const Cursor& in) {
  program_.faults.report("asm-item-empty", Weight::hint, {line, in.at()},
                         {.what = "an empty item of a list is 0", .hint = "write the 0, or remove a comma"});
  return expressions(line).zero(in.at());
}

void StatementParser::text(Statement& statement, const Columns& columns) {
  Cursor in(program_.source.line(statement.line).text);
  in.go(columns.operand_at);
  statement.op = Statement::Op::bad;
  const char mark = in.peek();
  const At at{statement.line, in.at()};
  const auto fault = [&](const char* id, At where, Words words) { program_.faults.fault(id, where, std::move(words)); };
  if (in.done() || mark == ';') {
    return fault("asm-operand-missing", at, {.what = "FCC needs a text", .expected = "FCC \"text\""});
  }
  if (is_digit(mark)) return counted_text(statement, in);
  if (in_name(mark) || mark < '!' || mark > '~') {
    return fault("asm-text", at,
                 {.what = "the text of FCC stands between two equal marks",
                  .expected = "FCC \"text\" or FCC /text/",
                  .hint = "a letter cannot be the mark"});
  }
  in.skip();
  const std::size_t first = in.at();
  while (!in.done() && in.peek() != mark) in.skip();
  statement.text = in.since(first);
  if (!in.take(mark)) {
    return fault("asm-text", at,
                 {.what = "the text has no end", .expected = fmt::format("a second {} behind it", mark)});
  }
  if (statement.text.empty()) {
    return fault("asm-text", at, {.what = "there is no text between the marks", .expected = "at least one character"});
  }
  if (!printable_text(statement, first)) return;
  if (in.peek() == ',') {
    return fault("asm-operand", {statement.line, in.at()},
                 {.what = "FCC takes one text",
                  .expected = "a blank and a comment, or the end of the line",
                  .hint = "what follows has a line of its own",
                  .fixes = {{0, in.at() + 1, "        FCB     "}}});
  }
  if (ends(statement.line, columns.operand_at, in, Shape::text)) statement.op = Statement::Op::fcc;
}

void StatementParser::counted_text(Statement& statement, Cursor in) {
  const std::size_t at = in.at();
  std::size_t count = 0;
  for (; is_digit(in.peek()) && count < kMostLineBytes; in.skip()) {
    count = 10 * count + static_cast<std::size_t>(in.peek() - '0');
  }
  const bool comma = in.take(',');
  const std::size_t first = in.at();
  const std::size_t left = in.rest().size();
  if (!comma || count == 0 || count > left) {
    program_.faults.fault(
        "asm-text", {statement.line, at},
        {.what = comma && count > 0 ? fmt::format("the text is shorter than {}", counted(count, "character"))
                                    : "the text of FCC stands between two equal marks, or behind its length",
         .expected = "FCC \"text\", FCC /text/ or FCC 4,text",
         .found = comma && count > 0 ? counted(left, "character") + " behind the comma" : "",
         .hint = comma && count > 0 ? "an editor takes away blanks at the end of a line: marks keep them" : ""});
    return;
  }
  in.skip(count);
  statement.text = in.since(first);
  if (!printable_text(statement, first)) return;
  if (ends(statement.line, at, in, Shape::text)) statement.op = Statement::Op::fcc;
}

bool StatementParser::printable_text(const Statement& statement, std::size_t first) {
  const auto bad =
      std::find_if(statement.text.begin(), statement.text.end(), [](char c) { return c < ' ' || c > '~'; });
  if (bad == statement.text.end()) return true;
  const auto offset = static_cast<std::size_t>(bad - statement.text.begin());
  program_.faults.fault("asm-character", {statement.line, first + offset},
                        {.what = "this is no ASCII character", .hint = "other codes are written as numbers, with FCB"});
  return false;
}

void StatementParser::value(int line, const Columns& columns, Symbol::Kind kind) {
  const char* name = kind == Symbol::Kind::equ ? "EQU" : "SET";
  if (columns.label.empty()) {
    program_.faults.fault("asm-label-missing", {line, columns.mnemonic_at},
                          {.what = fmt::format("{} gives a name a value, and there is no name", name),
                           .expected = fmt::format("NAME {} value, the name in the first column", name)});
    return;
  }
  // The value first: `COUNT SET COUNT+1` means the one before.
  Statement statement;
  statement.op = kind == Symbol::Kind::equ ? Statement::Op::equ : Statement::Op::set;
  statement.line = line;
  list(statement, columns, 1, 1);
  Value result{0, false, false, false};
  if (statement.op != Statement::Op::bad) {
    result = program_.evaluate(program_.values[static_cast<std::size_t>(statement.first)], 0, -1, line, nullptr);
  }
  statement.label = define(line, columns, kind);
  if (statement.label < 0) return;
  Symbol& symbol = program_.symbols[statement.label];
  symbol.value = result.number;
  symbol.known = result.known;
  symbol.early = result.early;
  symbol.moves = result.moves;
  if (statement.op != Statement::Op::bad) program_.statements.push_back(statement);
}

void StatementParser::title(int line, const Columns& columns) {
  Cursor in(program_.source.line(line).text);
  in.go(columns.operand_at);
  const std::size_t first = in.at();
  while (!in.at_end_of_operand()) in.skip();
  if (in.since(first).empty()) return read_over(line, columns);
  program_.title = in.since(first);
}

void StatementParser::read_over(int line, const Columns& columns) {
  std::vector<ReadOver>& list = program_.read_over;
  std::string name = upper(columns.mnemonic);
  const auto same = std::find_if(list.begin(), list.end(), [&](const ReadOver& each) { return each.name == name; });
  if (same == list.end()) {
    list.push_back({std::move(name), {line, columns.mnemonic_at}});
  } else {
    ++same->count;
  }
}

void StatementParser::cpu(int line, const Columns& columns) {
  Cursor in(program_.source.line(line).text);
  in.go(columns.operand_at);
  const At at{line, in.at()};
  const std::string written(in.word()), part = part_of(written);
  const Target* target = Target::find(part);
  const std::vector<std::string> parts = part_names();
  if (target == nullptr) {
    program_.faults.fault("asm-cpu", at,
                          {.what = "CPU names no processor that can be assembled for",
                           .expected = fmt::format("{}", fmt::join(parts, ", ")),
                           .hint = meant(did_you_mean(lower(written), parts))});
    return;
  }
  if (!ends(line, columns.operand_at, in, Shape::word)) return;
  if (program_.target != nullptr && program_.target != target) {
    program_.faults.fault(
        "asm-cpu-clash", at,
        {.what = fmt::format("the source is for the {}, and is assembled for the {}", part, program_.part),
         .expected = program_.part,
         .hint = "the instructions differ; choose one of the two"});
    return;
  }
  if (program_.target != nullptr) return;
  program_.target = target;
  program_.part = part;
}

void StatementParser::end(int line, const Columns& columns) {
  Cursor in(program_.source.line(line).text);
  in.go(columns.operand_at);
  if (in.at_end_of_operand()) return;
  const std::size_t first = in.at();
  const int node = expressions(line).parse(in);
  if (node < 0 || !ends(line, first, in, Shape::value)) return;
  program_.entry = node;
  program_.entry_line = line;
}

bool StatementParser::constant(int line, const Columns& columns, const char* subject, std::int64_t& value) {
  Cursor in(program_.source.line(line).text);
  in.go(columns.operand_at);
  const std::size_t first = in.at();
  const std::size_t before = program_.nodes.size();
  const int node = expressions(line).parse(in);
  if (node < 0 || !ends(line, first, in, Shape::value)) return false;
  const Value result = program_.evaluate(node, 0, -1, line, nullptr);
  if (result.known) {
    value = result.number;
    return true;
  }
  for (std::size_t i = before; i < program_.nodes.size(); ++i) {
    const Node& part = program_.nodes[i];
    if (part.kind != NodeKind::symbol) continue;
    const Symbol& symbol = program_.symbols[part.value];
    if (symbol.kind != Symbol::Kind::undefined) continue;
    const std::string near = program_.faults.searching() ? program_.symbols.near(symbol.name) : "";
    program_.faults.fault("asm-forward", {line, part.offset},
                          {.what = fmt::format("{} is not defined above this line", symbol.name),
                           .expected = fmt::format("{} that is known here", subject),
                           .hint = near.empty() ? "define it with EQU before it is used here" : meant(near)});
    return false;
  }
  if (result.moves) {
    program_.faults.fault("asm-moves", {line, first},
                          {.what = "this depends on an address, and addresses are not settled yet",
                           .expected = fmt::format("{} made of numbers and of EQU and SET", subject)});
    return false;
  }
  // Only arithmetic is left to go wrong.
  const std::size_t count = program_.faults.list().size();
  program_.evaluate(node, 0, -1, line, &program_.faults);
  if (program_.faults.list().size() == count) {
    program_.faults.fault("asm-forward", {line, first}, {.what = "this value is not known here", .expected = subject});
  }
  return false;
}

void StatementParser::directive(int line, const Columns& columns, Directive directive) {
  using Op = Statement::Op;
  if (directive == Directive::equ) return value(line, columns, Symbol::Kind::equ);
  if (directive == Directive::set) return value(line, columns, Symbol::Kind::set);
  if (directive == Directive::nam || directive == Directive::layout) {
    if (!columns.label.empty()) label(line, columns);
    return directive == Directive::nam ? title(line, columns) : read_over(line, columns);
  }
  const int id = columns.label.empty() ? -1 : define(line, columns, Symbol::Kind::label);
  Statement& statement = add(Op::bad, line);
  statement.label = id;
  int least = 1, most = 1;
  switch (directive) {
    case Directive::org: statement.op = Op::org; break;
    case Directive::rmb: statement.op = Op::rmb; break;
    case Directive::setdp: statement.op = Op::setdp; break;
    case Directive::fcb: statement.op = Op::fcb; break;
    case Directive::fdb: statement.op = Op::fdb; break;
    case Directive::fill: statement.op = Op::fill; break;
    default: return text(statement, columns);
  }
  if (directive == Directive::fcb || directive == Directive::fdb) most = 0;
  if (directive == Directive::fill) least = most = 2;
  if (directive == Directive::setdp && program_.target != nullptr && !program_.target->has(Mode::indexed)) {
    program_.faults.fault("asm-setdp", {line, columns.mnemonic_at},
                          {.what = fmt::format("the {} has no direct page register", program_.target->title()),
                           .hint = "direct addressing always reaches $0000 to $00FF: remove the line"});
  }
  list(statement, columns, least, most);
}

// Instructions --------------------------------------------------------------------------------------------------------

namespace {

/// Its directives and mnemonics, sorted.
const std::vector<std::string>& words_of(const Target& target) {
  const auto sorted = [](const Target& of) {
    std::vector<std::string> words = directive_names();
    const std::vector<std::string> mnemonics = of.names();
    words.insert(words.end(), mnemonics.begin(), mnemonics.end());
    std::sort(words.begin(), words.end());
    return words;
  };
  static const std::vector<std::string> kMc6800 = sorted(*Target::find("mc6800"));
  static const std::vector<std::string> kMc6809 = sorted(*Target::find("mc6809"));
  return target.family() == Target::Family::mc6800 ? kMc6800 : kMc6809;
}

}  // namespace

void StatementParser::unknown(int line, const Columns& columns, const std::string& name) {
  const Target& target = *program_.target;
  const Target& other = *Target::find(target.family() == Target::Family::mc6809 ? "mc6800" : "mc6809");
  Slip slip = slip_in_mnemonic(program_, line, columns, name);
  if (!slip.found() && other.find_mnemonic(name) != nullptr) {
    slip.hint = fmt::format("it is an instruction of the {}", other.title());
  } else if (!slip.found() && program_.faults.searching()) {
    std::vector<std::string> names = words_of(target);
    if (program_.macros.size() < static_cast<std::size_t>(kMostSearched) && !program_.macros.empty()) {
      for (const Macro& macro : program_.macros) names.push_back(macro.name);
      std::sort(names.begin(), names.end());
    }
    slip.hint = meant(did_you_mean(name, names));
  }
  const bool printable = std::all_of(name.begin(), name.end(), [](char c) { return c > ' ' && c <= '~'; });
  program_.faults.fault("asm-mnemonic", {line, columns.mnemonic_at},
                        {.what = fmt::format("{} is no instruction of the {}, no directive and no macro",
                                             printable && name.size() <= 20 ? name : "this", target.title()),
                         .expected = "a mnemonic in the second column",
                         .hint = std::move(slip.hint),
                         .fixes = std::move(slip.fixes)});
}

namespace {

Shape shape_of(const Mnemonic& mnemonic) {
  if (mnemonic[Mode::inherent] != nullptr) return Shape::nothing;
  if (mnemonic[Mode::pair] != nullptr) return Shape::pair;
  if (mnemonic[Mode::stack] != nullptr) return Shape::registers;
  const bool branch = mnemonic[Mode::relative] != nullptr || mnemonic[Mode::relative16] != nullptr;
  return branch ? Shape::value : Shape::operand;
}

}  // namespace

void StatementParser::instruction(int line, const Columns& columns) {
  const std::string name = upper(columns.mnemonic);
  instruction(line, columns, name, program_.target == nullptr ? nullptr : program_.target->find_mnemonic(name));
}

void StatementParser::instruction(int line, const Columns& columns, const std::string& name, const Mnemonic* mnemonic) {
  Program& p = program_;
  if (p.target == nullptr) {
    p.faults.fault("asm-cpu-missing", {line, columns.mnemonic_at},
                   {.what = "the processor is not named",
                    .expected = "a line such as \" CPU mc6809\" before the first instruction",
                    .hint = "or give it to the command, with --cpu mc6809"});
    return;
  }
  Cursor in(p.source.line(line).text);
  in.go(columns.operand_at);
  if (p.target->family() == Target::Family::mc6800) {
    // The accumulator may stand by itself: LDA A, INC B.
    const std::string_view word = in.word();
    const char letter = word.size() == 1 ? static_cast<char>(word[0] & ~0x20) : ' ';
    const bool alone = (letter == 'A' || letter == 'B') && in.at_end_of_operand();
    const Mnemonic* joined = alone ? p.target->find_mnemonic(name + letter) : nullptr;
    if (joined != nullptr) {
      mnemonic = joined;
    } else {
      in.go(columns.operand_at);
    }
  }
  const int id = columns.label.empty() ? -1 : define(line, columns, Symbol::Kind::label);
  if (mnemonic == nullptr) {
    unknown(line, columns, name);
    add(Statement::Op::bad, line).label = id;
    return;
  }
  const bool registers = (*mnemonic)[Mode::pair] != nullptr || (*mnemonic)[Mode::stack] != nullptr ||
                         (*mnemonic)[Mode::inherent] != nullptr;
  const char initial = in.peek();
  if (!registers && is_letter(initial) && is_register(Cursor(in).word())) {
    if (Slip slip = slip_in_register(p, line, columns, name); slip.found() && (in.at() == columns.operand_at)) {
      p.faults.fault("asm-register", {line, in.at()},
                     {.what = fmt::format("a register by itself is no operand of {}", name),
                      .expected = forms_of(*mnemonic),
                      .hint = std::move(slip.hint),
                      .fixes = std::move(slip.fixes)});
      add(Statement::Op::bad, line).label = id;
      return;
    }
  }
  Operand operand;
  OperandParser parser(*p.target, p.nodes, p.symbols, p.faults, line, scope);
  const std::size_t operand_at = in.at();
  const bool good = parser.parse(in, *mnemonic, operand);
  Statement& statement = add(good ? Statement::Op::instruction : Statement::Op::bad, line);
  statement.label = id;
  statement.mnemonic = mnemonic;
  statement.operand = operand;
  if (good) keep_comment(line, operand_at, in, shape_of(*mnemonic));
}

}  // namespace prewire::assembler
