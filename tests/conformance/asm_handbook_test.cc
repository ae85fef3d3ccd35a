// Listings with their object code. Each row names its source; `from memory` means that the listing was written down
// from memory, its object code included.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <ostream>
#include <string>

#include "prewire/assembler.h"

namespace prewire::testing {
namespace {

struct Listing {
  const char* name;
  const char* source;  ///< where it was published
  const char* cpu;
  const char* text;
  const char* code;
};

void PrintTo(const Listing& listing, std::ostream* out) { *out << listing.name << ", " << listing.source; }

// Leventhal: L. A. Leventhal, "6800 Assembly Language Programming", 1978. M68PRM: Motorola, "M6800 Programming
// Reference Manual", 1976, appendix A. M6809PM: Motorola, "MC6809-MC6809E Programming Manual", 1981.
const Listing kListings[] = {
    {"OnesComplement", "Leventhal, ch. 4, from memory", "mc6800",
     " LDA A $40 GET DATA\n COM A COMPLEMENT\n STA A $41 STORE RESULT\n SWI\n", "96 40 43 97 41 3F"},
    {"Addition8", "Leventhal, ch. 4, from memory", "mc6800",
     " LDA A $40 GET FIRST OPERAND\n ADD A $41 ADD SECOND OPERAND\n STA A $42 STORE RESULT\n SWI\n",
     "96 40 9B 41 97 42 3F"},
    {"ShiftLeft", "Leventhal, ch. 4, from memory", "mc6800", " LDA B $40\n ASL B\n STA B $41\n SWI\n",
     "D6 40 58 D7 41 3F"},
    {"MaskOff", "Leventhal, ch. 4, from memory", "mc6800", " LDA A $40\n AND A #%00001111 MASK\n STA A $41\n SWI\n",
     "96 40 84 0F 97 41 3F"},
    {"ClearLocation", "Leventhal, ch. 4, from memory", "mc6800", " CLR $40\n SWI\n", "7F 00 40 3F"},
    {"Nibbles", "Leventhal, ch. 4, from memory", "mc6800",
     " LDA A $40\n AND A #%00001111\n STA A $42\n LDA A $40\n LSR A\n LSR A\n LSR A\n LSR A\n STA A $41\n SWI\n",
     "96 40 84 0F 97 42 96 40 44 44 44 44 97 41 3F"},
    {"LargerOfTwo", "Leventhal, ch. 4, from memory", "mc6800",
     " LDA A $40\n CMP A $41\n BCC DONE\n LDA A $41\nDONE STA A $42\n SWI\n", "96 40 91 41 24 02 96 41 97 42 3F"},
    {"Addition16", "Leventhal, ch. 4, from memory", "mc6800",
     " LDA A $41\n ADD A $43\n STA A $45\n LDA A $40\n ADC A $42\n STA A $44\n SWI\n",
     "96 41 9B 43 97 45 96 40 99 42 97 44 3F"},
    {"SumOfData", "Leventhal, ch. 5, from memory", "mc6800",
     " CLR A\n LDA B $41\n LDX #$42\nSUMD ADD A 0,X\n INX\n DEC B\n BNE SUMD\n STA A $40\n SWI\n",
     "4F D6 41 CE 00 42 AB 00 08 5A 26 FA 97 40 3F"},
    {"JumpToSubroutine", "M68PRM, JSR, example, from memory", "mc6800", "CHARLI EQU $2077\n ORG $0FFF\n JSR CHARLI\n",
     "BD 20 77"},
    {"BranchToSubroutine", "M68PRM, BSR, example, from memory", "mc6800", "CHARLI EQU $1052\n ORG $1000\n BSR CHARLI\n",
     "8D 50"},
    {"OneInstructionFourModes", "MC6800 data sheet, \"Accumulator and Memory Instructions\", ADDA", "mc6800",
     " ADDA #1\n ADDA $01\n ADDA 1,X\n ADDA $0101\n", "8B 01 9B 01 AB 01 BB 01 01"},
    {"LeaSizes", "M6809PM, appendix A, LEA: 5-bit and 16-bit offset", "mc6809", " LEAX 10,X\n LEAX 500,X\n",
     "30 0A 30 89 01 F4"},
    {"SaveRegistersAndReturn", "M6809PM, 4.2.1", "mc6809", " PSHS Y,X,B,A\n PULS A,B,X,Y,PC\n", "34 36 35 B6"},
    {"LocalStorage", "M6809PM, 4.2.1.2", "mc6809", " LEAS -2048,S\n LEAS 2048,S\n", "32 E9 F8 00 32 E9 08 00"},
};

class AsmHandbook : public ::testing::TestWithParam<Listing> {};

TEST_P(AsmHandbook, ObjectCode) {
  const Listing& listing = GetParam();
  const Image image = assemble(listing.text, listing.name, {.cpu = listing.cpu, .folder = {}, .root = {}});
  ASSERT_EQ(image.segments.size(), 1U);
  std::string code;
  for (const std::uint8_t byte : image.segments[0].bytes)
    code += fmt::format("{}{:02X}", code.empty() ? "" : " ", byte);
  EXPECT_EQ(code, listing.code);
}

INSTANTIATE_TEST_SUITE_P(Listings, AsmHandbook, ::testing::ValuesIn(kListings),
                         [](const auto& test) { return std::string(test.param.name); });

}  // namespace
}  // namespace prewire::testing
