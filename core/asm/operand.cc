#include "asm/operand.h"

#include <fmt/format.h>

#include <utility>

namespace prewire::assembler {

namespace {

constexpr std::string_view kBases = "XYUS";

/// Bit in the postbyte of PSHS and the like; 0 for what is no register.
unsigned stack_bits(std::string_view name, std::string_view other) {
  if (name == "CC") return 0x01;
  if (name == "A") return 0x02;
  if (name == "B") return 0x04;
  if (name == "D") return 0x06;
  if (name == "DP") return 0x08;
  if (name == "X") return 0x10;
  if (name == "Y") return 0x20;
  if (name == other) return 0x40;
  return name == "PC" ? 0x80 : 0;
}

}  // namespace

std::string forms_of(const Mnemonic& mnemonic) {
  std::vector<std::string> forms;
  if (mnemonic[Mode::imm8] != nullptr || mnemonic[Mode::imm16] != nullptr) forms.emplace_back("#value");
  if (mnemonic[Mode::direct] != nullptr || mnemonic[Mode::extended] != nullptr) forms.emplace_back("an address");
  if (mnemonic[Mode::offset] != nullptr) forms.emplace_back("offset,X");
  if (mnemonic[Mode::indexed] != nullptr) forms.emplace_back("an indexed form such as 5,X or [,Y]");
  if (mnemonic[Mode::relative] != nullptr || mnemonic[Mode::relative16] != nullptr) {
    forms.emplace_back("the address to branch to");
  }
  if (mnemonic[Mode::pair] != nullptr) forms.emplace_back("two registers, as in A,B");
  if (mnemonic[Mode::stack] != nullptr) forms.emplace_back("registers, as in A,B,X");
  return list_of(forms, "or");
}

bool OperandParser::fail(const char* id, std::size_t offset, Words words) {
  faults_.fault(id, {line_, offset}, std::move(words));
  return false;
}

bool OperandParser::parse(Cursor& in, const Mnemonic& mnemonic, Operand& operand) {
  in.skip_blanks();
  operand.offset = in.at();
  if (mnemonic[Mode::inherent] != nullptr) return true;  // what follows is a comment
  if (in.done() || in.peek() == ';') {
    return fail("asm-operand-missing", in.at(),
                {.what = fmt::format("{} needs an operand", mnemonic.name), .expected = forms_of(mnemonic)});
  }
  if (mnemonic[Mode::pair] != nullptr) {
    if (!pair(in, operand)) return false;
  } else if (mnemonic[Mode::stack] != nullptr) {
    if (!stack(in, mnemonic, operand)) return false;
  } else if (!general(in, operand)) {
    return false;
  }
  if (!ends(in)) return false;
  const bool fits = [&] {
    switch (operand.kind) {
      case Operand::Kind::immediate:
        return mnemonic[Mode::imm8] != nullptr || mnemonic[Mode::imm16] != nullptr || mnemonic[Mode::stack] != nullptr;
      case Operand::Kind::indexed: return mnemonic[Mode::offset] != nullptr || mnemonic[Mode::indexed] != nullptr;
      case Operand::Kind::address:
        return mnemonic[Mode::direct] != nullptr || mnemonic[Mode::extended] != nullptr ||
               mnemonic[Mode::relative] != nullptr || mnemonic[Mode::relative16] != nullptr;
      default: return true;
    }
  }();
  if (fits) return true;
  const bool immediate = operand.kind == Operand::Kind::immediate;
  const bool lea = operand.kind == Operand::Kind::address && mnemonic[Mode::indexed] != nullptr;
  return fail("asm-mode", operand.offset,
              {.what = fmt::format("{} takes no operand of this form", mnemonic.name),
               .expected = forms_of(mnemonic),
               .hint = immediate ? "nothing can be stored in, or branched to, a number: leave out the #"
                       : lea     ? "the address of a label is written label,PCR"
                                 : "",
               .fixes = immediate ? std::vector<Fix>{{operand.offset, operand.offset + 1, ""}}
                        : lea     ? std::vector<Fix>{{in.at(), in.at(), ",PCR"}}
                                  : std::vector<Fix>{}});
}

bool OperandParser::ends(Cursor& in) {
  if (in.at_end_of_operand()) return true;
  return fail("asm-operand", in.at(), not_over(in));
}

bool OperandParser::general(Cursor& in, Operand& operand) {
  if (in.peek() == '#') return immediate(in, operand);
  if (in.peek() == '[') return indirect(in, operand);
  return plain(in, operand);
}

bool OperandParser::immediate(Cursor& in, Operand& operand) {
  in.skip();
  operand.kind = Operand::Kind::immediate;
  if (is_blank(in.peek())) {
    return fail("asm-value-missing", in.at(),
                {.what = "a value is missing here",
                 .expected = "a value after #, without a blank",
                 .fixes = without_blanks(in)});
  }
  if (in.peek() == '<' || in.peek() == '>') {
    return fail("asm-force", in.at(),
                {.what = "< and > choose the size of an address, not of a number",
                 .expected = "a value after #",
                 .hint = "the high byte of N is N/256, the low byte N&$FF"});
  }
  operand.value = expressions_.parse(in);
  return operand.value >= 0;
}

bool OperandParser::indirect(Cursor& in, Operand& operand) {
  const std::size_t first = in.at();
  if (!target_.has(Mode::indexed)) {
    return fail("asm-indirect", first,
                {.what = fmt::format("the {} has no indirect addressing", target_.title()),
                 .expected = "an address, or offset,X",
                 .hint = "load X with the address, then use 0,X"});
  }
  in.skip();
  in.skip_blanks();
  operand.indirect = true;
  expressions_.bracket(true);
  const bool good = plain(in, operand);
  expressions_.bracket(false);
  if (!good) return false;
  in.skip_blanks();
  if (!in.take(']')) {
    return fail("asm-bracket", first, {.what = "this bracket is never closed", .expected = "']'"});
  }
  if (operand.kind == Operand::Kind::address) {
    operand.kind = Operand::Kind::indexed;
    operand.form = Postbyte::Form::extended;
    if (operand.force != Operand::Force::none) {
      return fail("asm-force", operand.offset,
                  {.what = "an indirect address always has 16 bits", .hint = "leave out the < or >"});
    }
  }
  using Form = Postbyte::Form;
  if (operand.form == Form::increment1 || operand.form == Form::decrement1) {
    return fail("asm-indirect", first,
                {.what = "there is no indirect form that moves by 1",
                 .expected = "[,R++] or [,--R]",
                 .hint = "an address has two bytes"});
  }
  return true;
}

bool OperandParser::plain(Cursor& in, Operand& operand) {
  const std::size_t first = in.at();
  if (in.peek() == '<' || in.peek() == '>') {
    operand.force = in.peek() == '>' ? Operand::Force::word : Operand::Force::byte;
    if (in.peek() == '<' && in.peek(1) == '<') {
      operand.force = Operand::Force::in_postbyte;
      in.skip();
    }
    in.skip();
  }
  if (in.peek() == ',') {
    operand.form = Postbyte::Form::none;
  } else {
    if (operand.force == Operand::Force::none && accumulator(in, operand)) return index(in, operand);
    operand.value = expressions_.parse(in);
    if (operand.value < 0) return false;
  }
  if (operand.indirect) in.skip_blanks();
  if (in.peek() == ',') {
    if (operand.form == Postbyte::Form::none && operand.force != Operand::Force::none) {
      return fail("asm-force", first, {.what = "there is no offset whose size could be chosen"});
    }
    return index(in, operand);
  }
  operand.kind = Operand::Kind::address;
  if (operand.force == Operand::Force::in_postbyte) {
    return fail("asm-force", first,
                {.what = "<< chooses the five-bit offset of an indexed form",
                 .expected = "<<offset,R",
                 .hint = "< chooses direct addressing, > extended"});
  }
  return true;
}

bool OperandParser::accumulator(Cursor& in, Operand& operand) {
  const std::size_t first = in.at();
  const std::string_view word = in.word();
  const char letter = word.size() == 1 ? static_cast<char>(word[0] & ~0x20) : ' ';
  if (operand.indirect) in.skip_blanks();
  // The MC6800 takes X alone for 0,X.
  if (target_.family() == Target::Family::mc6800 && letter == 'X' && in.at_end_of_operand()) {
    operand.form = Postbyte::Form::none;
    in.go(first);
    return true;
  }
  using Form = Postbyte::Form;
  const Form form = letter == 'A'   ? Form::accumulator_a
                    : letter == 'B' ? Form::accumulator_b
                    : letter == 'D' ? Form::accumulator_d
                                    : Form::illegal;
  if (form == Form::illegal || in.peek() != ',' || !target_.has(Mode::indexed)) {
    in.go(first);
    return false;
  }
  operand.form = form;
  return true;
}

bool OperandParser::index(Cursor& in, Operand& operand) {
  using Form = Postbyte::Form;
  operand.kind = Operand::Kind::indexed;
  if (in.take(',')) in.skip_blanks();
  const std::size_t first = in.at();
  int moves = 0;
  while (in.peek() == '-' && moves > -2) {
    in.skip();
    --moves;
  }
  const std::size_t at_name = in.at();
  const std::string name = upper(in.word());
  if (moves == 0) {
    while (in.peek() == '+' && moves < 2) {
      in.skip();
      ++moves;
    }
  }
  if (!target_.has(Mode::indexed)) {
    if (name != "X" || moves != 0) {
      return fail("asm-index", name == "X" ? first : at_name,
                  {.what = fmt::format("the {} indexes by X alone", target_.title()), .expected = "offset,X"});
    }
    if (operand.force != Operand::Force::none) {
      return fail("asm-force", operand.offset,
                  {.what = fmt::format("an offset of the {} always has 8 bits", target_.title()),
                   .hint = "leave out the < or >"});
    }
    if (operand.form != Form::none) operand.form = Form::offset16;
    return true;
  }
  const std::size_t base = name.size() == 1 ? kBases.find(name[0]) : std::string_view::npos;
  const bool pc = name == "PCR";
  if (base == std::string_view::npos && !pc) {
    return fail("asm-index", at_name,
                {.what = name.empty() ? "an index register is missing" : "this is no index register",
                 .expected = "X, Y, U, S or PCR",
                 .hint = name == "PC" ? "the distance from here to a label is written label,PCR" : "",
                 .fixes = without_blanks(in)});
  }
  if (pc) {
    if (operand.value < 0 || moves != 0) {
      return fail("asm-index", at_name, {.what = "PCR goes with an address", .expected = "address,PCR"});
    }
    if (operand.force == Operand::Force::in_postbyte) {
      return fail("asm-force", operand.offset,
                  {.what = "a distance from the program counter has 8 or 16 bits", .expected = "< or >"});
    }
    operand.form = Form::pc16;
    return true;
  }
  operand.base = static_cast<std::uint8_t>(base);
  if (moves != 0) {
    if (operand.form != Form::none) {
      return fail("asm-index", first,
                  {.what = "a register that moves takes no offset", .expected = ",R+ ,R++ ,-R or ,--R"});
    }
    operand.form = moves == 1    ? Form::increment1
                   : moves == 2  ? Form::increment2
                   : moves == -1 ? Form::decrement1
                                 : Form::decrement2;
    return true;
  }
  if (operand.value >= 0) {
    operand.form = Form::offset16;
    if (operand.indirect && operand.force == Operand::Force::in_postbyte) {
      return fail("asm-force", operand.offset,
                  {.what = "an indirect form has no five-bit offset", .expected = "< or >"});
    }
  }
  return true;
}

bool OperandParser::pair(Cursor& in, Operand& operand) {
  operand.kind = Operand::Kind::postbyte;
  unsigned codes[2];
  std::string names[2];
  for (int i = 0; i < 2; ++i) {
    const std::size_t first = in.at();
    names[i] = upper(in.word());
    codes[i] = 0;
    while (codes[i] < 16 && (names[i].empty() || pair_register(codes[i]) != names[i])) ++codes[i];
    if (codes[i] > 15) {
      return fail("asm-register-name", first,
                  {.what = "this is no register that can be moved", .expected = "A, B, CC, DP, D, X, Y, U, S or PC"});
    }
    if (i == 0) {
      if (!in.take(',')) {
        const std::size_t last = in.at();
        in.skip_blanks();
        in.take(',');
        in.skip_blanks();
        std::vector<Fix> fixes;
        if (is_register(Cursor(in).word())) fixes = {{last, in.at(), ","}};
        return fail(
            "asm-register-name", last,
            {.what = "a second register is missing", .expected = "a comma and a register", .fixes = std::move(fixes)});
      }
      in.skip_blanks();
    }
  }
  operand.postbyte = static_cast<std::uint8_t>(codes[0] << 4 | codes[1]);
  if (may_pair(operand.postbyte)) return true;
  return fail("asm-register-width", operand.offset,
              {.what = fmt::format("{} and {} differ in width", names[0], names[1]),
               .expected = "two of A, B, CC, DP (8 bits) or two of D, X, Y, U, S, PC (16 bits)"});
}

bool OperandParser::stack(Cursor& in, const Mnemonic& mnemonic, Operand& operand) {
  if (in.peek() == '#') return immediate(in, operand);
  operand.kind = Operand::Kind::postbyte;
  const std::string_view own = mnemonic.name.back() == 'S' ? "S" : "U";
  const std::string_view other = own == "S" ? "U" : "S";
  unsigned bits = 0;
  while (true) {
    const std::size_t first = in.at();
    const std::string name = upper(in.word());
    const unsigned bit = stack_bits(name, other);
    if (bit == 0) {
      return fail("asm-register-name", first,
                  {.what = name == own ? fmt::format("{} is the stack pointer that {} moves", own, mnemonic.name)
                                       : fmt::format("this is no register for {}", mnemonic.name),
                   .expected = fmt::format("PC, {}, Y, X, DP, B, A, D or CC", other)});
    }
    if ((bits & bit) != 0) {
      return fail("asm-register-twice", first, {.what = fmt::format("{} stands in the list already", name)});
    }
    bits |= bit;
    if (!in.take(',')) break;
    in.skip_blanks();
  }
  operand.postbyte = static_cast<std::uint8_t>(bits);
  return true;
}

}  // namespace prewire::assembler
