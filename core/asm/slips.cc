#include "asm/slips.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <utility>

namespace prewire::assembler {

namespace {

constexpr const char* kColumn = "        ";

std::string_view text_of(const Program& program, int line) { return program.source.line(line).text; }

/// The operand as written, up to a blank.
std::string_view operand_of(std::string_view text, const Columns& columns) {
  Cursor in(text);
  in.go(columns.operand_at);
  while (!in.at_end_of_operand()) in.skip();
  return in.since(columns.operand_at);
}

bool is_known(const Program& program, const std::string& name) {
  return find_directive(name) != Directive::none || program.macro_index.count(name) > 0 ||
         (program.target != nullptr && program.target->find_mnemonic(name) != nullptr);
}

/// How many characters of `LDAA#5` are a mnemonic; 0 if it is none with an operand that follows at once.
std::size_t glued(const Program& program, std::string_view word) {
  for (std::size_t size = std::min<std::size_t>(word.size() - 1, 8); size > 1; --size) {
    if (is_letter(word[size]) || word[size] == '_' || word[size] == ':') continue;
    if (is_known(program, upper(word.substr(0, size)))) return size;
  }
  return 0;
}

/// How a comment begins elsewhere, in characters; 0 for what does not.
std::size_t comment_mark(std::string_view text) {
  for (const std::string_view mark : {"//", "/*", "--"}) {
    if (text.substr(0, 2) == mark) return 2;
  }
  const bool alone = text.size() == 1 || is_blank(text[1]);
  return !text.empty() && (text[0] == '!' || (text[0] == '#' && alone) || text[0] == '\'') ? 1 : 0;
}

Slip as_comment(std::size_t at, std::size_t size) { return {"; begins a comment", {{at, at + size, ";"}}, true}; }

using Advice = std::pair<std::string_view, std::string_view>;

constexpr const char* kNoLinker = "one source makes one image, without a linker: INCLUDE brings in another source";
constexpr const char* kNoSections = "there are no sections: ORG says where what follows goes";
constexpr const char* kNoRepeat = "there is no repetition: write the lines, or a macro that calls itself";

/// Directives of the trade that have nothing like them here.
constexpr std::array kWithout{
    Advice{"XDEF", kNoLinker},    Advice{"XREF", kNoLinker},      Advice{"PUBLIC", kNoLinker},
    Advice{"EXTERN", kNoLinker},  Advice{"EXTRN", kNoLinker},     Advice{"EXPORT", kNoLinker},
    Advice{"IMPORT", kNoLinker},  Advice{"GLOBAL", kNoLinker},    Advice{".GLOBAL", kNoLinker},
    Advice{".GLOBL", kNoLinker},  Advice{"SECTION", kNoSections}, Advice{".SECTION", kNoSections},
    Advice{"SECT", kNoSections},  Advice{".SECT", kNoSections},   Advice{"SEGMENT", kNoSections},
    Advice{".DATA", kNoSections}, Advice{".BSS", kNoSections},    Advice{".TEXT", kNoSections},
    Advice{".CODE", kNoSections}, Advice{"CSEG", kNoSections},    Advice{"DSEG", kNoSections},
    Advice{"BSCT", kNoSections},  Advice{"PSCT", kNoSections},    Advice{"REPT", kNoRepeat},
    Advice{".REPT", kNoRepeat},   Advice{"REPEAT", kNoRepeat},    Advice{"DUP", kNoRepeat},
    Advice{"IRP", kNoRepeat},
};

Slip instruction_slip(const Program& program, const Columns& columns, const std::string& name) {
  const Target& target = *program.target;
  const std::string_view ours = instruction_meant(target.family(), name);
  if (ours.empty()) return {};
  // LDA on the MC6800 may mean either accumulator.
  const std::string_view first = ours.substr(0, ours.find(','));
  const bool choice = ours.find(", or ") != std::string_view::npos;
  return {fmt::format("on the {} it is written {}", target.title(), ours),
          {{columns.mnemonic_at, columns.mnemonic_at + name.size(), std::string(choice ? first : ours)}}};
}

}  // namespace

Slip slip_in_mnemonic(const Program& program, int line, const Columns& columns, const std::string& name) {
  const std::string_view text = text_of(program, line);
  const std::size_t at = columns.mnemonic_at, end = at + name.size();
  if (!columns.label.empty() && program.target->find_mnemonic(upper(columns.label)) != nullptr) {
    return {fmt::format("{} stands in the first column: begin the line with a blank", upper(columns.label)),
            {{0, 0, kColumn}}};
  }
  if (name == "=" || name == ":=" || name == "==") {
    return {fmt::format("a name gets its value with {}", name == ":=" ? "SET" : "EQU"),
            {{at, end, name == ":=" ? "SET" : "EQU"}}};
  }
  if (const std::size_t size = comment_mark(columns.mnemonic)) return as_comment(at, size);
  if (Slip slip = slip_in_register(program, line, columns, name); slip.found()) return slip;
  const std::string next = upper(operand_of(text, columns));
  if (columns.label.empty() && is_name(columns.mnemonic) &&
      (next == "=" || (!next.empty() && is_known(program, next)))) {
    Slip slip{fmt::format("if {} is a label, it begins in the first column", columns.mnemonic), {{0, at, ""}}};
    if (next == "=") slip.fixes = {{0, columns.operand_at + 1, fmt::format("{} EQU", columns.mnemonic)}};
    return slip;
  }
  if (const std::string_view ours = directive_meant(name); !ours.empty()) {
    const bool operand = ours.back() == ',';  // one more item before those of the line
    return {fmt::format("this is called {} here", ours.substr(0, ours.find(' '))),
            {{at, operand ? columns.operand_at : end, std::string(ours)}}};
  }
  if (const std::size_t size = name.size() > 1 ? glued(program, columns.mnemonic) : 0) {
    return {"a blank stands behind a mnemonic", {{at + size, at + size, " "}}};
  }
  for (const auto& [other, advice] : kWithout) {
    if (name == other) return {std::string(advice), {}};
  }
  if (name == "ALIGN" || name == ".ALIGN" || name == "EVEN") {
    const std::string by(name == "EVEN" ? "2" : operand_of(text, columns));
    Slip slip{"ORG goes on at any address", {}};
    if (!by.empty() && std::all_of(by.begin(), by.end(), is_digit)) {
      slip.fixes = {
          {at, name == "EVEN" ? end : columns.operand_at + by.size(), fmt::format("ORG (*+{0}-1)/{0}*{0}", by)}};
    }
    return slip;
  }
  return instruction_slip(program, columns, name);
}

Slip slip_in_label(const Program& program, int line, const Columns& columns) {
  const std::string_view text = text_of(program, line), label = columns.label;
  const std::string name = upper(label);
  if (label[0] == '#' && label.size() > 1 && is_letter(label[1])) {
    if (name == "#INCLUDE") return {"", {{0, label.size(), "        INCLUDE"}}, true};
    if (name == "#DEFINE") {
      return {"", {{0, columns.operand_at, fmt::format("{} EQU ", columns.mnemonic)}}, true};
    }
    return {"no directive begins with #", {{0, 1, kColumn}}, true};
  }
  if (const std::size_t size = comment_mark(text)) return as_comment(0, size);
  if (const std::size_t equals = label.find('=');
      equals != std::string_view::npos && is_name(label.substr(0, equals))) {
    return {"a name gets its value with EQU", {{equals, equals + 1, " EQU "}}, true};
  }
  if (label.size() > 1) {
    if (const std::size_t size = glued(program, label)) {
      return {"a line without a label begins with a blank, and a blank stands behind a mnemonic",
              {{0, size, fmt::format("{}{} ", kColumn, label.substr(0, size))}},
              true};
    }
  }
  if (label[0] == '#' || label[0] == '$') return {"begin the line with a blank if it has no label", {}};
  const bool local = label[0] == '@' || label[0] == '?' || label[0] == '%' || label[0] == '!';
  if (local && is_name(label.substr(1))) return {"a local label begins with a point", {{0, 1, "."}}};
  if (is_letter(label[0])) {
    std::string mended(label);
    std::replace_if(
        mended.begin(), mended.end(), [](char c) { return !in_name(c); }, '_');
    return {"a line without a label begins with a blank", {{0, label.size(), std::move(mended)}}};
  }
  return {"a line without a label begins with a blank", {}};
}

Slip slip_in_register(const Program& program, int line, const Columns& columns, const std::string& name) {
  Cursor in(text_of(program, line));
  in.go(columns.operand_at);
  const std::string written(in.word()), which = upper(written);
  const Target& target = *program.target;
  const std::size_t end = in.at();
  if (!is_register(which)) return {};
  const bool alone = in.at_end_of_operand();
  if (in.take(',')) in.skip_blanks();
  const bool value = in.peek() == '#';  // LDA A,#5
  const std::size_t at = columns.mnemonic_at;
  if (name == "PSH" || name == "PUL") {
    if (target.find_mnemonic(name + "S") == nullptr) return {};
    return {fmt::format("the stack is named: {}S, or {}U", name, name), {{at, at + name.size(), name + "S"}}};
  }
  if (!alone && !value) return {};
  const std::size_t behind = [&] {
    in.skip_blanks();
    return in.at();
  }();
  const bool marked = in.peek() == '#';
  if (alone && in.peek() == ',') return {"no blank stands before a comma", {{end, behind, ""}}};
  const auto joined = [&](const std::string& mnemonic) -> Slip {
    if (target.find_mnemonic(mnemonic) == nullptr) return {};
    return {fmt::format("the register belongs to the mnemonic: {}", mnemonic),
            {{at, value ? behind : end, value ? mnemonic + " " : mnemonic}}};
  };
  if (Slip slip = joined(name + which); slip.found()) return slip;
  const Mnemonic* mnemonic = target.find_mnemonic(name);
  const bool accumulator = which == "A" || which == "B";
  // LDA B #5, for LDB
  if (accumulator && name.size() > 2 && name.back() == 'A') {
    if (Slip slip = joined(name.substr(0, name.size() - 1) + which); slip.found()) return slip;
  }
  // LDX X #5, LDAA A #5
  if (name.size() > which.size() && name.substr(name.size() - which.size()) == which && marked) {
    if (Slip slip = joined(name); slip.found()) return slip;
  }
  if (accumulator && name.size() > 3 && name.back() == which[0]) {
    if (Slip slip = joined(name); slip.found()) return slip;
    if (Slip slip = joined(name.substr(0, name.size() - 1)); slip.found()) return slip;
  }
  const bool index = which.size() == 1 && std::string_view("XYUS").find(which[0]) != std::string_view::npos;
  if (index && alone && mnemonic != nullptr && (*mnemonic)[Mode::indexed] != nullptr) {
    return {fmt::format("what {} points to is written ,{}", which, which), {{columns.operand_at, end, "," + which}}};
  }
  return {};
}

Slip slip_in_condition(const Program& program, int line, const Columns& columns, const std::string& name) {
  const std::string_view operand = operand_of(text_of(program, line), columns);
  const std::size_t at = columns.mnemonic_at, end = columns.operand_at + operand.size();
  if (name == "ELSEIF" || name == "ELIF" || name == ".ELSEIF" || name == ".ELIF") {
    return {fmt::format("then \"IF {}\" in a line of its own, and one more ENDIF", operand), {{at, end, "ELSE"}}};
  }
  if (name == "IFDEF" || name == "IFNDEF" || name == ".IFDEF" || name == ".IFNDEF") {
    const bool no = name.find('N') != std::string::npos;
    return {"whether a name is defined cannot be asked: give it 1 or 0 with EQU, and ask for its value",
            {{at, end, fmt::format("IF {}{}", operand, no ? "=0" : "")}}};
  }
  constexpr std::array kComparisons{Advice{"IFEQ", "="},  Advice{"IFNE", "<>"}, Advice{"IFGT", ">"},
                                    Advice{"IFGE", ">="}, Advice{"IFLT", "<"},  Advice{"IFLE", "<="}};
  for (const auto& [other, sign] : kComparisons) {
    if (name == other) return {"", {{at, end, fmt::format("IF {}{}0", operand, sign)}}};
  }
  return {"IF takes a value; texts cannot be compared", {}};
}

}  // namespace prewire::assembler
