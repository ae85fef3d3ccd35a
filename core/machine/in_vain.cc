// Reads whose byte the program throws away.
#include <fmt/format.h>

#include <algorithm>
#include <initializer_list>
#include <string_view>

#include "machine/impl.h"

namespace prewire {

namespace {

constexpr int kFar = 12;  // instructions to look at

bool one_of(std::string_view word, std::initializer_list<std::string_view> words) {
  return std::find(words.begin(), words.end(), word) != words.end();
}

struct Words {
  std::string_view mnemonic, operand;
};

Words words_of(std::string_view text) {
  const std::size_t blank = std::min(text.find(' '), text.size());
  return {text.substr(0, blank), text.substr(std::min(text.find_first_not_of(' ', blank), text.size()))};
}

/// Whether an instruction reads that accumulator.
bool uses(const Words& words, char accumulator) {
  const auto [mnemonic, operand] = words;
  if (one_of(mnemonic, {"ABA", "SBA", "CBA", "ABX", "MUL", "SEX", "SWI", "WAI", "STD", "ADDD", "SUBD", "CMPD"}))
    return true;
  if (one_of(mnemonic, {"TAB", "TAP", "DAA"})) return accumulator == 'A';
  if (mnemonic == "TBA") return accumulator == 'B';
  if (one_of(mnemonic, {"PSHS", "PSHU", "TFR", "EXG"})) {
    return operand.find(accumulator) != std::string_view::npos || operand.find('D') != std::string_view::npos;
  }
  if (operand.starts_with(accumulator) && operand.substr(1).starts_with(',')) return true;
  return mnemonic.size() >= 3 && mnemonic.back() == accumulator;
}

}  // namespace

bool Socket::read_in_vain() const {
  const Machine::Impl& machine = wiring_.machine;
  const std::string_view type = machine.cpu->type();
  std::uint16_t at = machine.cpu->pc();
  const auto next = [&] {
    Disassembly there = disassemble(type, at, machine.code_at(at));
    at = static_cast<std::uint16_t>(at + there.bytes);
    return there;
  };
  const Disassembly reading = next();
  const std::string_view mnemonic = words_of(reading.text).mnemonic;
  if (mnemonic == "CLR") return true;
  const bool flags = one_of(mnemonic, {"TST", "BITA", "BITB", "CMPA", "CMPB"});
  const bool load = one_of(mnemonic, {"LDAA", "LDAB", "LDA", "LDB"});
  if (!flags && !load) return false;
  const char accumulator = mnemonic.back();
  for (int i = 0; i < kFar; ++i) {
    const Flow flow = outline(type, at, machine.code_at(at)).flow;
    const Disassembly there = next();
    const Words words = words_of(there.text);
    if (flow == Flow::interrupt_return) return true;  // which brings back all registers
    if (flow == Flow::branch && i == 0) return false;
    if (flags) return true;  // nobody asks for them at once
    if (flow != Flow::plain) return false;
    const bool fresh = (one_of(words.mnemonic, {"LDAA", "LDAB", "LDA", "LDB", "CLRA", "CLRB", "PULA", "PULB"}) &&
                        words.mnemonic.back() == accumulator) ||
                       words.mnemonic == "LDD" ||
                       (words.mnemonic == "PULS" && words.operand.find(accumulator) != std::string_view::npos) ||
                       (words.mnemonic == "TAB" && accumulator == 'B') ||
                       (words.mnemonic == "TBA" && accumulator == 'A');
    // `LDAA A,X` reads what it is about to change.
    if (fresh && !words.operand.starts_with(fmt::format("{},", accumulator))) return true;
    if (uses(words, accumulator)) return false;
  }
  return false;
}

}  // namespace prewire
