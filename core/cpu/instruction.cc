#include "cpu/instruction.h"

#include <array>
#include <bitset>

namespace prewire {

namespace {

int page(std::uint8_t prefix) { return prefix == 0 ? 0 : prefix == 0x10 ? 1 : 2; }

constexpr Instruction kMc6800[] = {
#define OP(opcode, mnemonic, mode, bytes, cycles, group, ...) \
  Instruction{#mnemonic, Mode::mode, 0, opcode, bytes, cycles, #group},
#include "cpu/mc6800.def"
#undef OP
};

constexpr std::uint8_t prefix_of(int page) {
  return page == 1 ? std::uint8_t{0} : page == 2 ? std::uint8_t{0x10} : std::uint8_t{0x11};
}

constexpr Instruction kMc6809[] = {
#define OP(page, opcode, mnemonic, mode, bytes, cycles, group, ...) \
  Instruction{#mnemonic, Mode::mode, prefix_of(page), opcode, bytes, cycles, #group},
#include "cpu/mc6809.def"
#undef OP
};

}  // namespace

InstructionTable::InstructionTable(std::span<const Instruction> rows) : rows_(rows) {
  for (auto& codes : index_) {
    for (std::int16_t& row : codes) row = -1;
  }
  for (std::size_t i = 0; i < rows.size(); ++i) {
    index_[page(rows[i].prefix)][rows[i].opcode] = static_cast<std::int16_t>(i);
  }
}

const Instruction* InstructionTable::find(std::uint8_t prefix, std::uint8_t opcode) const {
  const int row = index_[page(prefix)][opcode];
  return row < 0 ? nullptr : &rows_[static_cast<std::size_t>(row)];
}

const Instruction* InstructionTable::find(std::span<const std::uint8_t> code) const {
  const auto byte = [&](std::size_t i) { return i < code.size() ? code[i] : std::uint8_t{0}; };
  if (const Instruction* instruction = find(0, byte(0))) return instruction;
  return byte(0) == 0x10 || byte(0) == 0x11 ? find(byte(0), byte(1)) : nullptr;
}

Postbyte postbyte(std::uint8_t byte) {
  using Form = Postbyte::Form;
  Postbyte result;
  result.base = byte >> 5 & 3;
  if (!(byte & 0x80)) {
    result.form = Form::offset5;
    result.cycles = 1;
    return result;
  }
  struct Row {
    Form form;
    int bytes, cycles;
    bool direct, indirect;  // allowed
  };
  static constexpr std::array<Row, 16> kRows{{
      {Form::increment1, 0, 2, true, false},
      {Form::increment2, 0, 3, true, true},
      {Form::decrement1, 0, 2, true, false},
      {Form::decrement2, 0, 3, true, true},
      {Form::none, 0, 0, true, true},
      {Form::accumulator_b, 0, 1, true, true},
      {Form::accumulator_a, 0, 1, true, true},
      {Form::illegal, 0, 0, false, false},
      {Form::offset8, 1, 1, true, true},
      {Form::offset16, 2, 4, true, true},
      {Form::illegal, 0, 0, false, false},
      {Form::accumulator_d, 0, 4, true, true},
      {Form::pc8, 1, 1, true, true},
      {Form::pc16, 2, 5, true, true},
      {Form::illegal, 0, 0, false, false},
      {Form::extended, 2, 2, false, true},
  }};
  const Row& row = kRows[byte & 0x0F];
  result.indirect = (byte & 0x10) != 0;
  const bool no_base = row.form == Form::extended && byte != 0x9F;
  if (no_base || !(result.indirect ? row.indirect : row.direct)) return result;
  result.form = row.form;
  result.bytes = row.bytes;
  result.cycles = row.cycles + (result.indirect ? 3 : 0);
  return result;
}

std::string_view pair_register(unsigned code) {
  static constexpr std::array<std::string_view, 16> kNames{"D", "X", "Y",  "U",  "S", "PC", "", "",
                                                           "A", "B", "CC", "DP", "",  "",   "", ""};
  return kNames[code & 15];
}

bool may_pair(std::uint8_t postbyte) {
  const unsigned first = postbyte >> 4, second = postbyte & 15;
  return !pair_register(first).empty() && !pair_register(second).empty() && (first < 8) == (second < 8);
}

int least_cycles(const Instruction& instruction, std::span<const std::uint8_t> code) {
  const std::size_t at = instruction.prefix != 0 ? 2 : 1;
  const std::uint8_t second = at < code.size() ? code[at] : std::uint8_t{0};
  if (instruction.mode == Mode::indexed) return instruction.cycles + postbyte(second).cycles;
  if (instruction.mode != Mode::stack) return instruction.cycles;
  // One for each byte; registers in the upper half have two.
  const std::bitset<8> all(second), words(second & 0xF0U);
  return instruction.cycles + static_cast<int>(all.count() + words.count());
}

const InstructionTable& mc6800_instructions() {
  static const InstructionTable kTable(kMc6800);
  return kTable;
}

const InstructionTable& mc6809_instructions() {
  static const InstructionTable kTable(kMc6809);
  return kTable;
}

}  // namespace prewire
