// What the disassembler makes of small programs. The programs are written for the purpose; each comes back as itself.
#include "unit/disassembler_testing.h"

namespace prewire::testing {
namespace {

class Disassembler : public ::testing::Test {
 protected:
  static Image made(const std::string& cpu, const std::string& source) {
    Image image = assemble(source, "lab.asm", {.cpu = cpu, .folder = {}, .root = {}});
    image.source = nullptr;
    image.header.clear();
    return image;
  }
  /// The lines of the source, without its head.
  std::string read(const std::string& source, const std::string& cpu = "mc6800") {
    options.cpu = cpu;
    program = read_back(made(cpu, source), options);
    std::string text;
    for (const AddressName& name : program.outside) text += fmt::format("{} = ${:04X}\n", name.name, name.address);
    for (const DisassembledProgram::Line& line : program.lines) {
      text += fmt::format("{:04X} {}: {}{}{}{}{}\n", line.address, line.label, line.mnemonic,
                          line.operand.empty() ? "" : " ", line.operand, line.note.empty() ? "" : " ; ", line.note);
    }
    return text;
  }
  std::string faults(const Image& image) {
    try {
      disassemble_program(image, options);
    } catch (const InputError& error) {
      std::string ids;
      for (const Fault& fault : error.faults()) ids += fault.id + "\n";
      return ids;
    }
    return "none";
  }

  DisassemblerOptions options;
  DisassembledProgram program;
};

// Following -----------------------------------------------------------------------------------------------------------

TEST_F(Disassembler, FollowsTheVectorsOfTheMc6800) {
  EXPECT_EQ(read(R"(
        ORG     $F800
        RTI                     IRQ
        RTI                     SWI
        RTI                     NMI
        LDAA    $4000           RESET
        BEQ     *+5
        JSR     $F80E
        JMP     $F803
        INC     $10
        RTS
        FCB     1
        ORG     $FFF8
        FDB     $F800,$F801,$F802,$F803
)"),
            R"(mem_0010 = $0010
mem_4000 = $4000
F800 on_irq: RTI
F801 on_swi: RTI
F802 on_nmi: RTI
F803 on_reset: LDAA mem_4000
F806 : BEQ to_F80B
F808 : JSR call_F80E
F80B to_F80B: JMP on_reset
F80E call_F80E: INC mem_0010
F811 : RTS
F812 : FCB $01
FFF8 : FDB on_irq ; IRQ
FFFA : FDB on_swi ; SWI
FFFC : FDB on_nmi ; NMI
FFFE : FDB on_reset ; RESET
)");
}

TEST_F(Disassembler, FollowsTheVectorsOfTheMc6809) {
  EXPECT_EQ(read(R"(
        ORG     $E000
RESET   LDS     #$0200
        LBSR    SHOW
        BRA     RESET
SHOW    LDX     #TEXT
        LEAY    TEXT,PCR
        PULS    A,PC
OTHER   RTI
QUICK   RTI
TEXT    FCC     "Barrel full"
        FCB     0
        ORG     $FFF0
        FDB     0,OTHER,OTHER,QUICK,OTHER,OTHER,OTHER,RESET
)",
                 "mc6809"),
            R"(E000 on_reset: LDS #$0200
E004 : LBSR call_E009
E007 : BRA on_reset
E009 call_E009: LDX #text_E013
E00C : LEAY <text_E013,PCR
E00F : PULS A,PC
E011 on_swi3_swi2_irq_swi_nmi: RTI
E012 on_firq: RTI
E013 text_E013: FCC "Barrel full"
E01E : FCB $00
FFF0 : FDB $0000 ; reserved
FFF2 : FDB on_swi3_swi2_irq_swi_nmi ; SWI3
FFF4 : FDB on_swi3_swi2_irq_swi_nmi ; SWI2
FFF6 : FDB on_firq ; FIRQ
FFF8 : FDB on_swi3_swi2_irq_swi_nmi ; IRQ
FFFA : FDB on_swi3_swi2_irq_swi_nmi ; SWI
FFFC : FDB on_swi3_swi2_irq_swi_nmi ; NMI
FFFE : FDB on_reset ; RESET
)");
}

TEST_F(Disassembler, BeginsAtTheFirstAddressWithoutVectorsAndEntries) {
  EXPECT_EQ(read(" ORG $0100\n CLRA\n RTS\n FCB $4F\n"), "0100 entry_0100: CLRA\n0101 : RTS\n0102 : FCB $4F\n");
  options.entries = {0x0102};
  EXPECT_EQ(read(" ORG $0100\n FCB 1,2\n RTS\n"), "0100 : FCB $01,$02\n0102 entry_0102: RTS\n");
}

TEST_F(Disassembler, FollowsTheEntryOfTheImage) {
  EXPECT_EQ(read(" ORG $0100\n FCB 1\nGO RTS\n END GO\n"), "0100 : FCB $01\n0101 entry_0101: RTS\n");
  EXPECT_EQ(program.entry, 0x0101);
}

TEST_F(Disassembler, SaysWhereTheWayIsLost) {
  EXPECT_EQ(read(R"(
        ORG     $0100
        BSR     NEAR
        JSR     0,X
        JMP     2,X
NEAR    BEQ     FAR
        FCB     $02
FAR     LDAA    #1
)"),
            R"(0100 entry_0100: BSR call_0106
0102 : JSR $00,X ; only the run decides where this goes
0104 : JMP $02,X ; only the run decides where this goes
0106 call_0106: BEQ to_0109
0108 : FCB $02 ; reached, and no instruction
0109 to_0109: LDAA #$01 ; goes on at $010B, outside the image
)");
  ASSERT_EQ(program.losses.size(), 4U);
  EXPECT_EQ(program.losses[2].address, 0x0108);
}

TEST_F(Disassembler, LosesTheWayWhereTheImageEndsWithinAnInstruction) {
  EXPECT_EQ(read(" ORG $0100\n NOP\n FCB $B6,$40\n"),
            "0100 entry_0100: NOP\n0101 : FCB $B6,$40 ; the image ends within this instruction\n");
}

TEST_F(Disassembler, DoesNotRunThroughVectors) {
  EXPECT_EQ(read(" ORG $FFF6\n NOP\n NOP\n FDB $0101,$0101,$0101,$FFF6\n"),
            R"(FFF6 on_reset: NOP
FFF7 : NOP ; goes on at $FFF8, in a table of addresses
FFF8 : FDB $0101 ; IRQ
FFFA : FDB $0101 ; SWI
FFFC : FDB $0101 ; NMI
FFFE : FDB on_reset ; RESET
)");
}

TEST_F(Disassembler, FollowsAPointerThatTheImageHolds) {
  EXPECT_EQ(read(R"(
        ORG     $E000
        JSR     [WAY,PCR]
        JMP     [$E008]
        FCB     0
WAY     FDB     THERE
THERE   RTS
)",
                 "mc6809"),
            R"(E000 entry_E000: JSR [<word_E008,PCR]
E003 : JMP [word_E008]
E007 : FCB $00
E008 word_E008: FDB call_E00A
E00A call_E00A: RTS
)");
}

TEST_F(Disassembler, FollowsATableThatTheCallerKnows) {
  const std::string source = R"(
        ORG     $0100
        LDX     #TABLE
        LDX     0,X
        JMP     0,X
TABLE   FDB     ONE,TWO
ONE     CLRA
        RTS
TWO     CLRB
        RTS
)";
  EXPECT_NE(read(source).find("FCB $01,$0B,$01,$0D,$4F,$39,$5F,$39"), std::string::npos);
  options.tables = {{0x0107, 0x010A}};
  EXPECT_EQ(read(source),
            R"(0100 entry_0100: LDX #table_0107
0103 : LDX $00,X
0105 : JMP $00,X ; only the run decides where this goes
0107 table_0107: FDB code_010B,code_010D
010B code_010B: CLRA
010C : RTS
010D code_010D: CLRB
010E : RTS
)");
}

TEST_F(Disassembler, KnowsATableOfKnownCode) {
  EXPECT_EQ(read(R"(
        ORG     $0100
        BSR     ONE
        BSR     TWO
        LDX     #TABLE
        BRA     *
ONE     RTS
TWO     RTS
TABLE   FDB     ONE,TWO,ONE
        FCB     9
)"),
            R"(0100 entry_0100: BSR call_0109
0102 : BSR call_010A
0104 : LDX #table_010B
0107 to_0107: BRA to_0107
0109 call_0109: RTS
010A call_010A: RTS
010B table_010B: FDB call_0109,call_010A,call_0109
0111 : FCB $09
)");
}

TEST_F(Disassembler, KnowsWaysIntoAnInstruction) {
  // CPX # skips an instruction of two bytes, an old economy (common practice).
  EXPECT_EQ(read(R"(
        ORG     $0100
        BNE     *+5
        CLRA
        FCB     $8C
        LDAA    #1
        STAA    $0103
        RTS
)"),
            R"(0100 entry_0100: BNE code_0103+2
0102 : CLRA
0103 code_0103: CPX #$8601 ; +2: entered here it is NOP
0106 : STAA code_0103
0109 : RTS
)");
}

// Data ----------------------------------------------------------------------------------------------------------------

TEST_F(Disassembler, SeparatesTextsFillsAndBytes) {
  EXPECT_EQ(read(R"(
        ORG     $0100
        RTS
        FCB     1,2,3
        FCC     /Rain "barrel"/
        FCB     4,5,6,7,8,9,10,11,12,13
        FCC     /??!?!/
        FILL    $FF,20
        FILL    0,15
        FCC     /ab/
)"),
            R"(0100 entry_0100: RTS
0101 : FCB $01,$02,$03
0104 : FCC /Rain "barrel"/
0111 : FCB $04,$05,$06,$07,$08,$09,$0A,$0B
0119 : FCB $0C,$0D,$3F,$3F,$21,$3F,$21
0120 : FILL $FF,20
0134 : FCB $00,$00,$00,$00,$00,$00,$00,$00
013C : FCB $00,$00,$00,$00,$00,$00,$00,$61
0144 : FCB $62
)");
}

TEST_F(Disassembler, BreaksDataWhereItIsUsed) {
  EXPECT_EQ(read(R"(
        ORG     $0100
        LDAA    $010B
        LDX     $010D
        STX     $010F
        BRA     *
        FCB     $3F,1,2,3,4,5,6,7
)"),
            R"(0100 entry_0100: LDAA data_010B
0103 : LDX word_010D
0106 : STX word_010F
0109 to_0109: BRA to_0109
010B data_010B: FCB $3F,$01
010D word_010D: FDB $0203
010F word_010F: FDB $0405
0111 : FCB $06,$07
)");
}

// Names ---------------------------------------------------------------------------------------------------------------

TEST_F(Disassembler, TakesNamesThatAreGiven) {
  options.names = {{0x4000, "PORT", "the pump"}, {0x0100, "MAIN", ""}, {0x0104, "MIDDLE", ""},
                   {0x4000, "SECOND", ""},       {0x0050, "PORT", ""}, {0x2000, "UNUSED", ""}};
  EXPECT_EQ(read(" ORG $0100\n LDAA $4000\n STAA $0150\n STAA $50\n STAA $0104\n RTS\n"),
            R"(mem_0050 = $0050
MIDDLE = $0104
mem_0150 = $0150
PORT = $4000
0100 MAIN: LDAA PORT
0103 : STAA mem_0150
0106 : STAA mem_0050
0108 : STAA MIDDLE
010B : RTS
)");
  EXPECT_NE(source_text(program).find("PORT        EQU     $4000                   ; the pump\n"), std::string::npos);
}

TEST_F(Disassembler, MakesNamesThatAreFree) {
  options.names = {{0x4000, "to_0101", ""}, {0x4001, "to_0101_", ""}};
  EXPECT_EQ(read(" ORG $0100\n NOP\n LDAA $4001\n BRA $0101\n"),
            "to_0101_ = $4001\n0100 entry_0100: NOP\n0101 to_0101__: LDAA to_0101_\n0104 : BRA to_0101__\n");
}

TEST_F(Disassembler, LeavesNumbersThatAreNoAddresses) {
  EXPECT_EQ(read(" ORG $0000\n LDX #5\n CPX #$0002\n LDX #$4000\n RTS\n"),
            "0000 entry_0000: LDX #$0005\n0003 : CPX #$0002\n0006 : LDX #$4000\n0009 : RTS\n");
  options.names = {{0x4000, "PORT", ""}};
  EXPECT_EQ(read(" ORG $0200\n LDX #$0200\n LDX #$4000\n RTS\n"),
            "PORT = $4000\n0200 entry_0200: LDX #entry_0200\n0203 : LDX #PORT\n0206 : RTS\n");
}

TEST_F(Disassembler, KeepsSizesThatTheAssemblerWouldNotChoose) {
  EXPECT_EQ(read(" ORG $0100\n LDAA >$0040\n LDAA $40\n CLR $0040\n RTS\n"),
            R"(mem_0040 = $0040
0100 entry_0100: LDAA >mem_0040
0103 : LDAA mem_0040
0105 : CLR mem_0040
0108 : RTS
)");
  EXPECT_EQ(
      read(" ORG $E000\n LDA >$0040\n LDA <5,X\n LDA >5,X\n LDA <<0,X\n LDA $E000,X\n LDA [>5,Y]\n RTS\n", "mc6809"),
      R"(mem_0040 = $0040
E000 entry_E000: LDA >mem_0040
E003 : LDA <$05,X
E006 : LDA >$0005,X
E00A : LDA <<$00,X
E00C : LDA >entry_E000,X
E010 : LDA [>$0005,Y]
E014 : RTS
)");
}

TEST_F(Disassembler, KnowsADirectPage) {
  options.direct_page = 0x20;
  EXPECT_EQ(read(R"(
        ORG     $1FFE
        SETDP   $20
        BRA     OVER
DATA    FCB     1
OVER    LDA     <DATA
        LDA     >DATA
        LDA     <$2080
        LDA     >$0080
        JMP     <$2001
)",
                 "mc6809"),
            R"(mem_0080 = $0080
mem_2080 = $2080
1FFE entry_1FFE: BRA to_2001
2000 data_2000: FCB $01
2001 to_2001: LDA <data_2000
2003 : LDA >data_2000
2006 : LDA <mem_2080
2008 : LDA >mem_0080
200B : JMP <to_2001
)");
}

// Shorter instructions would bring the label into reach of themselves, and that would settle, too.
TEST_F(Disassembler, KeepsLongFormsThatTheAssemblerCouldDoWithout) {
  EXPECT_EQ(read(" ORG $00FA\n FCB $B6,$01,$01\n FCB $B6,$01,$01\n RTS\n FCB 1\n", "mc6800"),
            "00FA entry_00FA: LDAA >data_0101\n00FD : LDAA >data_0101\n0100 : RTS\n0101 data_0101: FCB $01\n");
  EXPECT_EQ(read(" ORG $00FB\n FCB $10,$BE,$01,$01\n NOP\n RTS\n FCB 1\n", "mc6809"),
            "00FB entry_00FB: LDY >data_0101\n00FF : NOP\n0100 : RTS\n0101 data_0101: FCB $01\n");
  // Far enough from the page there is no danger.
  EXPECT_EQ(read(" ORG $0100\n FCB $B6,$01,$04\n RTS\n FCB 1\n", "mc6800"),
            "0100 entry_0100: LDAA data_0104\n0103 : RTS\n0104 data_0104: FCB $01\n");
  // The label lies 129 bytes before the end of the instruction, and 128 before the end of a shorter one.
  Image image = image_of(0xE000, std::vector<std::uint8_t>(0x7D, 0x12));
  std::vector<std::uint8_t>& bytes = image.segments[0].bytes;
  bytes.insert(bytes.end(), {0xA6, 0x8D, 0xFF, 0x7F, 0x39});
  options.cpu = "mc6809";
  EXPECT_EQ(read_back(image, options).lines[0x7D].operand, ">entry_E000,PCR");
}

TEST_F(Disassembler, WritesBytesThatTheAssemblerWouldChange) {
  // M6809PM table 2-1: register bits mean nothing beside the program counter.
  EXPECT_EQ(read(" ORG $E000\n FCB $A6,$EC,$01\n RTS\n NOP\n", "mc6809"),
            "E000 entry_E000: FCB $A6,$EC,$01 ; LDA <$E004,PCR\nE003 : RTS\nE004 data_E004: FCB $12\n");
}

// Range ---------------------------------------------------------------------------------------------------------------

TEST_F(Disassembler, WritesARangeAndFollowsTheRest) {
  const std::string source = " ORG $0100\n BSR TWO\n JMP TWO\nTWO LDAA $0100\n RTS\n";
  options.cpu = "mc6800";
  const Image image = made("mc6800", source);
  options.range = {0x0103, 0x0108};
  const DisassembledProgram part = disassemble_program(image, options);
  EXPECT_EQ(source_text(part), R"(; Program for the MC6800, read back from its bytes.
            CPU     mc6800

entry_0100  EQU     $0100

            ORG     $0103
            FCB     $01
            FCB     $05

call_0105   LDAA    entry_0100
            RTS
)");
}

// Faults --------------------------------------------------------------------------------------------------------------

TEST_F(Disassembler, RefusesWhatTheImageDoesNotAllow) {
  const Image image = image_of(0xFFF0, std::vector<std::uint8_t>(16, 0x39));
  options.cpu = "mc6801";
  EXPECT_EQ(faults(image), "disassembly-cpu\n");
  options.cpu = "mc6800";
  EXPECT_EQ(faults(image), "none");
  EXPECT_EQ(faults(Image{}), "disassembly-empty\n");
  EXPECT_EQ(faults(image_of(0xFFFF, {1, 2})), "disassembly-past-end\n");
  options.entries = {0xFFEF, 0xFFFE};
  options.names = {{0x4000, "A", ""}, {0x4001, "1ST", ""}, {0x4002, ".in", ""}, {0x4003, std::string(101, 'N'), ""}};
  options.tables = {{0xFFF0, 0xFFF2}, {0xFFEE, 0xFFF1}};
  options.range = {0x1000, 0x1FFF};
  options.direct_page = 1;
  EXPECT_EQ(faults(image), R"(disassembly-direct-page
disassembly-name
disassembly-name
disassembly-name
disassembly-name
disassembly-table
disassembly-table
disassembly-range
disassembly-entry
disassembly-entry
)");
}

}  // namespace
}  // namespace prewire::testing
