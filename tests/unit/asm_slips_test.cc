// Slips, and notations of other assemblers: each gets the line as it should read, or a way out.
#include <gtest/gtest.h>

#include "unit/asm_testing.h"

namespace prewire::testing {
namespace {

constexpr const char* kWrite = "write\n              ";

/// The mended line of the first fault, or its hint, or what came out instead.
std::string mended(const std::string& line, const std::string& cpu) {
  const std::string before = "PORT EQU $4000\nN1 EQU 5\n";
  try {
    return bytes_of(assemble(before + line + "\n", "lab.asm", {.cpu = cpu, .folder = {}, .root = {}}));
  } catch (const InputError& error) {
    const std::string hint = error.faults().front().hint;
    const std::size_t at = hint.find(kWrite);
    return at == std::string::npos ? "hint: " + hint : hint.substr(at + std::string_view(kWrite).size());
  }
}

struct Case {
  const char* line;
  const char* mended;
};

void expect(const std::string& cpu, const std::vector<Case>& cases) {
  for (const Case& each : cases) {
    EXPECT_EQ(mended(each.line, cpu), each.mended) << each.line;
    // What is advised is a line that assembles, or is at least no slip any more.
    if (std::string_view(each.mended).substr(0, 5) == "hint:") continue;
    const std::string again = mended(each.mended, cpu);
    EXPECT_EQ(again.find("asm-mnemonic"), std::string::npos) << again;
  }
}

TEST(AsmSlips, Columns) {
  expect("mc6800", {
                       {"LDAA #5", "        LDAA #5"},
                       {"LDAA#5", "        LDAA #5"},
                       {" LDAA#5", " LDAA #5"},
                       {" LDAA$40", " LDAA $40"},
                       {" LDAA5,X", " LDAA 5,X"},
                       {"L1 JMP$4000", "L1 JMP $4000"},
                       {" FCC\"text\"", " FCC \"text\""},
                       {"  LOOP LDAA #5", "LOOP LDAA #5"},
                       {" COUNT RMB 1", "COUNT RMB 1"},
                       {" N = 5", "N EQU 5"},
                       {"N = 5", "N EQU 5"},
                       {"N=5", "N EQU 5"},
                       {"MY-LABEL NOP", "MY_LABEL NOP"},
                       {"@again NOP", ".again NOP"},
                   });
}

TEST(AsmSlips, Comments) {
  expect("mc6800", {
                       {"// load it", "; load it"},
                       {" // load it", " ; load it"},
                       {" LDAA #5// load it", " LDAA #5 ; load it"},
                       {"/* load it", "; load it"},
                       {"# load it", "; load it"},
                       {"! load it", "; load it"},
                   });
  EXPECT_EQ(mended(" LDAA #5 // load it", "mc6800"), "$0000: 86 05\n");
  EXPECT_EQ(faults_of("// load it now\n#define N 5\n NOP\n", "mc6800"), "1:1 asm-label\n2:1 asm-label\n");
}

TEST(AsmSlips, RegistersApart) {
  expect("mc6809", {
                       {" LDA A #5", " LDA #5"},
                       {" LDA A,#5", " LDA #5"},
                       {" LDA B #5", " LDB #5"},
                       {" STA B PORT", " STB PORT"},
                       {" INC A", " INCA"},
                       {" CMP A #5", " CMPA #5"},
                       {" ADD D #5", " ADDD #5"},
                       {" LD X #5", " LDX #5"},
                       {" LDX X #5", " LDX #5"},
                       {" PSH A", " PSHS A"},
                       {" PUL A,B", " PULS A,B"},
                       {" PSHA", " PSHS A"},
                       {" LDA X", " LDA ,X"},
                       {" LDAA #5", " LDA #5"},
                       {" INX", " LEAX 1,X"},
                       {" LEAX PORT", " LEAX PORT,PCR"},
                   });
  expect("mc6800", {
                       {" LDA #5", " LDAA #5"},
                       {" LDA A,#5", " LDAA #5"},
                       {" LD X #5", " LDX #5"},
                       {" STAA #5", " STAA 5"},
                       {" PSH A B", "hint: the next one has a line of its own"},
                   });
  EXPECT_EQ(mended(" LDA A,X\n TFR A,B\n PSHS A\n", "mc6809"), "$0000: A6 86 1F 89 34 02\n");
}

TEST(AsmSlips, DirectivesOfTheTrade) {
  expect("mc6800",
         {
             {" DB 1,2", " FCB 1,2"},
             {" .byte 1", " FCB 1"},
             {" DC.B 1", " FCB 1"},
             {" DEFB 1", " FCB 1"},
             {" DW PORT", " FDB PORT"},
             {" .word PORT", " FDB PORT"},
             {" DS 4", " RMB 4"},
             {" .space 4", " RMB 4"},
             {" BSZ 4", " FILL 0,4"},
             {" .org $100", " ORG $100"},
             {"N .equ 5", "N EQU 5"},
             {" .ascii \"text\"", " FCC \"text\""},
             {" ALIGN 16", " ORG (*+16-1)/16*16"},
             {" .include \"more.asm\"", " INCLUDE \"more.asm\""},
             {"#include \"more.asm\"", "        INCLUDE \"more.asm\""},
             {"#define N 5", "N EQU 5"},
             {"*=$F000", "        ORG     $F000"},
             {" * = $F000 ; on", "        ORG     $F000 ; on"},
             {" XDEF PORT", "hint: one source makes one image, without a linker: INCLUDE brings in another source"},
             {" SECTION ROM", "hint: there are no sections: ORG says where what follows goes"},
             {" FCC /A/,13", "        FCB     13"},
             {" FCB \"A\"", " FCB 'A"},
         });
  EXPECT_EQ(faults_of(" NOP\n*==== part two ====\n* = 5 volts\n*\n", "mc6800"), "");
}

TEST(AsmSlips, Conditions) {
  expect("mc6800", {
                       {" IFDEF N1", " IF N1"},
                       {" IFNDEF N1", " IF N1=0"},
                       {" IFEQ N1", " IF N1=0"},
                       {" IFGT N1-2", " IF N1-2>0"},
                       {" .if N1", " IF N1"},
                   });
  // What else the source gives its structure by is understood: no fault follows from another.
  EXPECT_EQ(faults_of(" IFDEF N\n NOP\n ELSEIF M\n NOP\n ELSE\n NOP\n ENDC\n NOP\n", "mc6800"),
            "1:2 asm-if-other\n3:2 asm-if-other\n7:2 asm-mnemonic\n");
  EXPECT_EQ(faults_of("M .macro P\n FCB \\P\n .endm\n M 1\n", "mc6800"), "1:3 asm-mnemonic\n3:2 asm-mnemonic\n");
  EXPECT_EQ(faults_of(" IF 0\n IFDEF N\n ELSEIF\n ENDIF\n FOO\n ENDIF\n NOP\n", "mc6800"), "");
}

TEST(AsmSlips, Numbers) {
  expect("mc6800", {
                       {" LDAA #FFH", " LDAA #$FF"},
                       {" LDAA #$FFH", " LDAA #$FF"},
                       {" LDAA #$0xFF", " LDAA #$FF"},
                       {" LDAA #X'FF'", " LDAA #$FF"},
                       {" LDAA #B'101'", " LDAA #%101"},
                       {" LDAA #\"A\"", " LDAA #'A"},
                       {" LDAA #1F", "hint: if it is hex, write $1F"},
                   });
  EXPECT_EQ(mended(" FCB 0xFF,0FFh,1010b,'A',0b11", "mc6800"), "$0000: FF FF 0A 41 03\n");
}

TEST(AsmSlips, AMacroTakesTheWordsItTakes) {
  EXPECT_EQ(assembled("STOP MACRO\n FCB 7\n ENDM\n STOP here, then wait\n STOP now\n STOP\n", "mc6800"),
            "$0000: 07 07 07\n");
  EXPECT_EQ(faults_of("N EQU 5\nSTOP MACRO\n FCB 7\n ENDM\n STOP 5\n STOP N\n STOP A\n STOP ,5\n", "mc6800"),
            "5:7 asm-macro-arguments\n6:7 asm-macro-arguments\n7:7 asm-macro-arguments\n8:7 asm-blank\n");
}

TEST(AsmOddTexts, CountedText) {
  EXPECT_EQ(assembled(" FCC 5,AB CD comment\n FCC 2,\"\"\n FCC 1,;\n"), "$0000: 41 42 20 43 44 22 22 3B\n");
  EXPECT_EQ(faults_of(" FCC 5,ABC\n FCC 0,A\n FCC 5\n FCC 99999999999999999999,A\n FCC 2,ABC\n"),
            "1:6 asm-text\n2:6 asm-text\n3:6 asm-text\n4:6 asm-text\n5:10 asm-operand\n");
}

TEST(AsmOddTexts, EmptyItems) {
  EXPECT_EQ(faults_of(" FCB 1,,3\n FCB ,\n"), "1:8 asm-item-empty\n");
  EXPECT_EQ(assemble(" FCB 1,,3\n FCB ,\n FDB 1, ; the last\n FCB , , 5\n", "lab.asm",
                     {.cpu = "mc6809", .folder = {}, .root = {}})
                .segments.at(0)
                .bytes,
            (std::vector<std::uint8_t>{1, 0, 3, 0, 0, 0, 1, 0, 0, 0, 0, 5}));
  EXPECT_EQ(faults_of(" FCB\n FDB ; none\n FILL ,5\n"),
            "1:5 asm-value-missing\n2:6 asm-value-missing\n3:7 asm-value\n");
}

TEST(AsmOddTexts, PagesAndEnds) {
  const std::string padding(20, '\x1A'), zeros(7, '\0');
  EXPECT_EQ(assembled(" NOP\n\f\n\fTOP NOP\n BRA TOP\f\n\x1A"), "$0000: 12 12 20 FD\n");
  EXPECT_EQ(assembled(" NOP\r\n" + padding), "$0000: 12\n");
  EXPECT_EQ(assembled(" NOP\n" + zeros), "$0000: 12\n");
  EXPECT_EQ(assembled(" NOP \x1A\n\n" + padding + zeros), "$0000: 12\n");
  EXPECT_EQ(faults_of(padding), "0:0 asm-empty\n");
  // In the middle it is a character like others that no line may have.
  EXPECT_EQ(faults_of(" NOP\n\x1A\n NOP\n"), "2:1 asm-label\n");
}

TEST(AsmOddTexts, BlanksInBrackets) {
  EXPECT_EQ(assembled(" LDA [ 5 + 1 , X ]\n LDA [A ,X]\n LDA [ $1234 ]\n"), "$0000: A6 98 06 A6 96 A6 9F 12 34\n");
}

TEST(AsmOddTexts, NamesOfProcessors) {
  for (const char* name : {"6809", "mc6809", "MC6809", "Mc6809"}) {
    EXPECT_EQ(assembled(" LDY #5\n", name), "$0000: 10 8E 00 05\n");
    EXPECT_EQ(assembled(fmt::format(" CPU {}\n LDY #5\n", name), ""), "$0000: 10 8E 00 05\n");
  }
  EXPECT_EQ(assemble(" NOP\n", "lab.asm", {.cpu = "6802", .folder = {}, .root = {}}).source->cpu, "mc6802");
  EXPECT_EQ(faults_of(" NOP\n", "6801"), "0:0 asm-cpu\n");
}

}  // namespace
}  // namespace prewire::testing
