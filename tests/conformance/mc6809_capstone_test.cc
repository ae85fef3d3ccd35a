// Disassembly against capstone 4.0.2 (Debian libcapstone-dev) in 6809 mode: which opcodes and postbytes are defined,
// how long the instructions are, what they are called, and what their operands read as.
#include <array>
#include <cstdlib>
#include <string>
#include <vector>

#include "conformance/capstone_reader.h"
#include "conformance/mc6809_tables.h"
#include "cpu_fixture.h"

namespace prewire::testing {
namespace {

using Code = std::array<std::uint8_t, 5>;

Code code_of(std::vector<std::uint8_t> opcode, const std::vector<std::uint8_t>& rest) {
  opcode.insert(opcode.end(), rest.begin(), rest.end());
  Code code{};
  for (std::size_t i = 0; i < code.size() && i < opcode.size(); ++i) code[i] = opcode[i];
  return code;
}

class Mc6809Capstone {
 public:
  /// Compares one instruction in two places.
  void compare(const Code& code) const {
    for (const std::uint16_t address : {std::uint16_t{0x1000}, std::uint16_t{0x10F0}}) {
      SCOPED_TRACE(fmt::format("{:02X} at ${:04X}", fmt::join(code, " "), address));
      const Capstone::Line theirs = capstone_.read(address, code);
      const Disassembly ours = disassemble("mc6809", address, code);
      if (settled_against_capstone(code)) {
        EXPECT_TRUE(theirs.defined()) << "capstone has changed its mind";
        EXPECT_FALSE(ours.defined);
        continue;
      }
      EXPECT_EQ(ours.defined, theirs.defined());
      EXPECT_EQ(ours.bytes, theirs.bytes);
      EXPECT_EQ(ours.text, in_our_notation(theirs, code));
    }
  }

 private:
  /// TFR and EXG between 8 and 16 bits: "undefined" in M6809PM appendix A, EXG and TFR; capstone accepts some.
  static bool settled_against_capstone(const Code& code) {
    if (code[0] != 0x1E && code[0] != 0x1F) return false;
    const int from = code[1] >> 4, to = code[1] & 15;
    return from <= 11 && to <= 11 && from != 6 && from != 7 && to != 6 && to != 7 && (from < 8) != (to < 8);
  }

  /// Capstone's notation in ours: it writes immediate values and offsets as signed decimal numbers, does not mark
  /// offsets that would fit into a shorter form or be left out, and calls ASL by its other name (M6809PM appendix A has
  /// both).
  static std::string in_our_notation(const Capstone::Line& line, const Code& code) {
    std::string name = upper(line.mnemonic), operand = upper(line.operand);
    if (name.substr(0, 3) == "LSL") name = "ASL" + name.substr(3);
    std::erase(operand, ' ');
    const std::size_t opcode_bytes = code[0] == 0x10 || code[0] == 0x11 ? 2 : 1;
    const int rest = line.bytes - static_cast<int>(opcode_bytes);
    if (name == "FCB") return fmt::format("FCB ${:02X}", code[0]);
    if (operand.empty()) return name.substr(0, 3) == "PSH" || name.substr(0, 3) == "PUL" ? name + " #$00" : name;
    if (operand[0] == '#') {
      const int value = std::stoi(operand.substr(1));
      return name + (rest == 1 ? fmt::format(" #${:02X}", value & 0xFF) : fmt::format(" #${:04X}", value & 0xFFFF));
    }
    if (operand[0] == '>')
      return name + " " + operand.substr(std::stoi(operand.substr(2), nullptr, 16) < 0x100 ? 0 : 1);
    const std::string bracket = operand[0] == '[' ? "[" : "";
    const std::string inner = operand.substr(bracket.size());
    if (inner.find(",PCR") != std::string::npos) {
      int target = std::stoi(inner.substr(1), nullptr, 16);
      // An 8-bit offset from PC: capstone prints the address of the next instruction, without the offset that M6809PM
      // table 2-1 adds.
      if (rest == 2) target += static_cast<std::int8_t>(code[opcode_bytes + 1]);
      return fmt::format("{} {}{}${:04X}{}", name, bracket, rest == 2 ? "<" : ">", target & 0xFFFF,
                         inner.substr(inner.find(',')));
    }
    const auto comma = inner.find(',');
    const bool number = inner.find_first_of("-0123456789") == 0;
    if (comma == std::string::npos || comma == 0 || !number) return name + " " + operand;
    const int offset = std::stoi(inner);
    const std::string sign = offset < 0 ? "-" : "";
    const bool shorter = rest == 3                      ? offset >= -128 && offset <= 127
                         : rest == 2 && bracket.empty() ? offset >= -16 && offset <= 15
                                                        : rest == 2 && offset == 0;
    return fmt::format("{} {}{}{}${:0{}X}{}", name, bracket,
                       !shorter    ? rest == 1 && offset == 0 ? "<<" : ""
                       : rest == 3 ? ">"
                                   : "<",
                       sign, std::abs(offset), rest == 3 ? 4 : 2, inner.substr(comma));
  }

  const Capstone capstone_{CS_MODE_M680X_6809};
};

/// What may stand behind an opcode.
const std::vector<std::vector<std::uint8_t>> kRests{{0x12, 0x34, 0x56}, {0x84, 0xFE, 0xDC}, {0x00, 0x00, 0x00},
                                                    {0xFF, 0xFF, 0xFF}, {0x7F, 0x80, 0x00}, {0x80, 0x01, 0x00},
                                                    {0x9F, 0x00, 0x12}, {0x89, 0xFF, 0x80}, {0xAD, 0x12, 0x34}};

class Mc6809CapstoneOpcode : public ::testing::TestWithParam<Mc6809Row> {};

TEST_P(Mc6809CapstoneOpcode, ReadsTheSame) {
  const Mc6809Capstone capstone;
  for (const auto& rest : kRests) capstone.compare(code_of(GetParam().code(), rest));
}

INSTANTIATE_TEST_SUITE_P(Table, Mc6809CapstoneOpcode, ::testing::ValuesIn(mc6809_rows()),
                         [](const auto& test) { return test.param.name(); });

class Mc6809CapstonePostbyte : public ::testing::TestWithParam<Mc6809Postbyte> {};

TEST_P(Mc6809CapstonePostbyte, ReadsTheSame) {
  const Mc6809Capstone capstone;
  for (const Mc6809Row& row : mc6809_rows()) {
    if (!row.indexed()) continue;
    for (const std::uint8_t postbyte : GetParam().postbytes()) {
      for (const int high : {0x00, 0x0F, 0x10, 0x7F, 0x80, 0xEF, 0xF0, 0xFF}) {
        for (const int low : {0x00, 0x7F, 0x80, 0xFF}) {
          capstone.compare(
              code_of(row.code(), {postbyte, static_cast<std::uint8_t>(high), static_cast<std::uint8_t>(low)}));
          if (::testing::Test::HasFailure()) return;
        }
      }
    }
  }
}

INSTANTIATE_TEST_SUITE_P(Table, Mc6809CapstonePostbyte, ::testing::ValuesIn(mc6809_postbyte_rows()),
                         [](const auto& test) { return test.param.name(); });

TEST(Mc6809CapstoneRegisters, ReadTheSame) {
  const Mc6809Capstone capstone;
  for (const int opcode : {0x1E, 0x1F, 0x34, 0x35, 0x36, 0x37}) {
    for (int postbyte = 0; postbyte < 256; ++postbyte) {
      capstone.compare(code_of({static_cast<std::uint8_t>(opcode)}, {static_cast<std::uint8_t>(postbyte)}));
    }
  }
}

TEST(Mc6809CapstoneUndefined, ReadTheSame) {
  const Mc6809Capstone capstone;
  for (const Mc6809Undefined& row : mc6809_undefined_rows()) {
    for (const int opcode : row.opcodes()) {
      std::vector<std::uint8_t> code;
      if (row.page > 1) code.push_back(row.page == 2 ? 0x10 : 0x11);
      code.push_back(static_cast<std::uint8_t>(opcode));
      for (const auto& rest : kRests) capstone.compare(code_of(code, rest));
    }
  }
}

}  // namespace
}  // namespace prewire::testing
