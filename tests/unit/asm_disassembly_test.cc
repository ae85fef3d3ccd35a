// What the disassembler writes is source: it comes back as the same bytes.
#include <gtest/gtest.h>

#include <array>

#include "cpu/instruction.h"
#include "prewire/cpu.h"
#include "unit/asm_testing.h"

namespace prewire::testing {
namespace {

constexpr std::uint16_t kAt = 0x1000;

using Bytes = std::vector<std::uint8_t>;

/// Disassembles the first instruction and assembles it again.
void expect_back(const std::string& cpu, Bytes code) {
  const Disassembly read = disassemble(cpu, kAt, code);
  code.resize(static_cast<std::size_t>(read.bytes));
  try {
    const std::string source = fmt::format(" ORG ${:04X}\n {}\n", kAt, read.text);
    const Image image = assemble(source, "back.asm", {.cpu = cpu, .folder = {}, .root = {}});
    EXPECT_EQ(image.segments.at(0).bytes, code) << read.text;
  } catch (const InputError& error) {
    ADD_FAILURE() << error.what();
  }
}

// No extended address below $0100: written without >, it would come back as a direct one.
const std::array<std::array<std::uint8_t, 2>, 6> kOperands{
    {{0x12, 0x34}, {0x84, 0xFE}, {0xFF, 0xFF}, {0x7F, 0x80}, {0x80, 0x01}, {0x01, 0x00}}};

TEST(AsmDisassembly, EveryOpcodeOfTheMc6800) {
  for (int opcode = 0; opcode < 256; ++opcode) {
    for (const auto& operand : kOperands) {
      expect_back("mc6800", {static_cast<std::uint8_t>(opcode), operand[0], operand[1]});
    }
  }
}

TEST(AsmDisassembly, EveryOpcodeOfTheMc6809) {
  for (const Instruction& row : mc6809_instructions().rows()) {
    if (row.mode == Mode::indexed) continue;
    for (const auto& operand : kOperands) {
      Bytes code;
      if (row.prefix != 0) code.push_back(row.prefix);
      code.insert(code.end(), {row.opcode, operand[0], operand[1]});
      // Registers that cannot be joined are read as data.
      expect_back("mc6809", code);
    }
  }
}

TEST(AsmDisassembly, EveryPostbyteOfTheMc6809) {
  for (int byte = 0; byte < 256; ++byte) {
    const Postbyte post = postbyte(static_cast<std::uint8_t>(byte));
    if (post.form == Postbyte::Form::illegal) continue;
    // An offset of 0 comes back in the form without offset, which means the same.
    if (post.form == Postbyte::Form::offset5 && (byte & 0x1F) == 0) continue;
    // The register bits mean nothing beside the program counter; they are written as 0.
    if ((post.form == Postbyte::Form::pc8 || post.form == Postbyte::Form::pc16) && post.base != 0) continue;
    for (const auto& operand : {std::array<std::uint8_t, 2>{0x12, 0x34},
                                {0x00, 0x00},
                                {0x00, 0x05},
                                {0xFF, 0xF0},
                                {0x80, 0x00},
                                {0x05, 0x00},
                                {0xFF, 0x80},
                                {0x00, 0x80}}) {
      expect_back("mc6809", {0xA6, static_cast<std::uint8_t>(byte), operand[0], operand[1]});
    }
  }
}

TEST(AsmDisassembly, EveryRegisterListAndPairOfTheMc6809) {
  for (int byte = 0; byte < 256; ++byte) {
    for (const int opcode : {0x1E, 0x1F, 0x34, 0x35, 0x36, 0x37}) {
      expect_back("mc6809", {static_cast<std::uint8_t>(opcode), static_cast<std::uint8_t>(byte)});
    }
  }
}

TEST(AsmDisassembly, TellsWhichBytesShowThatNothingIsDefined) {
  const auto shown_by = [](const char* cpu, const Bytes& code) { return disassemble(cpu, kAt, code).undefined_bytes; };
  // MC6800 data sheet p. 22; M6809PM tables C-1 and 2-1, and appendix A, TFR, which has no pair of D and CC.
  EXPECT_EQ(shown_by("mc6800", {0x02, 0x12}), 1);
  EXPECT_EQ(shown_by("mc6809", {0x02, 0x12}), 1);
  EXPECT_EQ(shown_by("mc6809", {0x10, 0x1F}), 2);
  EXPECT_EQ(shown_by("mc6809", {0xA6, 0x87}), 2);        // LDA
  EXPECT_EQ(shown_by("mc6809", {0x1F, 0x0A}), 2);        // TFR D,CC
  EXPECT_EQ(shown_by("mc6809", {0x10, 0xAE, 0x87}), 3);  // LDY
  EXPECT_EQ(shown_by("mc6809", {0x12}), 0);
}

}  // namespace
}  // namespace prewire::testing
