#include "asm/expression.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <limits>
#include <utility>

namespace prewire::assembler {

namespace {

constexpr int kMostDepth = 64;
constexpr std::int64_t kLargest = std::numeric_limits<std::int32_t>::max();
constexpr std::int64_t kSmallest = std::numeric_limits<std::int32_t>::min();

struct Operator {
  std::string_view text;
  int precedence;
  NodeKind kind;
};

// Longer ones first.
constexpr std::array kOperators{
    Operator{"<<", 5, NodeKind::shift_left},
    Operator{">>", 5, NodeKind::shift_right},
    Operator{"<=", 1, NodeKind::less_or_equal},
    Operator{">=", 1, NodeKind::greater_or_equal},
    Operator{"<>", 1, NodeKind::unequal},
    Operator{"*", 7, NodeKind::multiply},
    Operator{"/", 7, NodeKind::divide},
    Operator{"%", 7, NodeKind::remainder},
    Operator{"+", 6, NodeKind::add},
    Operator{"-", 6, NodeKind::subtract},
    Operator{"&", 4, NodeKind::bit_and},
    Operator{"^", 3, NodeKind::bit_xor},
    Operator{"|", 2, NodeKind::bit_or},
    Operator{"=", 1, NodeKind::equal},
    Operator{"<", 1, NodeKind::less},
    Operator{">", 1, NodeKind::greater},
};

const Operator* operator_at(const Cursor& in) {
  if (in.peek() == '/' && in.peek(1) == '/') return nullptr;  // a comment elsewhere
  for (const Operator& candidate : kOperators) {
    if (in.rest().substr(0, candidate.text.size()) == candidate.text) return &candidate;
  }
  return nullptr;
}

std::string shown(char c) {
  return c >= ' ' && c <= '~' ? fmt::format("'{}'", c)
                              : fmt::format("character ${:02X}", static_cast<unsigned char>(c));
}

bool all_digits(std::string_view text, int base) {
  return !text.empty() && std::all_of(text.begin(), text.end(), [&](char c) { return digit_value(c) < base; });
}

constexpr const char* kValueExpected = "a number such as 10, $1F, %1010, @17 or 'A, a name, or * for this address";

}  // namespace

int digit_value(char c) {
  if (is_digit(c)) return c - '0';
  if (c >= 'A' && c <= 'F') return c - 'A' + 10;
  if (c >= 'a' && c <= 'f') return c - 'a' + 10;
  return 99;
}

int base_of(std::string_view& text) {
  const char mark = text.size() > 1 ? text[1] : '\0', last = text.back();
  const std::string_view behind = text.substr(std::min<std::size_t>(2, text.size()));
  const std::string_view before = text.substr(0, text.size() - 1);
  const auto is = [&](std::string_view digits, int base) {
    if (!all_digits(digits, base)) return false;
    text = digits;
    return true;
  };
  if (text[0] == '0' && (mark == 'x' || mark == 'X') && is(behind, 16)) return 16;
  if ((last == 'h' || last == 'H') && is(before, 16)) return 16;
  if (text[0] == '0' && (mark == 'b' || mark == 'B') && is(behind, 2)) return 2;
  if ((last == 'b' || last == 'B') && is(before, 2)) return 2;
  if ((last == 'q' || last == 'Q') && is(before, 8)) return 8;
  return 10;
}

bool is_register(std::string_view name) {
  if (name.empty() || name.size() > 3) return false;
  const auto at = [&](std::size_t i) { return i < name.size() ? static_cast<char>(name[i] & ~0x20) : '\0'; };
  if (name.size() == 1) return std::string_view("ABDXYUS").find(at(0)) != std::string_view::npos;
  if (name.size() == 3) return at(0) == 'P' && at(1) == 'C' && at(2) == 'R';
  return (at(0) == 'P' && at(1) == 'C') || (at(0) == 'C' && at(1) == 'C') || (at(0) == 'D' && at(1) == 'P');
}

int intern_name(Symbols& symbols, Faults& faults, std::string_view name, std::string_view scope, At at) {
  if (name.size() > kMostNameBytes) {
    faults.fault("asm-name-long", at,
                 {.what = "the name is too long",
                  .expected = fmt::format("at most {} characters", kMostNameBytes),
                  .found = std::to_string(name.size())});
    return -1;
  }
  const int id = name.front() == '.' ? symbols.intern(Symbols::full_name(name, scope)) : symbols.intern(name);
  if (symbols.count() <= kMostNames) return id;
  faults.give_up("asm-too-long", at,
                 {.what = "the source has too many names", .expected = fmt::format("at most {}", kMostNames)});
  return -1;
}

int ExpressionParser::add(const Node& node) {
  nodes_.push_back(node);
  if (nodes_.size() > kMostTerms) {
    faults_.give_up("asm-too-long", {line_, node.offset},
                    {.what = "the expressions of the source have too many parts",
                     .expected = fmt::format("at most {} numbers, names and operators", kMostTerms),
                     .hint = "does a macro repeat a long list?"});
    return -1;
  }
  return static_cast<int>(nodes_.size()) - 1;
}

int ExpressionParser::add(NodeKind kind, std::size_t offset, int left, int right) {
  return add({.kind = kind, .offset = static_cast<std::uint16_t>(offset), .left = left, .right = right});
}

int ExpressionParser::add_number(std::int64_t value, std::size_t offset, Notation notation) {
  return add(
      {.notation = notation, .offset = static_cast<std::uint16_t>(offset), .value = static_cast<std::int32_t>(value)});
}

int ExpressionParser::fail(const char* id, std::size_t offset, Words words) {
  faults_.fault(id, {line_, offset}, std::move(words));
  return -1;
}

int ExpressionParser::parse(Cursor& in) {
  parentheses_ = bracket_ ? 1 : 0;
  depth_ = 0;
  return binary(in, 1);
}

int ExpressionParser::binary(Cursor& in, int least) {
  int left = unary(in);
  while (left >= 0) {
    const std::size_t before = in.at();
    if (parentheses_ > 0) in.skip_blanks();
    const Operator* found = operator_at(in);
    if (found == nullptr || found->precedence < least) {
      in.go(before);
      return left;
    }
    const std::size_t offset = in.at();
    in.skip(found->text.size());
    in.skip_blanks();
    const int right = binary(in, found->precedence + 1);
    if (right < 0) return -1;
    left = add(found->kind, offset, left, right);
  }
  return -1;
}

int ExpressionParser::unary(Cursor& in) {
  const std::size_t offset = in.at();
  if (++depth_ > kMostDepth) {
    return fail("asm-nesting", offset,
                {.what = "the expression is nested too deeply",
                 .expected = fmt::format("at most {} levels", kMostDepth),
                 .hint = "name a part of it with EQU"});
  }
  int result = -1;
  if (in.take('+')) {
    result = unary(in);
  } else if (in.peek() == '-' || in.peek() == '~') {
    const NodeKind kind = in.peek() == '-' ? NodeKind::negate : NodeKind::complement;
    in.skip();
    const int operand = unary(in);
    if (operand >= 0) result = add(kind, offset, operand);
  } else {
    result = primary(in);
  }
  --depth_;
  return result;
}

int ExpressionParser::primary(Cursor& in) {
  const std::size_t first = in.at();
  const char c = in.peek();
  if (in.take('(')) {
    ++parentheses_;
    in.skip_blanks();
    const int inner = binary(in, 1);
    if (inner < 0) return -1;
    in.skip_blanks();
    --parentheses_;
    if (in.take(')')) return inner;
    return fail("asm-parenthesis", first,
                {.what = "this parenthesis is never closed", .expected = "')'", .hint = "close it, or remove it"});
  }
  if (in.take('*')) return add(NodeKind::location, first, -1);
  if (in.take('$')) return number(in, 16, first);
  if (in.take('%')) return number(in, 2, first);
  if (in.take('@')) return number(in, 8, first);
  if (is_digit(c)) return number(in, 10, first);
  if (in.take('\'')) return character(in);
  if (begins_name(c)) return symbol(in);
  if (in.done() || is_blank(c) || c == ';') {
    return fail("asm-value-missing", first,
                {.what = "a value is missing here",
                 .expected = kValueExpected,
                 .found = "nothing",
                 .fixes = without_blanks(in)});
  }
  std::string hint;
  std::vector<Fix> fixes;
  if (c == '#') hint = "# stands only at the start of an operand";
  if (c == '"') {
    hint = "one character is written 'A; text belongs to FCC";
    if (in.peek(2) == '"') fixes = {{first, first + 3, {'\'', in.peek(1)}}};
  }
  return fail("asm-value", first,
              {.what = "no value begins like this",
               .expected = kValueExpected,
               .found = shown(c),
               .hint = std::move(hint),
               .fixes = std::move(fixes)});
}

int ExpressionParser::number(Cursor& in, int base, std::size_t first) {
  const std::size_t digits = in.at();
  const std::string_view text = in.word();
  if (text.empty()) {
    return fail("asm-number", digits,
                {.what = fmt::format("there are no digits after {}", in.since(first)),
                 .expected = base == 16  ? "hex digits: 0-9 and A-F"
                             : base == 2 ? "binary digits: 0 and 1"
                                         : "octal digits: 0-7",
                 .fixes = without_blanks(in)});
  }
  std::string_view own = text;
  const int marked = base == 10 ? base_of(own) : base;
  std::int64_t value = 0;
  for (std::size_t i = 0; i < own.size(); ++i) {
    const int digit = digit_value(own[i]);
    if (digit >= marked) return bad_digit(text, i, base, first, digits);
    value = value * marked + digit;
    if (value > kLargest) {
      return fail("asm-number", first,
                  {.what = "the number is too large for any use here", .expected = "at most 65535, or $FFFF"});
    }
  }
  return add_number(value, first,
                    marked == 10     ? Notation::decimal
                    : marked == 2    ? Notation::binary
                    : marked == 8    ? Notation::octal
                    : own.size() < 3 ? Notation::short_hex
                                     : Notation::hex);
}

int ExpressionParser::bad_digit(std::string_view text, std::size_t index, int base, std::size_t first,
                                std::size_t digits) {
  std::string hint;
  std::vector<Fix> fixes;
  // As other notations mark hex: $0x1F, $1Fh, and 1F without a mark.
  std::string_view own = text;
  const bool hex = base == 10 ? false : base == 16 && (base_of(own) == 16 || (text.back() | 0x20) == 'h');
  if (hex && own == text) own.remove_suffix(1);
  if (hex && all_digits(own, 16)) {
    hint = fmt::format("hex is written ${}", own);
    fixes = {{first, digits + text.size(), fmt::format("${}", own)}};
  } else if (base == 10 && all_digits(text, 16)) {
    hint = fmt::format("if it is hex, write ${}", text);
  } else if (text[index] == 'O' || text[index] == 'o') {
    hint = "a letter O in place of the digit 0?";
  }
  return fail("asm-number", digits + index,
              {.what = fmt::format("this is no {} digit", base == 16  ? "hex"
                                                          : base == 2 ? "binary"
                                                          : base == 8 ? "octal"
                                                                      : "decimal"),
               .expected = base == 16  ? "0-9 and A-F"
                           : base == 2 ? "0 and 1"
                           : base == 8 ? "0-7"
                                       : "0-9",
               .found = shown(text[index]),
               .hint = std::move(hint),
               .fixes = std::move(fixes)});
}

int ExpressionParser::character(Cursor& in) {
  const std::size_t first = in.at();
  const char c = in.peek();
  if (in.done() || c < ' ' || c > '~') {
    return fail("asm-character", first,
                {.what = "no character stands after the quote",
                 .expected = "a printable ASCII character, as in 'A",
                 .found = in.done() ? "the end of the line" : shown(c),
                 .hint = "other codes are written as numbers"});
  }
  in.skip();
  in.take('\'');  // the closing quote is optional
  return add_number(c, first - 1, Notation::character);
}

int ExpressionParser::symbol(Cursor& in) {
  const std::size_t first = in.at();
  const std::string_view name = in.word();
  if (is_register(name)) {
    Words words{.what = fmt::format("{} is a register, not a value", upper(name)),
                .expected = kValueExpected,
                .hint = "registers cannot be names"};
    // X'1F' and B'101', as other notations mark numbers.
    if (const char mark = static_cast<char>(name[0] & ~0x20); in.peek() == '\'' && (mark == 'X' || mark == 'B')) {
      in.skip();
      const std::string_view digits = in.word();
      const bool end = in.take('\'');
      const std::string ours = (mark == 'X' ? "$" : "%") + std::string(digits);
      words.hint = fmt::format("{} is written {}", mark == 'X' ? "hex" : "binary", ours);
      if (end) words.fixes = {{first, in.at(), ours}};
    }
    return fail("asm-register", first, std::move(words));
  }
  const int id = intern(name, first);
  if (id < 0) return -1;
  Symbol& symbol = symbols_[id];
  if (symbol.uses.empty() || symbol.uses.back() != line_) symbol.uses.push_back(line_);
  return add({.kind = NodeKind::symbol, .offset = static_cast<std::uint16_t>(first), .value = id});
}

int ExpressionParser::intern(std::string_view name, std::size_t offset) {
  return intern_name(symbols_, faults_, name, scope_, {line_, offset});
}

void Evaluator::report_undefined(const Symbol& symbol, At at, Faults& faults) const {
  Words words{.what = fmt::format("{} is not defined", symbol.name),
              .expected = "the name of a label, or of EQU or SET",
              .hint = meant(faults.searching() ? symbols_.near(symbol.name) : "")};
  if (const std::string other = faults.searching() ? symbols_.elsewhere(symbol.name) : ""; !other.empty()) {
    words.hint = fmt::format(
        "a local name belongs to the label above it: write {} for the one there, or define it "
        "here, too",
        other);
  }
  // FFH: other notations know a hex number by its end.
  const std::string_view digits = std::string_view(symbol.name).substr(0, symbol.name.size() - 1);
  if (words.hint.empty() && (symbol.name.back() | 0x20) == 'h' && digits.size() <= 4 && all_digits(digits, 16)) {
    words.hint = fmt::format("hex is written ${}", digits);
    words.fixes = {{at.offset, at.offset + symbol.name.size(), fmt::format("${}", digits)}};
  }
  faults.fault("asm-undefined", at, std::move(words));
}

Value Evaluator::operator()(int index, int pass, std::int64_t location, int line, Faults* faults) const {
  const Node& node = nodes_[static_cast<std::size_t>(index)];
  const At at{line, node.offset};
  switch (node.kind) {
    case NodeKind::number: return {node.value, true, true, false};
    case NodeKind::location: return {location, location >= 0, true, true};
    case NodeKind::symbol: {
      const Symbol& symbol = symbols_[node.value];
      if (faults != nullptr && symbol.kind == Symbol::Kind::undefined) report_undefined(symbol, at, *faults);
      const bool above = symbol.pass == pass;
      if (faults != nullptr && symbol.kind == Symbol::Kind::set && !above) {
        faults->fault("asm-forward", at,
                      {.what = fmt::format("{} has no value yet", symbol.name),
                       .expected = "a SET above this line",
                       .hint = "what never changes can come later with EQU"});
      }
      // The value of a variable is that of the SET above.
      return {symbol.value, symbol.known && (above || symbol.kind != Symbol::Kind::set), above && symbol.early,
              symbol.moves};
    }
    default: break;
  }
  const Value a = (*this)(node.left, pass, location, line, faults);
  const bool one = node.kind == NodeKind::negate || node.kind == NodeKind::complement;
  const Value b = one ? Value{0, true, true, false} : (*this)(node.right, pass, location, line, faults);
  Value result{0, a.known && b.known, a.early && b.early, a.moves || b.moves};
  if (!result.known) return result;
  const std::int64_t x = a.number, y = b.number;
  const auto fail = [&](Words words) {
    if (faults != nullptr) faults->fault("asm-arithmetic", at, std::move(words));
    result.known = false;
    return result;
  };
  switch (node.kind) {
    case NodeKind::negate: result.number = -x; break;
    case NodeKind::complement: result.number = ~x; break;
    case NodeKind::multiply: result.number = x * y; break;
    case NodeKind::divide:
    case NodeKind::remainder:
      if (y == 0) return fail({.what = "this divides by zero", .expected = "a divisor other than 0"});
      result.number = node.kind == NodeKind::divide ? x / y : x % y;
      break;
    case NodeKind::add: result.number = x + y; break;
    case NodeKind::subtract: result.number = x - y; break;
    case NodeKind::shift_left:
    case NodeKind::shift_right:
      if (y < 0 || y > 31) {
        return fail({.what = "the shift is too wide", .expected = "0 to 31 bits", .found = std::to_string(y)});
      }
      result.number = node.kind == NodeKind::shift_left ? x * (std::int64_t{1} << y) : x >> y;
      break;
    case NodeKind::bit_and: result.number = x & y; break;
    case NodeKind::bit_xor: result.number = x ^ y; break;
    case NodeKind::bit_or: result.number = x | y; break;
    case NodeKind::equal: result.number = x == y; break;
    case NodeKind::unequal: result.number = x != y; break;
    case NodeKind::less: result.number = x < y; break;
    case NodeKind::less_or_equal: result.number = x <= y; break;
    case NodeKind::greater: result.number = x > y; break;
    case NodeKind::greater_or_equal: result.number = x >= y; break;
    default: break;
  }
  if (result.number > kLargest || result.number < kSmallest) {
    return fail({.what = "the value grows beyond 32 bits", .expected = "a value of 32 bits, with its sign, at most"});
  }
  return result;
}

int lone_symbol(const Nodes& nodes, int node) {
  if (node < 0 || nodes[static_cast<std::size_t>(node)].kind != NodeKind::symbol) return -1;
  return nodes[static_cast<std::size_t>(node)].value;
}

}  // namespace prewire::assembler
