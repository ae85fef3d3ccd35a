#include "asm/expander.h"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "asm/confined.h"
#include "asm/slips.h"

namespace prewire::assembler {

namespace fs = std::filesystem;

void Expander::run() {
  frames_.push_back({.file = 0});
  while (!frames_.empty() && !over_ && !program_.faults.full()) {
    const int index = next_line();
    if (index < 0) {
      leave();
      continue;
    }
    line(index);
  }
}

int Expander::next_line() {
  Frame& frame = frames_.back();
  SourceLine next;
  next.caller = frame.caller;
  if (frame.macro < 0) {
    if (!program_.source.next_line(frame.file, frame.position, next.text)) return -1;
    next.file = frame.file;
    next.number = frame.position.line;
  } else {
    const Macro& macro = program_.macros[static_cast<std::size_t>(frame.macro)];
    if (frame.next >= macro.body.size()) return -1;
    const Macro::Line& body = macro.body[frame.next++];
    const SourceLine& line = program_.source.line(body.line);
    next.text = program_.source.keep(expand(macro, body, line.text, frame.arguments, kMostLineBytes));
    next.file = line.file;
    next.number = line.number;
  }
  program_.watch.tick();
  return program_.source.add_line(next);
}

bool Expander::within_limits(int index) {
  const std::string_view text = program_.source.line(index).text;
  const bool lines = program_.source.line_count() > kMostLines;
  if (lines || program_.source.bytes() > kMostTextBytes) {
    program_.faults.give_up(
        "asm-too-long", {index, 0},
        {.what = "the source grows beyond all bounds",
         .expected = lines ? fmt::format("at most {} lines, with those of macros", kMostLines)
                           : fmt::format("at most {} MiB of text, with that of macros", kMostTextBytes >> 20),
         .hint = "a macro that calls itself needs an IF that ends it"});
    return false;
  }
  if (text.size() <= kMostLineBytes) return true;
  program_.faults.fault("asm-line-long", {index, kMostLineBytes},
                        {.what = "the line is too long",
                         .expected = fmt::format("at most {} bytes", kMostLineBytes),
                         .found = std::to_string(text.size())});
  return false;
}

void Expander::leave() {
  const Frame& frame = frames_.back();
  while (conditions_.size() > frame.conditions) {
    program_.faults.fault("asm-if-open", conditions_.back().at,
                          {.what = "this IF has no ENDIF", .expected = "ENDIF before the end of the file or macro"});
    conditions_.pop_back();
  }
  if (frame.macro >= 0) {
    statements_.scope = frame.outer_scope;
    statements_.fixed_scope = depth(true) > 1;
  }
  frames_.pop_back();
}

std::size_t Expander::depth(bool macros) const {
  return static_cast<std::size_t>(
      std::count_if(frames_.begin(), frames_.end(), [&](const Frame& frame) { return (frame.macro >= 0) == macros; }));
}

void Expander::line(int index) {
  if (!within_limits(index)) return;
  const std::string_view text = program_.source.line(index).text;
  const Columns columns = split_line(text);
  if (columns.blank()) {
    if (!skipping()) look_at_place(index);
    return;
  }
  const std::string name = upper(columns.mnemonic);
  const Directive directive = columns.mnemonic.empty() ? Directive::none : known(index, columns, name);
  switch (directive) {
    case Directive::if_:
    case Directive::else_:
    case Directive::endif: return condition(index, columns, directive);
    case Directive::other_if:
    case Directive::else_if: return other_condition(index, columns, directive, name);
    default: break;
  }
  if (skipping()) return;
  if (!columns.label.empty() && !is_name(columns.label) && slip_in_label(program_, index, columns).line) {
    return statements_.label(index, columns);
  }
  const auto label = [&] {
    if (!columns.label.empty()) statements_.label(index, columns);
  };
  switch (directive) {
    case Directive::none: break;
    case Directive::macro: return define_macro(index, columns);
    case Directive::endm:
      program_.faults.fault("asm-endm", {index, columns.mnemonic_at},
                            {.what = "no macro is being defined here", .hint = "MACRO begins one"});
      return;
    case Directive::include: label(); return include(index, columns);
    case Directive::cpu:
      label();
      statements_.cpu(index, columns);
      if (program_.target == nullptr) over_ = true;
      return;
    case Directive::end:
      label();
      statements_.end(index, columns);
      over_ = true;
      return;
    case Directive::layout:
      // A macro may have such a name.
      if (statements_.find_macro(name) == nullptr) return statements_.directive(index, columns, directive);
      break;
    default: return statements_.directive(index, columns, directive);
  }
  if (columns.mnemonic.empty()) return label();
  if (const Macro* macro = statements_.find_macro(name)) {
    label();
    return call(index, columns, static_cast<int>(macro - program_.macros.data()));
  }
  statements_.instruction(index, columns, name, mnemonic_);
  // Without a processor every instruction would be a fault.
  if (program_.target == nullptr) over_ = true;
}

Directive Expander::known(int line, const Columns& columns, const std::string& name) {
  // Most lines are instructions.
  mnemonic_ = program_.target == nullptr ? nullptr : program_.target->find_mnemonic(name);
  if (mnemonic_ != nullptr) return Directive::none;
  const Directive directive = find_directive(name);
  if (directive != Directive::none || statements_.find_macro(name) != nullptr) return directive;
  const std::string_view ours = directive_meant(name);
  if (ours.empty()) return directive;
  // What gives the source its structure is understood all the same: the lines around it would become faults.
  const Directive meant = find_directive(ours);
  const bool structure = meant == Directive::if_ || meant == Directive::else_ || meant == Directive::endif ||
                         meant == Directive::macro || meant == Directive::endm;
  if (!structure) return directive;
  if (meant == Directive::if_ ? !skipping() : true) {
    program_.faults.fault("asm-mnemonic", {line, columns.mnemonic_at},
                          {.what = fmt::format("{} is no directive", name),
                           .expected = std::string(ours),
                           .fixes = {{columns.mnemonic_at, columns.mnemonic_at + name.size(), std::string(ours)}}});
  }
  return meant;
}

void Expander::look_at_place(int line) {
  // *=$F000 elsewhere goes on at that address; here it is a comment.
  Cursor in(program_.source.line(line).text);
  in.skip_blanks();
  const std::size_t first = in.at();
  if (!in.take('*')) return;
  in.skip_blanks();
  if (!in.take('=')) return;
  in.skip_blanks();
  const std::size_t value = in.at();
  if (in.peek() == '$') in.skip();
  const std::string_view number = in.word();
  if (number.empty() || digit_value(number.front()) > 15 || digit_value(number.back()) > 15) return;
  in.skip_blanks();
  if (!in.done() && in.peek() != ';') return;
  program_.faults.fault("asm-mnemonic", {line, first},
                        {.what = "a * at the beginning of a line begins a comment",
                         .expected = "ORG address",
                         .fixes = {{0, value, "        ORG     "}}});
}

// Conditions ----------------------------------------------------------------------------------------------------------

void Expander::condition(int line, const Columns& columns, Directive directive) {
  const std::size_t open = conditions_.size() - frames_.back().conditions;
  if (directive == Directive::if_) {
    const bool outer = !skipping();
    std::int64_t value = 0;
    if (outer) {
      if (!columns.label.empty()) statements_.label(line, columns);
      // A condition with a fault counts as true: most of what is between is then looked at.
      if (!statements_.constant(line, columns, "a condition", value)) value = 1;
    }
    conditions_.push_back({{line, columns.mnemonic_at}, outer, value != 0});
    return;
  }
  const char* name = directive == Directive::else_ ? "ELSE" : "ENDIF";
  if (open == 0) {
    program_.faults.fault(
        "asm-if-missing", {line, columns.mnemonic_at},
        {.what = fmt::format("{} without IF", name), .expected = "an IF above, in the same file or macro"});
    return;
  }
  Condition& condition = conditions_.back();
  if (directive == Directive::endif) {
    conditions_.pop_back();
    return;
  }
  if (condition.in_else) {
    program_.faults.fault("asm-if-missing", {line, columns.mnemonic_at},
                          {.what = "a second ELSE for one IF", .expected = "ENDIF"});
    return;
  }
  condition.in_else = true;
  condition.holds = !condition.holds;
}

void Expander::other_condition(int line, const Columns& columns, Directive directive, const std::string& name) {
  const bool open = conditions_.size() > frames_.back().conditions;
  const bool outer = directive == Directive::other_if || !open ? !skipping() : conditions_.back().outer;
  if (outer) {
    Slip slip = slip_in_condition(program_, line, columns, name);
    program_.faults.fault("asm-if-other", {line, columns.mnemonic_at},
                          {.what = fmt::format("there is no {}", name),
                           .expected = "IF value, ELSE and ENDIF",
                           .hint = std::move(slip.hint),
                           .fixes = std::move(slip.fixes)});
  }
  // As with every faulty condition most of what follows is looked at.
  if (directive == Directive::other_if) {
    conditions_.push_back({{line, columns.mnemonic_at}, outer, true});
  } else if (open) {
    conditions_.back().holds = true;
  }
}

// Macros --------------------------------------------------------------------------------------------------------------

void Expander::define_macro(int line, const Columns& columns) {
  Macro macro;
  macro.name = upper(columns.label);
  macro.line = line;
  Faults& faults = program_.faults;
  bool good = true;
  if (columns.label.empty() || !is_name(columns.label) || columns.label[0] == '.') {
    faults.fault("asm-macro-name", {line, columns.label.empty() ? columns.mnemonic_at : columns.label_at},
                 {.what = "a macro needs a name", .expected = "NAME MACRO, the name in the first column"});
    good = false;
  } else if (const Directive directive = find_directive(macro.name);
             (directive != Directive::none && directive != Directive::layout) ||
             (program_.target != nullptr && program_.target->find_mnemonic(macro.name) != nullptr)) {
    faults.fault("asm-macro-name", {line, columns.label_at},
                 {.what = fmt::format("{} has a meaning already", macro.name), .expected = "a name of its own"});
    good = false;
  } else if (const Macro* other = statements_.find_macro(macro.name)) {
    faults.fault("asm-macro-name", {line, columns.label_at},
                 {.what = fmt::format("{} is a macro already", macro.name),
                  .expected = fmt::format("another name than that in {}", program_.source.shown(other->line))});
    good = false;
  }
  Cursor in(program_.source.line(line).text);
  in.go(columns.operand_at);
  while (good && !in.at_end_of_operand()) {
    const std::size_t first = in.at();
    const std::string_view name = in.word();
    if (!is_name(name) || name.find('.') != std::string_view::npos) {
      faults.fault("asm-macro-parameter", {line, first},
                   {.what = "this is no name for a parameter", .expected = "names with commas between them"});
      good = false;
    }
    macro.parameters.push_back(upper(name));
    if (macro.parameters.size() > kMostParameters) {
      faults.fault(
          "asm-macro-parameter", {line, first},
          {.what = "the macro has too many parameters", .expected = fmt::format("at most {}", kMostParameters)});
      good = false;
    }
    if (!in.take(',')) break;
    in.skip_blanks();
  }
  if (good) statements_.keep_comment(line, columns.operand_at, in, Shape::word);
  read_body(macro, good);
}

void Expander::read_body(Macro& macro, bool good) {
  Faults& faults = program_.faults;
  while (true) {
    const int next = next_line();
    if (next < 0) {
      faults.fault("asm-macro-open", {macro.line, split_line(program_.source.line(macro.line).text).mnemonic_at},
                   {.what = "this macro has no end", .expected = "ENDM before the end of the file"});
      return;
    }
    if (!within_limits(next)) {
      if (faults.full()) return;
      continue;
    }
    const std::string_view text = program_.source.line(next).text;
    const Columns body = split_line(text);
    const Directive directive = body.mnemonic.empty() ? Directive::none : known(next, body, upper(body.mnemonic));
    if (directive == Directive::endm) break;
    if (directive == Directive::macro) {
      faults.fault("asm-macro-nested", {next, body.mnemonic_at},
                   {.what = "a macro cannot be defined inside another", .hint = "is an ENDM missing above?"});
      return;
    }
    if (!good) continue;
    const UnknownParameter unknown = add_to_body(macro, next, text);
    if (unknown.at == std::string_view::npos) continue;
    faults.fault("asm-macro-parameter", {next, unknown.at},
                 {.what = fmt::format("{} has no parameter of this name", macro.name),
                  .expected = macro.parameters.empty() ? "a macro with parameters"
                                                       : fmt::format("\\{}", fmt::join(macro.parameters, ", \\")),
                  .hint = unknown.name.empty() ? "a backslash itself is written \\\\" : ""});
  }
  if (!good) return;
  program_.macro_index.emplace(macro.name, static_cast<int>(program_.macros.size()));
  program_.macros.push_back(std::move(macro));
}

bool Expander::read_arguments(int line, Cursor& in, std::vector<std::string>& arguments) {
  if (in.at_end_of_operand()) return true;
  while (true) {
    const std::size_t first = in.at();
    int depth = 0;
    const bool braces = in.peek() == '{';
    while (!in.done() && (depth > 0 || !(in.at_end_of_operand() || in.peek() == ','))) {
      const char c = in.peek();
      if (c == '(' || c == '[' || c == '{') ++depth;
      if (c == ')' || c == ']' || c == '}') --depth;
      if (c == '\'' || c == '"') {
        // A quoted text goes to its end, a character has one.
        const std::size_t quote = in.at();
        in.skip();
        if (c == '\'') {
          if (!in.done()) in.skip();
          continue;
        }
        while (!in.done() && in.peek() != '"') in.skip();
        if (in.done()) {
          program_.faults.fault("asm-text", {line, quote}, {.what = "the text has no end", .expected = "a second \""});
          return false;
        }
      }
      in.skip();
    }
    if (depth > 0) {
      program_.faults.fault(
          "asm-parenthesis", {line, first},
          {.what = "the argument ends before all that it opens is closed", .expected = "')', ']' or '}'"});
      return false;
    }
    std::string_view argument = in.since(first);
    if (braces && argument.size() >= 2 && argument.back() == '}') argument = argument.substr(1, argument.size() - 2);
    arguments.emplace_back(argument);
    if (!in.take(',')) return true;
    in.skip_blanks();
  }
}

void Expander::call(int line, const Columns& columns, int index) {
  Macro& macro = program_.macros[static_cast<std::size_t>(index)];
  macro.uses.push_back(line);
  Frame frame{.macro = index, .caller = line, .outer_scope = statements_.scope, .conditions = conditions_.size()};
  Cursor in(program_.source.line(line).text);
  in.go(columns.operand_at);
  // What stands behind a macro without parameters is a comment.
  if (!macro.parameters.empty() && !read_arguments(line, in, frame.arguments)) return;
  if (frame.arguments.size() != macro.parameters.size()) {
    const bool fewer = frame.arguments.size() < macro.parameters.size();
    std::vector<Fix> fixes = fewer && !frame.arguments.empty() ? StatementParser::with_comma(in) : std::vector<Fix>{};
    program_.faults.fault("asm-macro-arguments", {line, columns.operand_at},
                          {.what = fmt::format("{} is called with another number of arguments than it has", macro.name),
                           .expected = macro.parameters.empty() ? std::string("none")
                                                                : fmt::format("{}: {}", macro.parameters.size(),
                                                                              fmt::join(macro.parameters, ", ")),
                           .found = std::to_string(frame.arguments.size()),
                           .hint = "an argument with commas or blanks is written in braces: {5,X}",
                           .fixes = std::move(fixes)});
    return;
  }
  statements_.keep_comment(line, columns.operand_at, in, macro.parameters.empty() ? Shape::nothing : Shape::arguments);
  if (depth(true) >= kMostCalls) {
    program_.faults.fault("asm-macro-depth", {line, columns.mnemonic_at},
                          {.what = "macros call each other too deeply",
                           .expected = fmt::format("at most {} levels", kMostCalls),
                           .hint = "a macro that calls itself needs an IF that ends it"});
    over_ = true;
    return;
  }
  statements_.scope = fmt::format("{}#{}", macro.name, ++calls_);
  statements_.fixed_scope = true;
  frames_.push_back(std::move(frame));
}

// Files ---------------------------------------------------------------------------------------------------------------

void Expander::include(int line, const Columns& columns) {
  Cursor in(program_.source.line(line).text);
  in.go(columns.operand_at);
  const At at{line, in.at()};
  const auto fault = [&](const char* id, Words words) { program_.faults.fault(id, at, std::move(words)); };
  std::size_t first = in.at();
  std::string name;
  if (in.take('"')) {
    ++first;
    while (!in.done() && in.peek() != '"') in.skip();
    name = in.since(first);
    if (!in.take('"')) return fault("asm-text", {.what = "the name of the file has no end", .expected = "a second \""});
    statements_.keep_comment(line, columns.operand_at, in, Shape::text);
  } else {
    while (!in.at_end_of_operand()) in.skip();
    name = in.since(first);
    statements_.keep_comment(line, columns.operand_at, in, Shape::word);
  }
  if (name.size() > kMostFileNameBytes) {
    return fault("asm-include", {.what = "the name of the file is too long",
                                 .expected = fmt::format("at most {} characters", kMostFileNameBytes)});
  }
  if (name.empty()) {
    return fault("asm-operand-missing",
                 {.what = "INCLUDE needs the name of a file", .expected = "INCLUDE \"name.asm\""});
  }
  const SourceFile& from = program_.source.file(program_.source.line(line).file);
  if (from.folder.empty()) {
    return fault("asm-include", {.what = "no file can be included here",
                                 .expected = "a source that is a file itself",
                                 .hint = "a source that comes as text has no folder"});
  }
  const fs::path path = (from.folder / name).lexically_normal();
  const Refusal refusal = refuse_path(path, root_, "the source");
  if (!refusal.what.empty()) {
    return fault("asm-include", {.what = refusal.what, .expected = refusal.expected, .hint = refusal.hint});
  }
  if (depth(false) >= kMostIncludes || program_.source.file_count() >= kMostFiles) {
    fault("asm-include-depth", {.what = "files include each other too deeply or too often",
                                .expected = fmt::format("at most {} levels and {} files", kMostIncludes, kMostFiles),
                                .hint = "does a file include itself?"});
    over_ = true;
    return;
  }
  std::string error;
  std::string text = read_source(path, error);
  if (!error.empty()) {
    return fault("asm-include", {.what = fmt::format("the file cannot be read: {}", error),
                                 .expected = "the name of a file beside this one"});
  }
  // Named as the source is: its folder as written, then the way from there.
  const fs::path shown = (fs::path(from.name).parent_path() / name).lexically_normal();
  const fs::path folder = path.has_parent_path() ? path.parent_path() : fs::path(".");
  const int file = program_.source.add_file(shown.string(), folder, std::move(text));
  frames_.push_back({.file = file, .conditions = conditions_.size()});
}

}  // namespace prewire::assembler
