// Disassembly against capstone 4.0.2 (Debian libcapstone-dev) in 6800 mode: which opcodes are defined, how long they
// are, what they are called, and what their operands read as.
#include <array>
#include <string>

#include "conformance/capstone_reader.h"
#include "cpu_fixture.h"

namespace prewire::testing {
namespace {

class Mc6800Capstone : public ::testing::TestWithParam<int> {
 protected:
  /// Capstone's notation in ours: it writes immediate values and offsets as decimal numbers, and marks extended
  /// addresses that would fit in a byte.
  static std::string in_our_notation(const Capstone::Line& line, std::uint8_t opcode) {
    const std::string& operand = line.operand;
    std::string text = upper(line.mnemonic);
    if (operand.empty()) return text;
    if (operand[0] == '#') {
      const int value = std::stoi(operand.substr(1));
      return text +
             (line.bytes == 2 ? fmt::format(" #${:02X}", value & 0xFF) : fmt::format(" #${:04X}", value & 0xFFFF));
    }
    if (const auto comma = operand.find(", x"); comma != std::string::npos) {
      return text + fmt::format(" ${:02X},X", std::stoi(operand.substr(0, comma)) & 0xFF);
    }
    if (operand[0] != '>') return text + " " + upper(operand);
    // Ours marks an extended address that direct addressing would reach, where the instruction has it: columns 9 and D
    // of the opcode map, of which 9D is empty.
    const bool direct_too = (opcode >> 4 == 0xB || opcode >> 4 == 0xF) && opcode != 0xBD;
    const bool marked = direct_too && std::stoi(operand.substr(2), nullptr, 16) < 0x100;
    return text + " " + upper(marked ? operand : operand.substr(1));
  }

  const Capstone capstone{CS_MODE_M680X_6800};
};

TEST_P(Mc6800Capstone, ReadsTheSame) {
  const auto opcode = static_cast<std::uint8_t>(GetParam());
  const std::array<std::array<std::uint8_t, 3>, 6> codes{{{opcode, 0x12, 0x34},
                                                          {opcode, 0x84, 0xFE},
                                                          {opcode, 0x00, 0x00},
                                                          {opcode, 0xFF, 0xFF},
                                                          {opcode, 0x7F, 0x80},
                                                          {opcode, 0x80, 0x01}}};
  for (const auto& code : codes) {
    for (const std::uint16_t address : {std::uint16_t{0x1000}, std::uint16_t{0x10F0}}) {
      const Capstone::Line theirs = capstone.read(address, code);
      const Disassembly ours = disassemble("mc6800", address, code);
      EXPECT_EQ(ours.defined, theirs.defined());
      EXPECT_EQ(ours.bytes, theirs.bytes);
      EXPECT_EQ(ours.text, in_our_notation(theirs, opcode));
    }
  }
}

INSTANTIATE_TEST_SUITE_P(Opcodes, Mc6800Capstone, ::testing::Range(0, 256),
                         [](const auto& test) { return fmt::format("Opcode{:02X}", test.param); });

}  // namespace
}  // namespace prewire::testing
