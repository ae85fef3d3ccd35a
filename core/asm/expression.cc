#include "asm/expression.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <limits>

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
  for (const Operator& candidate : kOperators) {
    if (in.rest().substr(0, candidate.text.size()) == candidate.text) return &candidate;
  }
  return nullptr;
}

int digit_value(char c) {
  if (is_digit(c)) return c - '0';
  if (c >= 'A' && c <= 'F') return c - 'A' + 10;
  if (c >= 'a' && c <= 'f') return c - 'a' + 10;
  return 99;
}

std::string shown(char c) {
  return c >= ' ' && c <= '~' ? fmt::format("'{}'", c)
                              : fmt::format("character ${:02X}", static_cast<unsigned char>(c));
}

constexpr const char* kValueExpected = "a number such as 10, $1F, %1010, @17 or 'A, a name, or * for this address";

}  // namespace

bool is_register(std::string_view name) {
  constexpr std::array<std::string_view, 12> kRegisters{"A", "B", "X", "D", "Y", "U", "S", "PC", "PCR", "CC", "DP", ""};
  return std::find(kRegisters.begin(), kRegisters.end() - 1, name) != kRegisters.end() - 1;
}

int ExpressionParser::add(Node node) {
  nodes_.push_back(node);
  return static_cast<int>(nodes_.size()) - 1;
}

int ExpressionParser::fail(const char* id, std::size_t offset, Words words) {
  faults_.fault(id, {line_, offset}, std::move(words));
  return -1;
}

int ExpressionParser::parse(Cursor& in) {
  parentheses_ = depth_ = 0;
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
    const auto offset = static_cast<int>(in.at());
    in.skip(found->text.size());
    in.skip_blanks();
    const int right = binary(in, found->precedence + 1);
    if (right < 0) return -1;
    left = add({.kind = found->kind, .offset = offset, .left = left, .right = right});
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
    if (operand >= 0) result = add({.kind = kind, .offset = static_cast<int>(offset), .left = operand});
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
  if (in.take('*')) return add({.kind = NodeKind::location, .offset = static_cast<int>(first)});
  if (in.take('$')) return number(in, 16, first);
  if (in.take('%')) return number(in, 2, first);
  if (in.take('@')) return number(in, 8, first);
  if (is_digit(c)) return number(in, 10, first);
  if (in.take('\'')) return character(in);
  if (begins_name(c)) return symbol(in);
  if (in.done() || is_blank(c) || c == ';') {
    return fail("asm-value-missing", first,
                {.what = "a value is missing here", .expected = kValueExpected, .found = "nothing"});
  }
  return fail("asm-value", first,
              {.what = "no value begins like this",
               .expected = kValueExpected,
               .found = shown(c),
               .hint = c == '#'   ? "# stands only at the start of an operand"
                       : c == '"' ? "one character is written 'A; text belongs to FCC"
                                  : ""});
}

int ExpressionParser::number(Cursor& in, int base, std::size_t first) {
  const std::size_t digits = in.at();
  const std::string_view text = in.word();
  const auto mark = [&] { return base == 16 ? "$" : base == 2 ? "%" : base == 8 ? "@" : ""; };
  const auto name = [&] { return base == 16 ? "hex" : base == 2 ? "binary" : base == 8 ? "octal" : "decimal"; };
  const auto range = [&] { return base == 16 ? "0-9 and A-F" : base == 2 ? "0 and 1" : base == 8 ? "0-7" : "0-9"; };
  if (text.empty()) {
    return fail("asm-number", digits,
                {.what = fmt::format("there are no digits after {}", mark()),
                 .expected = fmt::format("{} digits: {}", name(), range())});
  }
  std::int64_t value = 0;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const int digit = digit_value(text[i]);
    if (digit >= base) {
      std::string hint;
      const bool c_style = base == 10 && i == 1 && text[0] == '0' && (text[1] == 'x' || text[1] == 'X');
      const bool suffix = text.back() == 'H' || text.back() == 'h';
      if (c_style) hint = fmt::format("hex is written ${}", text.substr(2));
      if (suffix) hint = fmt::format("hex is written ${}", text.substr(0, text.size() - 1));
      if (hint.empty() && base == 10 && digit < 16) hint = fmt::format("if it is hex, write ${}", text);
      if (hint.empty() && (text[i] == 'O' || text[i] == 'o')) hint = "a letter O in place of the digit 0?";
      return fail("asm-number", digits + i,
                  {.what = fmt::format("this is no {} digit", name()),
                   .expected = range(),
                   .found = shown(text[i]),
                   .hint = hint});
    }
    value = value * base + digit;
    if (value > kLargest) {
      return fail("asm-number", first,
                  {.what = "the number is too large for any use here", .expected = "at most 65535, or $FFFF"});
    }
  }
  return add({.kind = NodeKind::number, .offset = static_cast<int>(first), .value = value, .decimal = base == 10});
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
  return add({.kind = NodeKind::number, .offset = static_cast<int>(first) - 1, .value = c, .decimal = true});
}

int ExpressionParser::symbol(Cursor& in) {
  const std::size_t first = in.at();
  const std::string_view name = in.word();
  if (is_register(upper(name))) {
    return fail("asm-register", first,
                {.what = fmt::format("{} is a register, not a value", upper(name)),
                 .expected = kValueExpected,
                 .hint = "registers cannot be names"});
  }
  const int id = symbols_.intern(Symbols::full_name(name, scope_));
  Symbol& symbol = symbols_[id];
  if (symbol.uses.empty() || symbol.uses.back() != line_) symbol.uses.push_back(line_);
  return add({.kind = NodeKind::symbol, .offset = static_cast<int>(first), .value = id});
}

Value Evaluator::operator()(int index, int pass, std::int64_t location, int line, Faults* faults) const {
  const Node& node = nodes_[static_cast<std::size_t>(index)];
  const At at{line, static_cast<std::size_t>(node.offset)};
  switch (node.kind) {
    case NodeKind::number: return {node.value, true, true, false};
    case NodeKind::location: return {location, location >= 0, true, true};
    case NodeKind::symbol: {
      const Symbol& symbol = symbols_[static_cast<int>(node.value)];
      if (faults != nullptr && symbol.kind == Symbol::Kind::undefined) {
        const std::string other = faults->searching() ? symbols_.elsewhere(symbol.name) : "";
        faults->fault(
            "asm-undefined", at,
            {.what = fmt::format("{} is not defined", symbol.name),
             .expected = "the name of a label, or of EQU or SET",
             .hint = !other.empty() ? fmt::format("a local name belongs to the label above it: write {} for the one "
                                                  "there, or define it here, too",
                                                  other)
                                    : meant(faults->searching() ? symbols_.near(symbol.name) : "")});
      }
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
  return static_cast<int>(nodes[static_cast<std::size_t>(node)].value);
}

}  // namespace prewire::assembler
