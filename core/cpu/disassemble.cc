// One instruction in the trade's notation.
#include <fmt/format.h>

#include <algorithm>

#include "cpu/cpus.h"
#include "cpu/instruction.h"

namespace prewire {

namespace {

constexpr std::string_view kBases = "XYUS";

/// The bytes of an instruction, read one after the other.
class Reader {
 public:
  explicit Reader(std::span<const std::uint8_t> code) : code_(code) {}

  unsigned byte() {
    const unsigned value = at_ < code_.size() ? code_[at_] : 0;
    ++at_;
    return value;
  }
  unsigned word() {
    const unsigned high = byte();
    return high << 8 | byte();
  }
  int signed_byte() { return static_cast<std::int8_t>(byte()); }
  int taken() const { return static_cast<int>(at_); }

 private:
  std::span<const std::uint8_t> code_;
  std::size_t at_ = 0;
};

std::string offset(int value, int digits) {
  return fmt::format("{}${:0{}X}", value < 0 ? "-" : "", value < 0 ? -value : value, digits);
}

/// `<<`, `<` and `>` say that the offset has five, eight or sixteen bits where a smaller form could hold it.
std::string indexed(Reader& code, const Postbyte& post, unsigned byte, unsigned address) {
  using Form = Postbyte::Form;
  const char base = kBases[static_cast<std::size_t>(post.base)];
  const auto after = [&] { return (address + static_cast<unsigned>(code.taken())) & 0xFFFF; };
  std::string text;
  switch (post.form) {
    case Form::offset5: {
      const int value = static_cast<int>((byte & 0x1F) ^ 0x10) - 0x10;
      text = fmt::format("{}{},{}", value == 0 ? "<<" : "", offset(value, 2), base);
      break;
    }
    case Form::increment1: text = fmt::format(",{}+", base); break;
    case Form::increment2: text = fmt::format(",{}++", base); break;
    case Form::decrement1: text = fmt::format(",-{}", base); break;
    case Form::decrement2: text = fmt::format(",--{}", base); break;
    case Form::none: text = fmt::format(",{}", base); break;
    case Form::accumulator_b: text = fmt::format("B,{}", base); break;
    case Form::accumulator_a: text = fmt::format("A,{}", base); break;
    case Form::accumulator_d: text = fmt::format("D,{}", base); break;
    case Form::offset8: {
      const int value = code.signed_byte();
      // Indirect has no five-bit form.
      const bool small = !post.indirect ? value >= -16 && value <= 15 : value == 0;
      text = fmt::format("{}{},{}", small ? "<" : "", offset(value, 2), base);
      break;
    }
    case Form::offset16: {
      const int value = static_cast<std::int16_t>(code.word());
      text = fmt::format("{}{},{}", value >= -128 && value <= 127 ? ">" : "", offset(value, 4), base);
      break;
    }
    case Form::pc8: {
      const int value = code.signed_byte();
      text = fmt::format("<${:04X},PCR", (after() + static_cast<unsigned>(value)) & 0xFFFF);
      break;
    }
    case Form::pc16: {
      const unsigned value = code.word();
      text = fmt::format(">${:04X},PCR", (after() + value) & 0xFFFF);
      break;
    }
    case Form::extended: text = fmt::format("${:04X}", code.word()); break;
    case Form::illegal: break;
  }
  return post.indirect ? "[" + text + "]" : text;
}

std::string stacked(const Instruction& instruction, unsigned byte) {
  // The stack pointer in the list is the one that is not being used.
  const std::string_view other = instruction.mnemonic.back() == 'S' ? "U" : "S";
  const std::string_view names[8] = {"CC", "A", "B", "DP", "X", "Y", other, "PC"};
  std::string text;
  for (int bit = 0; bit < 8; ++bit) {
    if (!(byte >> bit & 1)) continue;
    if (!text.empty()) text += ',';
    text += names[bit];
  }
  return text.empty() ? "#$00" : text;
}

bool is_prefix(const CpuType& cpu, unsigned byte) {
  const auto rows = cpu.instructions->rows();
  return std::any_of(rows.begin(), rows.end(), [&](const Instruction& row) { return byte != 0 && row.prefix == byte; });
}

bool has_direct(const CpuType& cpu, const Instruction& instruction) {
  for (const Instruction& row : cpu.instructions->rows()) {
    if (row.mnemonic == instruction.mnemonic && row.mode == Mode::direct) return true;
  }
  return false;
}

}  // namespace

Disassembly disassemble(std::string_view type, std::uint16_t address, std::span<const std::uint8_t> code) {
  const CpuType* cpu = find_cpu(type);
  Reader reader(code);
  const unsigned first = reader.byte();
  const auto undefined = [&](int bytes) { return Disassembly{fmt::format("FCB ${:02X}", first), 1, 0, false, bytes}; };
  const Instruction* instruction = cpu == nullptr ? nullptr : cpu->instructions->find(code);
  if (instruction == nullptr) return undefined(cpu != nullptr && is_prefix(*cpu, first) ? 2 : 1);
  if (instruction->prefix != 0) reader.byte();

  std::string operand;
  int extra_bytes = 0;
  switch (instruction->mode) {
    case Mode::inherent: break;
    case Mode::imm8: operand = fmt::format("#${:02X}", reader.byte()); break;
    case Mode::imm16: operand = fmt::format("#${:04X}", reader.word()); break;
    case Mode::direct: operand = fmt::format("${:02X}", reader.byte()); break;
    case Mode::offset: operand = fmt::format("${:02X},X", reader.byte()); break;
    case Mode::indexed: {
      const unsigned byte = reader.byte();
      const Postbyte post = postbyte(static_cast<std::uint8_t>(byte));
      if (post.form == Postbyte::Form::illegal) return undefined(reader.taken());
      operand = indexed(reader, post, byte, address);
      extra_bytes = post.bytes;
      break;
    }
    case Mode::extended: {
      // `>` where an assembler would choose direct addressing.
      const unsigned where = reader.word();
      operand = fmt::format("{}${:04X}", where < 0x100 && has_direct(*cpu, *instruction) ? ">" : "", where);
      break;
    }
    case Mode::relative: {
      const int distance = reader.signed_byte();
      operand = fmt::format("${:04X}", (address + reader.taken() + distance) & 0xFFFF);
      break;
    }
    case Mode::relative16: {
      const auto distance = static_cast<int>(reader.word());
      operand = fmt::format("${:04X}", (address + reader.taken() + distance) & 0xFFFF);
      break;
    }
    case Mode::pair: {
      const auto byte = static_cast<std::uint8_t>(reader.byte());
      if (!may_pair(byte)) return undefined(reader.taken());
      operand = fmt::format("{},{}", pair_register(byte >> 4), pair_register(byte & 15));
      break;
    }
    case Mode::stack: operand = stacked(*instruction, reader.byte()); break;
  }
  std::string text(instruction->mnemonic);
  if (!operand.empty()) text += ' ' + operand;
  return {text, instruction->bytes + extra_bytes, least_cycles(*instruction, code), true, 0};
}

}  // namespace prewire
