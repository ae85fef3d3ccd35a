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

/// Whether the instruction at `pc` takes a byte of memory to tell a warm start from a cold one: by its complement in
/// another byte, or as a part of a sum whose value is asked for once it is complete.
bool Machine::Impl::verifies(std::uint16_t pc) const {
  const std::string_view type = cpu->type();
  struct Line {
    std::string text;
    std::uint16_t next;
    std::string_view name() const { return mnemonic_of(text); }
    bool in_memory() const { return text.find('#') == std::string::npos && text.find(' ') != std::string::npos; }
  };
  const auto line = [&](std::uint16_t at) {
    const Disassembly reading = disassemble(type, at, memory_at(at));
    return Line{reading.text, static_cast<std::uint16_t>(at + reading.bytes)};
  };
  const auto is = [](std::string_view name, char reg, std::initializer_list<std::string_view> operations) {
    return name.size() > 1 && name.back() == reg && is_one_of(name.substr(0, name.size() - 1), operations);
  };
  const auto equality = [](std::string_view name) { return is_one_of(name, {"BEQ", "BNE", "LBEQ", "LBNE"}); };
  const Line own = line(pc);
  const char reg = own.name().empty() ? ' ' : own.name().back();
  if ((reg != 'A' && reg != 'B') || !own.in_memory()) return false;
  const auto loads = [&](std::string_view name) { return is(name, reg, {"LDA", "LD"}); };
  // LDAA MARK, COMA, CMPA OTHER, BEQ; or LDAA MARK, EORA OTHER, COMA, BEQ.
  const auto compares = [&](const Line& second) {
    if (!is(second.name(), reg, {"CMP", "EOR", "SUB", "ADD"}) || !second.in_memory()) return false;
    const Line third = line(second.next);
    return equality(third.name()) ||
           (is(third.name(), reg, {"COM", "INC", "CMP"}) && equality(line(third.next).name()));
  };
  if (loads(own.name())) {
    const Line second = line(own.next);
    const bool complements = is(second.name(), reg, {"COM"});
    if (complements) return compares(line(second.next));
    return !is(second.name(), reg, {"CMP", "SUB"}) && compares(second);
  }
  if (compares(own)) {
    // What stands before it? A load takes two or three bytes.
    for (const std::uint16_t complement : {std::uint16_t{1}, std::uint16_t{0}}) {
      const auto end = static_cast<std::uint16_t>(pc - complement);
      if (complement != 0 && !is(line(end).name(), reg, {"COM"})) continue;
      if (complement == 0 && is(own.name(), reg, {"CMP", "SUB"})) continue;
      for (const std::uint16_t bytes : {std::uint16_t{2}, std::uint16_t{3}}) {
        const Line before = line(static_cast<std::uint16_t>(end - bytes));
        if (before.next == end && loads(before.name()) && before.in_memory()) return true;
      }
    }
    return false;
  }
  if (!is(own.name(), reg, {"ADD", "ADC", "EOR"}) || own.text.find(',') == std::string::npos) return false;
  // Round to the sum again, and behind the loop somebody asks for its value.
  constexpr int kLoop = 6;
  Line at = own;
  for (int i = 0; i < kLoop; ++i) {
    const auto place = at.next;
    const Outline there = outline(type, place, memory_at(place));
    at = line(place);
    if (there.flow == Flow::plain) continue;
    if (there.flow != Flow::branch || there.target != pc) return false;
    Line asks = line(at.next);
    if (is(asks.name(), reg, {"TST", "CMP", "COM", "INC", "SUB", "EOR"})) asks = line(asks.next);
    return equality(asks.name());
  }
  return false;
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
  intent.verifies = verifies(pc);
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
