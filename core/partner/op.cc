#include "partner/op.h"

#include <algorithm>
#include <initializer_list>
#include <string_view>

namespace prewire::partner {

namespace {

bool one_of(std::string_view word, std::initializer_list<std::string_view> words) {
  return std::find(words.begin(), words.end(), word) != words.end();
}

bool on_memory(Mode mode) {
  return mode == Mode::direct || mode == Mode::extended || mode == Mode::offset || mode == Mode::indexed;
}

std::uint32_t traits_of(const Instruction& row, bool mc6809) {
  const std::string_view name = row.mnemonic;
  std::uint32_t traits = kDefined;
  if (one_of(name, {"JSR", "BSR", "LBSR"})) return traits | kCall;
  if (one_of(name, {"JMP", "LEAX", "LEAY", "LEAU"})) return traits;
  if (name == "RTS") traits |= kRts;
  if (name == "RTI") traits |= kRti;
  if (one_of(name, {"SWI", "SWI2", "SWI3"})) traits |= kSwi;
  if (one_of(name, {"WAI", "CWAI"})) traits |= kWait;
  if (one_of(name, {"PSHA", "PSHB", "PSHS"})) traits |= kPush;
  if (name == "PULS") traits |= kPull;
  if (one_of(name, {"LDS", "TXS", "LEAS", "TFR", "EXG"})) traits |= kSetsStack;
  if (name == "DAA") traits |= kDaa;
  if (one_of(name, {"INCA", "DECA", "SUBA", "SBCA", "SBA"})) traits |= kSpoilsDaa;
  if (name == "CPX" && !mc6809) traits |= kCpx;
  if ((row.mode == Mode::relative && name != "BRA" && name != "BRN") ||
      (row.mode == Mode::relative16 && name != "LBRA" && name != "LBRN")) {
    traits |= kBranch;
    const std::string_view test = name.substr(name[0] == 'L' ? 2 : 1);
    if (one_of(test, {"PL", "MI"})) traits |= kSign;
    if (one_of(test, {"HI", "LS", "CC", "CS", "HS", "LO"})) traits |= kCarry;
  }
  const bool value = row.mode == Mode::imm8 || row.mode == Mode::imm16;
  if (value && one_of(name, {"BITA", "BITB", "CMPA", "CMPB", "CPX", "CMPX", "CMPY", "CMPD"})) traits |= kSkips;
  if (one_of(name, {"BRN", "LBRN"})) traits |= kSkips;
  if (value && name.starts_with("LD") && name != "LDS") traits |= kDrops;
  if (!on_memory(row.mode) || name == "LEAS") return traits;
  if (one_of(name, {"STX", "STS", "STD", "STY", "STU"})) return traits | kStore16;
  if (name.starts_with("ST")) return traits | kStore;
  if (one_of(name, {"NEG", "COM", "LSR", "ROR", "ASR", "ASL", "ROL", "DEC", "INC", "CLR"})) return traits | kModify;
  if (name != "TST") traits |= kImmediateToo;
  return traits | kRead;
}

}  // namespace

Ops::Ops(bool mc6809) {
  const InstructionTable& table = mc6809 ? mc6809_instructions() : mc6800_instructions();
  for (const Instruction& row : table.rows()) {
    const std::size_t page = row.prefix == 0x10 ? 1 : row.prefix == 0x11 ? 2 : 0;
    ops_[page * 256 + row.opcode] = {traits_of(row, mc6809), row.mode, static_cast<std::uint8_t>(row.bytes)};
  }
  if (!mc6809) return;
  ops_[0x10].traits = ops_[0x11].traits = kPrefix;
}

}  // namespace prewire::partner
