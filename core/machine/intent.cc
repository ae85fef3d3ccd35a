// What an instruction is about that reads what nobody has written, or tries where nobody answers.
#include <bit>
#include <charconv>
#include <string_view>

#include "machine/impl.h"
#include "machine/notation.h"

namespace prewire {

namespace {

/// Of `CMPA #$A5`.
std::optional<unsigned> value_in(std::string_view text) {
  const std::size_t at = text.find("#$");
  unsigned value = 0;
  if (at == std::string_view::npos) return std::nullopt;
  const auto parsed = std::from_chars(text.data() + at + 2, text.data() + text.size(), value, 16);
  return parsed.ec == std::errc{} ? std::optional(value) : std::nullopt;
}

/// Whether one would choose it for a mark: not what a counter or a flag is compared with.
bool distinctive(unsigned value, bool wide) { return value > 1 && value != (wide ? 0xFFFFU : 0xFFU); }

}  // namespace

std::uint16_t Machine::Impl::register_named(std::string_view name) const {
  const auto registers = cpu->registers();
  for (std::size_t i = 0; i < registers.size(); ++i) {
    if (registers[i].name == name) return cpu->get(i);
  }
  return 0;
}

/// RTI and PULS of a frame that the program has prepared, to begin a task: who sets its address need not set registers.
bool Machine::Impl::pulls_frame(std::string_view mnemonic, std::uint8_t post, std::uint16_t address) const {
  const std::uint16_t s = register_named("S");
  const bool mc6809 = cpu->type().starts_with("mc6809");
  unsigned pc_at = 0;  // of its high byte
  std::uint16_t first = s;
  if (mnemonic == "RTI") {
    first = static_cast<std::uint16_t>(mc6809 ? s : s + 1);
    pc_at = !mc6809 ? 5 : (bus.peek(first) & 0x80) != 0 ? 10 : 1;
    if (address == first) return false;                               // CC
    if (mc6809 && pc_at == 10 && address == first + 3) return false;  // DP, by which the task finds its data
  } else if (mnemonic == "PULS" && (post & 0x80) != 0) {
    pc_at = static_cast<unsigned>(std::popcount(post & 0x7FU) + std::popcount(post & 0x70U));
  } else {
    return false;
  }
  const auto known = [&](unsigned at) {
    const ByteUse use = bus.use(static_cast<std::uint16_t>(first + at));
    return use.written || use.loaded;
  };
  const auto at = static_cast<std::uint16_t>(address - first);
  return at < pc_at && known(pc_at) && known(pc_at + 1) && (mnemonic != "RTI" || known(0));
}

Intent Machine::Impl::intent(std::uint16_t address, bool second) const {
  const std::string_view type = cpu->type();
  const std::uint16_t pc = cpu->pc();
  const auto code = memory_at(pc);
  const Disassembly reading = disassemble(type, pc, code);
  const std::string_view name = mnemonic_of(reading.text);
  Intent intent;
  intent.modifies = is_one_of(name, {"NEG", "COM", "LSR", "ROR", "ASR", "ASL", "ROL", "DEC", "INC", "CLR"});
  intent.frame = pulls_frame(name, code[1], address);
  const bool jumps = outline(type, pc, code).flow != Flow::plain;
  intent.probes = !intent.modifies && !jumps && reading.text.find(',') != std::string::npos &&
                  !is_one_of(name, {"PSHS", "PULS", "PSHU", "PULU", "TFR", "EXG"});

  // Compared with what is in a register, or with a value behind it; either way a branch asks whether it is the same.
  const auto after = static_cast<std::uint16_t>(pc + reading.bytes);
  const auto asks = [&](std::uint16_t at) {
    return is_one_of(mnemonic_of(disassemble(type, at, memory_at(at)).text), {"BEQ", "BNE", "LBEQ", "LBNE"});
  };
  std::optional<unsigned> value;
  bool wide = false;
  if (name.starts_with("CMP") || name == "CPX") {
    const std::string_view reg = name.substr(name == "CPX" ? 2 : 3);
    wide = reg != "A" && reg != "B";
    if (asks(after)) value = reg == "D" ? register_named("A") << 8U | register_named("B") : register_named(reg);
  } else if (name.starts_with("LD")) {
    const std::string_view reg = name.substr(name.starts_with("LDA") && name.size() == 4 ? 3 : name == "LDAB" ? 3 : 2);
    const Disassembly next = disassemble(type, after, memory_at(after));
    const std::string_view then = mnemonic_of(next.text);
    wide = reg != "A" && reg != "B";
    const bool compares = (is_one_of(then.substr(0, 3), {"CMP", "EOR", "SUB"}) || then == "CPX") && then.ends_with(reg);
    if (compares && asks(static_cast<std::uint16_t>(after + next.bytes))) value = value_in(next.text);
  }
  if (value && distinctive(*value, wide)) {
    intent.mark = static_cast<std::uint8_t>(wide && !second ? *value >> 8 : *value);
  }
  return intent;
}

}  // namespace prewire
