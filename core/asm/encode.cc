#include "asm/encode.h"

#include <fmt/format.h>

namespace prewire::assembler {

namespace {

using Form = Postbyte::Form;

std::int16_t wrapped(std::int64_t value) { return static_cast<std::int16_t>(static_cast<std::uint16_t>(value)); }

/// The form may become longer.
bool flexible(const Statement& statement) {
  const Operand& operand = statement.operand;
  if (operand.force != Operand::Force::none) return false;
  if (operand.kind == Operand::Kind::address) {
    return (*statement.mnemonic)[Mode::direct] != nullptr && (*statement.mnemonic)[Mode::extended] != nullptr;
  }
  return operand.kind == Operand::Kind::indexed && statement.row->mode == Mode::indexed &&
         (operand.form == Form::offset16 || operand.form == Form::pc16);
}

void set_width(Statement& statement, int width) {
  statement.width = width;
  if (statement.operand.kind != Operand::Kind::address) return;
  const Mnemonic& mnemonic = *statement.mnemonic;
  if (mnemonic[Mode::direct] != nullptr && mnemonic[Mode::extended] != nullptr) {
    statement.row = mnemonic[width == 1 ? Mode::direct : Mode::extended];
  }
}

/// Bytes that the operand needs.
int needed(const Statement& statement, std::int64_t value, int direct_page) {
  const Operand& operand = statement.operand;
  if (operand.kind == Operand::Kind::address) return value >> 8 == direct_page ? 1 : 2;
  if (operand.form == Form::pc16) {
    const std::int16_t distance = wrapped(value - (statement.address + statement.row->bytes + 1));
    return distance >= -128 && distance <= 127 ? 1 : 2;
  }
  const std::int16_t offset = wrapped(value);
  if (operand.indirect ? offset == 0 : offset >= -16 && offset <= 15) return 0;
  return offset >= -128 && offset <= 127 ? 1 : 2;
}

/// Low nibble of the postbyte.
unsigned code_of(Form form) {
  switch (form) {
    case Form::increment1: return 0x0;
    case Form::increment2: return 0x1;
    case Form::decrement1: return 0x2;
    case Form::decrement2: return 0x3;
    case Form::none: return 0x4;
    case Form::accumulator_b: return 0x5;
    case Form::accumulator_a: return 0x6;
    case Form::offset8: return 0x8;
    case Form::offset16: return 0x9;
    case Form::accumulator_d: return 0xB;
    case Form::pc8: return 0xC;
    case Form::pc16: return 0xD;
    default: return 0xF;
  }
}

void put_word(Code& bytes, std::int64_t value) {
  bytes.push_back(static_cast<std::uint8_t>(value >> 8));
  bytes.push_back(static_cast<std::uint8_t>(value));
}

}  // namespace

void Encoder::shorten(Statement& statement) {
  const Mnemonic& mnemonic = *statement.mnemonic;
  const auto first_of = [&](std::initializer_list<Mode> modes) {
    const Instruction* row = nullptr;
    for (const Mode mode : modes) {
      if (row == nullptr) row = mnemonic[mode];
    }
    return row;
  };
  const Operand& operand = statement.operand;
  using Force = Operand::Force;
  switch (operand.kind) {
    case Operand::Kind::none: statement.row = mnemonic[Mode::inherent]; break;
    case Operand::Kind::immediate: statement.row = first_of({Mode::imm8, Mode::imm16, Mode::stack}); break;
    case Operand::Kind::postbyte: statement.row = first_of({Mode::pair, Mode::stack}); break;
    case Operand::Kind::address:
      statement.row = first_of({Mode::relative, Mode::relative16, Mode::direct, Mode::extended});
      set_width(statement, operand.force == Force::word ? 2 : 1);
      break;
    case Operand::Kind::indexed:
      statement.row = first_of({Mode::offset, Mode::indexed});
      if (operand.form == Form::extended || operand.force == Force::word) {
        statement.width = operand.form == Form::none ? 0 : 2;
      } else {
        statement.width = operand.force == Force::byte || operand.form == Form::pc16 ? 1 : 0;
      }
      break;
  }
}

void Encoder::grow(Statement& statement, const Value& value, int direct_page) {
  if (!value.known || !flexible(statement)) return;
  const int width = needed(statement, value.number, direct_page);
  if (width > statement.width) set_width(statement, width);
}

void Encoder::widen(Statement& statement) {
  if (flexible(statement)) set_width(statement, 2);
}

std::uint32_t Encoder::size(const Statement& statement) {
  const int more = statement.row->mode == Mode::indexed ? statement.width : 0;
  return static_cast<std::uint32_t>(statement.row->bytes + more);
}

bool Encoder::fits(const Statement& statement, std::int64_t value, std::int64_t least, std::int64_t most,
                   const char* what, const char* hint) {
  if (value >= least && value <= most) return true;
  program_.faults.fault(
      "asm-range", {statement.line, statement.operand.offset},
      {.what = what, .expected = fmt::format("{} to {}", least, most), .found = shown_value(value), .hint = hint});
  return false;
}

Code Encoder::encode(const Statement& statement, const Value& value, int direct_page) {
  const Operand& operand = statement.operand;
  Code bytes;
  if (statement.row->prefix != 0) bytes.push_back(statement.row->prefix);
  bytes.push_back(statement.row->opcode);
  const std::int64_t number = value.number;
  const At at{statement.line, operand.offset};
  switch (statement.row->mode) {
    case Mode::inherent: break;
    case Mode::pair: bytes.push_back(operand.postbyte); break;
    case Mode::stack:
      if (operand.kind == Operand::Kind::immediate) {
        if (fits(statement, number, 0, 255, "the list of registers has 8 bits")) {
          bytes.push_back(static_cast<std::uint8_t>(number));
        }
      } else {
        bytes.push_back(operand.postbyte);
      }
      break;
    case Mode::imm8:
      if (fits(statement, number, -128, 255, "the number does not fit into 8 bits",
               value.moves ? "if the content of that address is meant, leave out the #" : "")) {
        bytes.push_back(static_cast<std::uint8_t>(number));
      }
      break;
    case Mode::imm16:
      if (fits(statement, number, -32768, 65535, "the number does not fit into 16 bits")) put_word(bytes, number);
      break;
    case Mode::direct:
      if (operand.force != Operand::Force::none && number >> 8 != direct_page && (number < 0 || number > 255)) {
        program_.faults.fault("asm-direct", at,
                              {.what = "direct addressing does not reach this address",
                               .expected = fmt::format("${0:02X}00 to ${0:02X}FF", direct_page),
                               .found = fmt::format("${:04X}", static_cast<std::uint32_t>(number)),
                               .hint = "leave out the <"});
      }
      bytes.push_back(static_cast<std::uint8_t>(number));
      break;
    case Mode::extended:
      if (operand.force == Operand::Force::byte) {
        program_.faults.fault(
            "asm-force", at,
            {.what = fmt::format("{} has no direct addressing", statement.mnemonic->name), .hint = "leave out the <"});
      } else if (fits(statement, number, 0, 65535, "this is no address")) {
        put_word(bytes, number);
      }
      break;
    case Mode::offset:
      if (fits(statement, number, 0, 255, "the offset does not fit", "it is added to X, and has no sign")) {
        bytes.push_back(static_cast<std::uint8_t>(number));
      }
      break;
    case Mode::indexed: indexed(statement, value, bytes); break;
    case Mode::relative:
    case Mode::relative16: branch(statement, value, bytes); break;
  }
  return bytes;
}

void Encoder::indexed(const Statement& statement, const Value& value, Code& bytes) {
  const Operand& operand = statement.operand;
  const unsigned base = static_cast<unsigned>(operand.base) << 5;
  const unsigned indirect = operand.indirect ? 0x10 : 0;
  const auto postbyte = [&](Form form) {
    bytes.push_back(static_cast<std::uint8_t>(0x80 | base | indirect | code_of(form)));
  };
  std::int64_t number = value.number;
  switch (operand.form) {
    case Form::extended:
      if (!fits(statement, number, 0, 65535, "this is no address")) return;
      postbyte(Form::extended);
      put_word(bytes, number);
      return;
    case Form::pc16:
      if (!fits(statement, number, 0, 65535, "this is no address")) return;
      number = wrapped(number - (statement.address + size(statement)));
      if (statement.width == 1 &&
          !fits(statement, number, -128, 127, "the distance does not fit into 8 bits", "leave out the <")) {
        return;
      }
      postbyte(statement.width == 1 ? Form::pc8 : Form::pc16);
      break;
    case Form::offset16:
      if (!fits(statement, number, -32768, 65535, "the offset does not fit into 16 bits")) return;
      number = wrapped(number);
      if (statement.width == 0) {
        if (number == 0 && operand.force == Operand::Force::none) return postbyte(Form::none);
        if (!fits(statement, number, -16, 15, "the offset does not fit into 5 bits", "leave out the <<")) return;
        bytes.push_back(static_cast<std::uint8_t>(base | (static_cast<unsigned>(number) & 0x1F)));
        return;
      }
      if (statement.width == 1 &&
          !fits(statement, number, -128, 127, "the offset does not fit into 8 bits", "leave out the <")) {
        return;
      }
      postbyte(statement.width == 1 ? Form::offset8 : Form::offset16);
      break;
    default: return postbyte(operand.form);
  }
  if (statement.width == 1) {
    bytes.push_back(static_cast<std::uint8_t>(number));
  } else {
    put_word(bytes, number);
  }
}

void Encoder::branch(const Statement& statement, const Value& value, Code& bytes) {
  if (!fits(statement, value.number, 0, 65535, "this is no address")) return;
  const std::int16_t distance = wrapped(value.number - (statement.address + size(statement)));
  if (statement.row->mode == Mode::relative16) return put_word(bytes, distance);
  if (distance >= -128 && distance <= 127) {
    bytes.push_back(static_cast<std::uint8_t>(distance));
    return;
  }
  const std::string name(statement.mnemonic->name);
  const bool long_form = program_.target->find_mnemonic("L" + name) != nullptr;
  program_.faults.fault("asm-branch-range", {statement.line, statement.operand.offset},
                        {.what = "the branch does not reach its target",
                         .expected = "-128 to +127 bytes from the instruction behind the branch",
                         .found = fmt::format("{:+}, to ${:04X}", distance, static_cast<std::uint32_t>(value.number)),
                         .hint = long_form       ? fmt::format("L{} reaches every address", name)
                                 : name == "BRA" ? "JMP reaches every address"
                                 : name == "BSR" ? "JSR reaches every address"
                                                 : "branch the other way around a JMP"});
}

}  // namespace prewire::assembler
