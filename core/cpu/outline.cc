// What an instruction does to the course of a program, from its row and its bytes.
#include "cpu/cpus.h"
#include "cpu/instruction.h"

namespace prewire {

namespace {

std::uint8_t byte_at(std::span<const std::uint8_t> code, std::size_t at) {
  return at < code.size() ? code[at] : std::uint8_t{0};
}

std::uint16_t word_at(std::span<const std::uint8_t> code, std::size_t at) {
  return static_cast<std::uint16_t>(byte_at(code, at) << 8 | byte_at(code, at + 1));
}

/// Of the first byte after the opcode.
std::size_t operand_at(const Instruction& instruction) { return instruction.prefix != 0 ? 2 : 1; }

bool is_program_counter(unsigned register_code) { return pair_register(register_code) == "PC"; }

bool legal(const Instruction& instruction, std::uint8_t second) {
  if (instruction.mode == Mode::indexed) return postbyte(second).form != Postbyte::Form::illegal;
  return instruction.mode != Mode::pair || may_pair(second);
}

/// Where the operand points, if it says so by itself. Direct addressing depends on a register on some processors.
std::optional<std::uint16_t> place(const Instruction& instruction, std::uint16_t address,
                                   std::span<const std::uint8_t> code) {
  const std::size_t at = operand_at(instruction);
  const auto from_next = [&](int distance) {
    return static_cast<std::uint16_t>(address + length(instruction, code) + distance);
  };
  switch (instruction.mode) {
    case Mode::extended: return word_at(code, at);
    case Mode::relative: return from_next(static_cast<std::int8_t>(byte_at(code, at)));
    case Mode::relative16: return from_next(word_at(code, at));
    case Mode::indexed: {
      const Postbyte post = postbyte(byte_at(code, at));
      if (post.indirect) return std::nullopt;
      if (post.form == Postbyte::Form::pc8) return from_next(static_cast<std::int8_t>(byte_at(code, at + 1)));
      if (post.form == Postbyte::Form::pc16) return from_next(word_at(code, at + 1));
      return std::nullopt;
    }
    default: return std::nullopt;
  }
}

}  // namespace

std::string_view to_string(Flow flow) {
  switch (flow) {
    case Flow::plain: return "plain";
    case Flow::branch: return "branch";
    case Flow::jump: return "jump";
    case Flow::call: return "call";
    case Flow::ret: return "return";
    case Flow::interrupt_return: return "interrupt return";
    case Flow::software_interrupt: return "software interrupt";
    case Flow::wait: return "wait";
  }
  return "";
}

int length(const Instruction& instruction, std::span<const std::uint8_t> code) {
  if (instruction.mode != Mode::indexed) return instruction.bytes;
  return instruction.bytes + postbyte(byte_at(code, operand_at(instruction))).bytes;
}

Flow flow_of(const Instruction& instruction, std::span<const std::uint8_t> code) {
  const std::string_view name = instruction.mnemonic;
  const std::uint8_t second = byte_at(code, operand_at(instruction));
  switch (instruction.mode) {
    case Mode::relative:
    case Mode::relative16:
      if (name == "BSR" || name == "LBSR") return Flow::call;
      if (name == "BRA" || name == "LBRA") return Flow::jump;
      return name == "BRN" || name == "LBRN" ? Flow::plain : Flow::branch;
    case Mode::pair:
      if (is_program_counter(second & 15U)) return Flow::jump;
      return name == "EXG" && is_program_counter(second >> 4U) ? Flow::jump : Flow::plain;
    case Mode::stack:
      if (!(second & 0x80) || name.starts_with("PSH")) return Flow::plain;
      return name == "PULS" ? Flow::ret : Flow::jump;  // U holds no return addresses of its own
    case Mode::inherent:
    case Mode::imm8:
      if (name == "RTS") return Flow::ret;
      if (name == "RTI") return Flow::interrupt_return;
      if (name == "WAI" || name == "CWAI" || name == "SYNC") return Flow::wait;
      return name.starts_with("SWI") ? Flow::software_interrupt : Flow::plain;
    default: return name == "JMP" ? Flow::jump : name == "JSR" ? Flow::call : Flow::plain;
  }
}

Outline outline(std::string_view type, std::uint16_t address, std::span<const std::uint8_t> code) {
  const CpuType* cpu = find_cpu(type);
  const Instruction* instruction = cpu == nullptr ? nullptr : cpu->instructions->find(code);
  if (instruction == nullptr || !legal(*instruction, byte_at(code, operand_at(*instruction)))) {
    return {.defined = false};
  }
  Outline result{.flow = flow_of(*instruction, code), .bytes = length(*instruction, code)};
  if (result.flow == Flow::branch || result.flow == Flow::jump || result.flow == Flow::call) {
    result.target = place(*instruction, address, code);
  }
  return result;
}

}  // namespace prewire
