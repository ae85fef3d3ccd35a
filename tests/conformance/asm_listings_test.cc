// Small programs of the Tidewater field station and their object code. That of the MC6800 was made once with GNU
// binutils 2.40 (Debian binutils-m68hc1x): `m68hc11-as -m68hc11 -al`, with `*` before a direct address and `0x` for
// `$`; the 68HC11 encodes the instructions of the MC6800 as the MC6800 does. That of the MC6809 is from M6809PM:
// Motorola, "MC6809-MC6809E Programming Manual", 1981, in the places that each row names.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <ostream>
#include <string>

#include "prewire/assembler.h"

namespace prewire::testing {
namespace {

constexpr const char* kBinutils = "GNU binutils 2.40";

struct Listing {
  const char* name;
  const char* source;  ///< of the object code
  const char* cpu;
  const char* text;
  const char* code;
};

void PrintTo(const Listing& listing, std::ostream* out) { *out << listing.name << ", " << listing.source; }

const Listing kListings[] = {
    {"BarrelFull", kBinutils, "mc6800",
     "        ORG   $F800\n"
     "FILL    LDA A $4000      the float is bit 0\n"
     "        AND A #%00000001\n"
     "        BEQ   FILL       not up yet\n"
     "        LDA B #8         shut the inlet\n"
     "        STA B $4001\n"
     "        BRA   FILL\n",
     "B6 40 00 84 01 27 F9 C6 08 F7 40 01 20 F2"},
    {"TanksApart", kBinutils, "mc6800",
     "        LDAA  $21        how far the levels of two fish tanks are apart\n"
     "        SUBA  $20\n"
     "        BPL   KEEP\n"
     "        NEGA\n"
     "KEEP    STAA  $22\n"
     "        RTS\n",
     "96 21 90 20 2A 01 40 97 22 39"},
    {"RainOfAWeek", kBinutils, "mc6800",
     "WEEK    EQU   $30        seven days, two bytes each, in tenths of a millimetre\n"
     "        ORG   $0100\n"
     "        LDX   #WEEK\n"
     "        CLR A\n"
     "        CLR B\n"
     "DAY     ADD B 1,X\n"
     "        ADC A 0,X\n"
     "        INX\n"
     "        INX\n"
     "        CPX   #WEEK+14\n"
     "        BNE   DAY\n"
     "        STA A WEEK+14\n"
     "        STA B WEEK+15\n"
     "        RTS\n",
     "CE 00 30 4F 5F EB 01 A9 00 08 08 8C 00 3E 26 F5 97 3E D7 3F 39"},
    {"WarmestBed", kBinutils, "mc6800",
     "BEDS    EQU   $0280      degrees at six beds of the greenhouse, signed\n"
     "        ORG   $E000\n"
     "        LDX   #BEDS\n"
     "        LDAA  ,X\n"
     "ROW     INX\n"
     "        CPX   #BEDS+6\n"
     "        BEQ   DONE\n"
     "        CMPA  ,X\n"
     "        BGE   ROW\n"
     "        LDAA  ,X         this one is warmer\n"
     "        BRA   ROW\n"
     "DONE    STAA  $0290\n"
     "        WAI\n",
     "CE 02 80 A6 00 08 8C 02 86 27 08 A1 00 2C F6 A6 00 20 F2 B7 02 90 3E"},
    {"VaneOfTheMast", kBinutils, "mc6800",
     "SHOW    EQU   $FE10\n"
     "        LDAB  $8004      sixteen directions as the vane's disc codes them\n"
     "        ANDB  #$0F\n"
     "        TBA\n"
     "        LSRA\n"
     "        STAB  $50\n"
     "        EORA  $50\n"
     "        PSHA\n"
     "        JSR   SHOW\n"
     "        PULA\n"
     "        JMP   $F900\n",
     "F6 80 04 C4 0F 17 44 D7 50 98 50 36 BD FE 10 32 7E F9 00"},
    {"MinutesOfThePump", kBinutils, "mc6800",
     "        ORG   $C000\n"
     "TICK    LDA A $12        seconds, two decimal digits\n"
     "        ADD A #1\n"
     "        DAA\n"
     "        CMP A #$60\n"
     "        BCS   SAME\n"
     "        CLR A\n"
     "        INC   $13\n"
     "SAME    STA A $12\n"
     "        RTI\n",
     "96 12 8B 01 19 81 60 25 04 4F 7C 00 13 97 12 3B"},
    {"ValveWhenDry", kBinutils, "mc6800",
     "        SEI\n"
     "        LDS   #$01FF\n"
     "        LDX   #$8004\n"
     "        LDAA  #$3C\n"
     "        STAA  1,X\n"
     "        STX   $80\n"
     "        STS   $0182\n"
     "DRY     TST   ,X\n"
     "        BPL   DRY\n"
     "        CLI\n"
     "        SWI\n",
     "0F 8E 01 FF CE 80 04 86 3C A7 01 DF 80 BF 01 82 6D 00 2A FC 0E 3F"},
    {"DrainNearAndFar", kBinutils, "mc6800",
     "        BSR   DRAIN\n"
     "        JSR   $5A07\n"
     "DRAIN   CLR   $4001\n"
     "        RTS\n",
     "8D 03 BD 5A 07 7F 40 01 39"},
    {"OneInstructionFourModes", kBinutils, "mc6800", " ADDA #$5A\n ADDA $5A\n ADDA $5A,X\n ADDA $5AA5\n",
     "8B 5A 9B 5A AB 5A BB 5A A5"},
    {"NextRow", "M6809PM, appendix A, LEA: 5-bit and 16-bit offset", "mc6809", " LEAX 10,X\n LEAX 500,X\n",
     "30 0A 30 89 01 F4"},
    {"SaveRegistersAndReturn", "M6809PM, 4.2.1", "mc6809", " PSHS Y,X,B,A\n PULS A,B,X,Y,PC\n", "34 36 35 B6"},
    {"RoomForReadings", "M6809PM, 4.2.1.2", "mc6809", " LEAS -2048,S\n LEAS 2048,S\n", "32 E9 F8 00 32 E9 08 00"},
    {"SumOfTheTanks", "M6809PM, tables 2-1 and C-1", "mc6809",
     "TANKS   EQU   $0400      three levels, two bytes each\n"
     "        LDX   #TANKS\n"
     "        LDD   ,X++\n"
     "        ADDD  ,X++\n"
     "        ADDD  ,X\n"
     "        STD   [$0408]\n"
     "        TFR   D,Y\n"
     "        CMPY  #$1000\n"
     "        LBHI  *+$0104    too much water\n"
     "        RTS\n",
     "8E 04 00 EC 81 E3 81 E3 84 ED 9F 04 08 1F 02 10 8C 10 00 10 22 01 00 39"},
};

class AsmListing : public ::testing::TestWithParam<Listing> {};

TEST_P(AsmListing, ObjectCode) {
  const Listing& listing = GetParam();
  const Image image = assemble(listing.text, listing.name, {.cpu = listing.cpu, .folder = {}, .root = {}});
  ASSERT_EQ(image.segments.size(), 1U);
  std::string code;
  for (const std::uint8_t byte : image.segments[0].bytes)
    code += fmt::format("{}{:02X}", code.empty() ? "" : " ", byte);
  EXPECT_EQ(code, listing.code);
}

INSTANTIATE_TEST_SUITE_P(Tidewater, AsmListing, ::testing::ValuesIn(kListings),
                         [](const auto& test) { return std::string(test.param.name); });

}  // namespace
}  // namespace prewire::testing
