// Reads whose byte the program throws away.
#include <fmt/format.h>

#include <algorithm>
#include <string_view>
#include <vector>

#include "machine/impl.h"
#include "machine/inside.h"
#include "machine/notation.h"
#include "prewire/liveness.h"

namespace prewire {

namespace {

constexpr int kFar = 48;  // instructions to look at

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
  if (is_one_of(mnemonic, {"ABA", "SBA", "CBA", "ABX", "MUL", "SEX", "SWI", "WAI", "STD", "ADDD", "SUBD", "CMPD"}))
    return true;
  if (is_one_of(mnemonic, {"TAB", "TAP", "DAA"})) return accumulator == 'A';
  if (mnemonic == "TBA") return accumulator == 'B';
  if (is_one_of(mnemonic, {"PSHS", "PSHU", "TFR", "EXG"})) {
    return operand.find(accumulator) != std::string_view::npos || operand.find('D') != std::string_view::npos;
  }
  if (operand.starts_with(accumulator) && operand.substr(1).starts_with(',')) return true;
  return mnemonic.size() >= 3 && mnemonic.back() == accumulator;
}

/// Follows a program that has just read a byte, without running it.
class Reader {
 public:
  Reader(const Machine::Impl& machine, char accumulator) : machine_(machine), accumulator_(accumulator) {}

  /// Whether it is overwritten, and not only left alone for ever.
  bool overwritten() const { return overwritten_; }

  /// Whether nothing looks at the byte, on any way from `at`, before it is overwritten.
  bool in_vain(std::uint16_t at, std::vector<std::uint16_t> calls) {
    while (std::find(seen_.begin(), seen_.end(), at) == seen_.end()) {
      if (static_cast<int>(seen_.size()) == kFar) return false;
      seen_.push_back(at);
      const auto code = machine_.memory_at(at);
      const Outline there = outline(machine_.cpu->type(), at, code);
      const ByteUse use = machine_.bus.use(at);
      if (!there.defined || !(use.loaded || use.written)) return false;  // no program
      const auto next = static_cast<std::uint16_t>(at + there.bytes);
      switch (there.flow) {
        case Flow::plain: {
          const Disassembly disassembly = disassemble(machine_.cpu->type(), at, code);
          const Words words = words_of(disassembly.text);
          if (overwrites(words)) return overwritten_ = true;
          if (uses(words, accumulator_)) return false;
          at = next;
          break;
        }
        case Flow::interrupt_return: return overwritten_ = true;  // which brings back all registers
        case Flow::wait: at = next; break;                        // and what is stacked comes back
        case Flow::branch:
          if (!there.target || !in_vain(*there.target, calls)) return false;
          at = next;
          break;
        case Flow::call: calls.push_back(next); [[fallthrough]];
        case Flow::jump:
          if (!there.target) return false;
          at = *there.target;
          break;
        case Flow::ret:
          if (calls.empty()) return false;
          at = calls.back();
          calls.pop_back();
          break;
        case Flow::software_interrupt: return false;
      }
    }
    return true;  // round and round, and nothing has looked
  }

 private:
  bool overwrites(const Words& words) const {
    const auto [mnemonic, operand] = words;
    const bool fresh = (is_one_of(mnemonic, {"LDAA", "LDAB", "LDA", "LDB", "CLRA", "CLRB", "PULA", "PULB"}) &&
                        mnemonic.back() == accumulator_) ||
                       mnemonic == "LDD" ||
                       (mnemonic == "PULS" && operand.find(accumulator_) != std::string_view::npos) ||
                       (mnemonic == "TAB" && accumulator_ == 'B') || (mnemonic == "TBA" && accumulator_ == 'A');
    // `LDAA A,X` reads what it is about to change.
    return fresh && !operand.starts_with(fmt::format("{},", accumulator_));
  }

  const Machine::Impl& machine_;
  char accumulator_;
  std::vector<std::uint16_t> seen_;
  bool overwritten_ = false;
};

}  // namespace

bool unread_until_overwritten(const Machine& machine, std::uint16_t address, char accumulator) {
  return Reader(Inside::of(machine), accumulator).in_vain(address, {});
}

bool Socket::read_in_vain() const {
  const Machine::Impl& machine = wiring_.machine;
  const std::string_view type = machine.cpu->type();
  const std::uint16_t pc = machine.cpu->pc();
  const Disassembly reading = disassemble(type, pc, machine.memory_at(pc));
  const std::string_view mnemonic = mnemonic_of(reading.text);
  if (mnemonic == "CLR") return true;
  const bool flags = is_one_of(mnemonic, {"TST", "BITA", "BITB", "CMPA", "CMPB"});
  const bool load = is_one_of(mnemonic, {"LDAA", "LDAB", "LDA", "LDB"});
  if (!flags && !load) return false;
  const auto next = static_cast<std::uint16_t>(pc + reading.bytes);
  // A branch right behind it goes by the byte. Nobody asks for its flags later.
  if (outline(type, next, machine.memory_at(next)).flow == Flow::branch) return false;
  if (flags) return true;
  Reader reader(machine, mnemonic.back());
  return reader.in_vain(next, {}) && reader.overwritten();
}

}  // namespace prewire
