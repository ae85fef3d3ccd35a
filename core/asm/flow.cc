#include "asm/flow.h"

#include <fmt/format.h>

#include <algorithm>

#include "asm/encode.h"
#include "asm/line.h"
#include "asm/statements.h"
#include "prewire/cpu.h"

namespace prewire::assembler {

namespace {

using Form = Postbyte::Form;

const InstructionTable& table_of(const Target& target) {
  return target.family() == Target::Family::mc6800 ? mc6800_instructions() : mc6809_instructions();
}

bool any_of(std::string_view name, std::initializer_list<std::string_view> names) {
  return std::find(names.begin(), names.end(), name) != names.end();
}

/// What is loaded into these or compared with them is often an address.
bool holds_address(std::string_view mnemonic) {
  return any_of(mnemonic, {"LDX", "LDY", "LDU", "CPX", "CMPX", "CMPY", "CMPU"});
}

class StepReader {
 public:
  StepReader(const Reading& reading, std::uint16_t address, std::span<const std::uint8_t> code, Step& step)
      : reading_(reading), address_(address), code_(code), step_(step), operand_(step.row->prefix != 0 ? 2 : 1) {}

  void read() {
    const std::string_view name = step_.row->mnemonic;
    const Flow flow = flow_of(*step_.row, code_);
    find_address();
    if (branches() || flow == Flow::call || name == "JMP") {
      go(flow);
    } else if (step_.named && step_.use == 0) {
      const bool word = any_of(name, {"STX", "STY", "STU", "STS", "STD"}) ||
                        (*reading_.target->find_mnemonic(name))[Mode::imm16] != nullptr;
      step_.use = word || indirect_ ? kAccessed | kWord : kAccessed;
    }
    if (step_.row->mode == Mode::pair && flow == Flow::jump) step_.lost = true;
    step_.goes_on = flow != Flow::jump && flow != Flow::ret && flow != Flow::interrupt_return;
  }

 private:
  unsigned byte(std::size_t at) const { return code_[operand_ + at]; }
  unsigned word(std::size_t at) const { return byte(at) << 8 | byte(at + 1); }
  void name(unsigned address) { step_.named = static_cast<std::uint16_t>(address); }
  unsigned behind() const { return address_ + static_cast<unsigned>(step_.size); }
  bool branches() const { return step_.row->mode == Mode::relative || step_.row->mode == Mode::relative16; }

  void find_address() {
    switch (step_.row->mode) {
      case Mode::relative: name(behind() + static_cast<unsigned>(static_cast<std::int8_t>(byte(0)))); break;
      case Mode::relative16: name(behind() + word(0)); break;
      case Mode::extended: name(word(0)); break;
      case Mode::direct: name(static_cast<unsigned>(reading_.direct_page) << 8 | byte(0)); break;
      case Mode::indexed: find_indexed(); break;
      case Mode::imm16:
        if (!holds_address(step_.row->mnemonic)) break;
        name(word(0));
        step_.use = kValue;
        break;
      default: break;
    }
  }

  void find_indexed() {
    const Postbyte post = postbyte(static_cast<std::uint8_t>(byte(0)));
    indirect_ = post.indirect;
    switch (post.form) {
      case Form::pc8: name(behind() + static_cast<unsigned>(static_cast<std::int8_t>(byte(1)))); break;
      case Form::pc16: name(behind() + word(1)); break;
      case Form::extended: name(word(1)); break;
      case Form::offset16:
        name(word(1));
        step_.use = kValue;
        break;
      default: break;
    }
    // Taking an address is no access.
    if (step_.named && !indirect_ && step_.row->mnemonic.starts_with("LEA")) step_.use = kValue;
  }

  void go(Flow flow) {
    step_.way = flow == Flow::call ? kCalled : kJumped;
    if (!step_.named || (step_.use & kValue) != 0) {
      step_.lost = true;
    } else if (indirect_) {
      step_.pointer = step_.named;
      step_.use = kAccessed | kWord;
    } else {
      step_.use = step_.way;
      if (flow != Flow::plain) step_.target = step_.named;  // BRN goes nowhere
    }
  }

  const Reading& reading_;
  const std::uint16_t address_;
  const std::span<const std::uint8_t> code_;
  Step& step_;
  const std::size_t operand_;  // where it begins
  bool indirect_ = false;
};

/// Where the one number of the text stands, its sign and what chooses its size included.
std::pair<std::size_t, std::size_t> number_in(const std::string& text) {
  std::size_t first = text.find('$');
  const std::size_t digits = first + 1;
  while (std::string_view("-<>").find(text[first - 1]) != std::string_view::npos) --first;
  return {first, text.find_first_not_of("0123456789ABCDEF", digits)};
}

}  // namespace

Step read_step(const Reading& reading, std::uint16_t address, std::span<const std::uint8_t> code) {
  const Disassembly read = disassemble(reading.cpu, address, code);
  Step step;
  step.cut = read.defined && static_cast<std::size_t>(read.bytes) > code.size();
  if (!read.defined || step.cut) return step;
  step.row = table_of(*reading.target).find(code);
  step.size = read.bytes;
  step.text = read.text;
  StepReader(reading, address, code.first(static_cast<std::size_t>(read.bytes)), step).read();
  // The notation of one instruction does not know of another direct page than the first.
  const bool memory = step.row->mode == Mode::direct || step.row->mode == Mode::extended;
  if (memory && reading.direct_page != 0) {
    step.text = with_name(reading, step, fmt::format("${:04X}", *step.named), *step.named);
  }
  return step;
}

std::string with_name(const Reading& reading, const Step& step, const std::string& name, std::uint16_t least) {
  const auto [first, end] = number_in(step.text);
  std::string size;
  for (const char c : step.text.substr(first, end - first)) {
    if (c == '<' || c == '>') size += c;
  }
  const Mnemonic& mnemonic = *reading.target->find_mnemonic(step.row->mnemonic);
  if (step.row->mode == Mode::direct && reading.direct_page != 0) size = "<";
  if (step.row->mode == Mode::extended && mnemonic[Mode::direct] != nullptr &&
      *step.named >> 8 >= reading.direct_page && least >> 8 <= reading.direct_page) {
    size = ">";
  }
  const bool relative = step.text.find(",PCR") != std::string::npos;
  if (step.row->mode == Mode::indexed && (step.use == kValue || relative) && size.empty()) size = ">";
  std::string text = step.text.substr(0, first) + size + name;
  if (end != std::string::npos) text += step.text.substr(end);
  return text;
}

bool comes_back(const Reading& reading, std::uint16_t address, std::string_view text,
                std::span<const std::uint8_t> bytes) {
  const std::string source = fmt::format(" {}", text);
  Program program;
  program.target = reading.target;
  program.source.add_file("", {}, "");
  const int line = program.source.add_line({.text = source, .file = 0, .number = 1});
  StatementParser(program).instruction(line, split_line(source));
  if (program.faults.any()) return false;
  Statement& statement = program.statements.front();
  statement.address = address;
  Encoder::shorten(statement);
  Value value{0, true, true, false};
  if (statement.operand.value >= 0) value = program.evaluate(statement.operand.value, 1, address, line, nullptr);
  Encoder::grow(statement, value, reading.direct_page);
  const Code made = Encoder(program).encode(statement, value, reading.direct_page);
  return !program.faults.any() && std::equal(made.begin(), made.end(), bytes.begin(), bytes.end());
}

}  // namespace prewire::assembler
