// The language: columns, labels, directives, conditions, spellings of instructions. Opcodes: MC6800 data sheet, table
// "Accumulator and Memory Instructions" and those after it; M6809PM, table C-1.
#include <gtest/gtest.h>

#include "cpu/cpus.h"
#include "prewire/cpu.h"
#include "unit/asm_testing.h"

namespace prewire::testing {
namespace {

TEST(AsmLines, Columns) {
  EXPECT_EQ(assembled("* a comment\n; another\n   ; a third\n   * a fourth\n\n \t\n"
                      "START LDA #1 loads one\n"
                      "\tLDA\t#2;no blank before\n"
                      "next: NOP\n"
                      "  later: NOP\n"
                      "alone\n"
                      " FDB START,next,later,alone\n"),
            "$0000: 86 01 86 02 12 12 00 00 00 04 00 05 00 06\n");
}

TEST(AsmLines, EndsOfLines) {
  EXPECT_EQ(assembled(" NOP\r\n NOP\r NOP\n NOP"), "$0000: 12 12 12 12\n");
  EXPECT_EQ(assembled("\xEF\xBB\xBF NOP"), "$0000: 12\n");
}

TEST(AsmLines, ColumnsCountCharacters) {
  EXPECT_EQ(assembled("\xC3\xA4rger NOP\n NOP $\xC3\xA4 \n FCB 'A,\xC3\xA4 ; \xC3\xA4\n"),
            "lab.asm:1:1: stop: what stands in the first column is no name for a label [asm-label]\n"
            "    expected: a letter, '_' or '.', then letters, digits, '_' and '.'\n"
            "    found:    \xC3\xA4rger NOP\n"
            "              ^\n"
            "    hint:     a line without a label begins with a blank\n"
            "lab.asm:3:9: stop: no value begins like this [asm-value]\n"
            "    expected: a number such as 10, $1F, %1010, @17 or 'A, a name, or * for this address\n"
            "    found:    character $C3\n"
            "               FCB 'A,\xC3\xA4 ; \xC3\xA4\n"
            "                      ^\n"
            "lab.asm:2:6: warn: NOP takes no operand: this is taken for a comment [asm-operand-ignored]\n"
            "    found:     NOP $\xC3\xA4\n"
            "                   ^\n"
            "    hint:     remove it, or begin the comment with ;\n");
}

TEST(AsmLines, NamesAreCaseSensitiveMnemonicsAreNot) {
  EXPECT_EQ(assembled("one equ 1\nOne Equ 2\n lda #one\n LdA #One\n"), "$0000: 86 01 86 02\n");
}

TEST(AsmDirectives, Data) {
  EXPECT_EQ(assembled(" ORG $100\n FCB 1,-1,255,'A, 2\n FDB 1,-1,$FFFF,*\n FCC /AB/\n FCC \"a b\" text\n FILL $AA,3\n"),
            "$0100: 01 FF FF 41 02 00 01 FF FF FF FF 01 05 41 42 61 20 62 AA AA AA\n");
}

TEST(AsmDirectives, SpaceAndPlaces) {
  EXPECT_EQ(assembled("ROM EQU $F000\n ORG ROM\nTOP NOP\n RMB 3\n NOP\n ORG TOP+$10\nAT NOP\n RMB AT-TOP\n NOP\n"),
            "$F000: 12\n$F004: 12\n$F010: 12\n$F021: 12\n");
  EXPECT_EQ(assembled(" NOP\nHERE ORG *+$0F\n FDB HERE\n"), "$0000: 12\n$0010: 00 10\n");
  EXPECT_EQ(assembled(" RMB 0\n FILL 1,0\n NOP\n"), "$0000: 12\n");
}

TEST(AsmDirectives, Values) {
  EXPECT_EQ(assembled("A1 EQU B1+1\nB1 EQU C1+1\nC1 EQU 5\n FCB A1,B1,C1\n"), "$0000: 07 06 05\n");
  EXPECT_EQ(assembled("N SET 1\n FCB N\nN SET N*2+1\n FCB N\nN SET N*2+1\n FCB N\n"), "$0000: 01 03 07\n");
  EXPECT_EQ(assembled("LAST EQU FIN-1\n FDB LAST\nFIN FCB 0\n"), "$0000: 00 01 00\n");
}

TEST(AsmDirectives, End) {
  const Image image = assemble(" ORG $100\nGO NOP\n END GO\n nonsense after it\n", "lab.asm",
                               {.cpu = "mc6800", .folder = {}, .root = {}});
  EXPECT_EQ(image.entry, 0x100U);
  EXPECT_EQ(bytes_of(image), "$0100: 01\n");
  EXPECT_EQ(faults_of(" NOP\n END NOWHERE\n"), "2:6 asm-undefined\n");
  EXPECT_EQ(faults_of(" NOP\n END 65536\n"), "2:1 asm-range\n");
}

TEST(AsmDirectives, Name) {
  const auto header = [](const char* source) {
    return assemble(source, "some/lab.asm", {.cpu = "mc6800", .folder = {}, .root = {}}).header;
  };
  EXPECT_EQ(header(" NAM BARREL the gauge\n NOP\n"), "BARREL");
  EXPECT_EQ(header(" NOP\n"), "lab");
}

TEST(AsmDirectives, Conditions) {
  const std::string source =
      " IF DEPTH>2\n FCB 1\n IF DEPTH>5\n FCB 2\n ELSE\n FCB 3\n ENDIF\n ELSE\n FCB 4\n IF DEPTH\n FCB 5\n ENDIF\n "
      "ENDIF\n FCB 6\n";
  EXPECT_EQ(assembled("DEPTH EQU 9\n" + source), "$0000: 01 02 06\n");
  EXPECT_EQ(assembled("DEPTH EQU 3\n" + source), "$0000: 01 03 06\n");
  EXPECT_EQ(assembled("DEPTH EQU 1\n" + source), "$0000: 04 05 06\n");
  EXPECT_EQ(assembled("DEPTH EQU 0\n" + source), "$0000: 04 06\n");
  // What is skipped may be anything.
  EXPECT_EQ(assembled(" IF 0\n ***\n ?? FOO\nM MACRO\n ENDM\n INCLUDE nothing\n ENDIF\n NOP\n"), "$0000: 12\n");
}

TEST(AsmDirectives, Processor) {
  EXPECT_EQ(assembled(" CPU MC6800\n LDA A #5\n", ""), "$0000: 86 05\n");
  EXPECT_EQ(assembled(" CPU mc6809\n LDY #5\n", ""), "$0000: 10 8E 00 05\n");
  EXPECT_EQ(assembled(" CPU mc6802\n INC B\n", "mc6808"), "$0000: 5C\n");
  EXPECT_EQ(assemble(" CPU mc6802\n INCB\n", "lab.asm").source->cpu, "mc6802");
  EXPECT_EQ(faults_of(" NOP\n LDY #5\n", ""), "1:2 asm-cpu-missing\n");
  EXPECT_EQ(faults_of(" CPU mc6809\n NOP\n", "mc6800"), "1:6 asm-cpu-clash\n");
  EXPECT_EQ(faults_of(" CPU mc6809\n LDA #1\n LDY #2\n", "mc6800"), "1:6 asm-cpu-clash\n") << "the rest follows";
  EXPECT_EQ(faults_of(" NOP\n", "mc6801"), "0:0 asm-cpu\n");
}

TEST(AsmDirectives, EveryProcessorOfAMachineCanBeAssembledFor) {
  for (const CpuType& type : cpu_types()) {
    EXPECT_EQ(faults_of(" NOP\n", type.chip.name), "") << type.chip.name;
  }
}

TEST(AsmInstructions, ClassicSpellings) {
  // MC6800 data sheet, table "Accumulator and Memory Instructions".
  const std::string joined = " LDAA #1\n STAB $4000\n ORAA 2,X\n PSHA\n PULB\n INCA\n CLRB\n CMPB $10\n NEGA\n TSTB\n";
  const std::string apart =
      " LDA A #1\n STA B $4000\n ORA A 2,X\n PSH A\n PUL B\n INC A\n CLR B\n CMP B $10\n NEG A\n TST B\n";
  EXPECT_EQ(assembled(apart, "mc6800"), assembled(joined, "mc6800"));
  EXPECT_EQ(assembled(joined, "mc6800"), "$0000: 86 01 F7 40 00 AA 02 36 33 4C 5F D1 10 40 5D\n");
  EXPECT_EQ(assembled(" inc a comes first\n LDA B ,X\n LDX X\n LDA A X\n", "mc6800"), "$0000: 4C E6 00 EE 00 A6 00\n");
  EXPECT_EQ(faults_of(" LDA #5\n", "mc6800"), "1:2 asm-mnemonic\n");
  EXPECT_EQ(faults_of(" LDA A\n", "mc6800"), "1:7 asm-operand-missing\n");
  EXPECT_EQ(faults_of(" LDA A #5\n", "mc6809"), "1:6 asm-register\n");
}

TEST(AsmInstructions, TwoNamesOfTheMc6809) {
  // M6809PM, appendix A.
  EXPECT_EQ(assembled(" LSL $1234\n LSLA\n LSLB\n BHS *+2\n BLO *+2\n LBHS *+4\n LBLO *+4\n"),
            assembled(" ASL $1234\n ASLA\n ASLB\n BCC *+2\n BCS *+2\n LBCC *+4\n LBCS *+4\n"));
  EXPECT_EQ(faults_of(" BHS *\n", "mc6800"), "1:2 asm-mnemonic\n");
}

TEST(AsmInstructions, RegisterLists) {
  // M6809PM, appendix A: the order in the list does not matter.
  EXPECT_EQ(
      assembled(" PSHS A,B,CC\n PSHS CC,B,A\n PSHS D, CC\n PULS PC,U,Y,X,DP,B,A,CC\n PSHU S\n PULU PC\n PSHS #$06\n"),
      "$0000: 34 07 34 07 34 07 35 FF 36 40 37 80 34 06\n");
  EXPECT_EQ(faults_of(" PSHS S\n PSHU U\n PSHS A,A\n PSHS A,D\n PSHS\n PSHS Z\n PSHS A,\n PSHS #256\n"),
            "1:7 asm-register-name\n2:7 asm-register-name\n3:9 asm-register-twice\n4:9 asm-register-twice\n"
            "5:6 asm-operand-missing\n6:7 asm-register-name\n7:9 asm-register-name\n8:7 asm-range\n");
}

TEST(AsmInstructions, RegisterPairs) {
  // M6809PM, appendix A, TFR and EXG: D 0, X 1, Y 2, U 3, S 4, PC 5, A 8, B 9, CC $A, DP $B; the source in the high
  // half.
  EXPECT_EQ(assembled(" TFR A,DP\n TFR X, D\n EXG CC,B\n EXG PC,S\n"), "$0000: 1F 8B 1F 10 1E A9 1E 54\n");
  EXPECT_EQ(faults_of(" TFR A,X\n TFR A\n TFR Q,A\n EXG A,B,C\n"),
            "1:6 asm-register-width\n2:7 asm-register-name\n3:6 asm-register-name\n4:9 asm-operand\n");
}

TEST(AsmInstructions, OperandsOfTheWrongForm) {
  EXPECT_EQ(
      faults_of(
          " STA #1\n JMP #1\n LEAX $1234\n BRA 5,X\n LDA\n LDA [5\n LDA ,\n LDA 5,Q\n LDA 5,PC\n LDA ,PCR\n"
          " LDA 5,X+\n LDA [,X+]\n LDA [,-X]\n LDA #<5\n LDA <,X\n LDA <<$10\n LDA <<5,PCR\n LDA [<<5,X]\n LDA [<5]\n"),
      "1:6 asm-mode\n2:6 asm-mode\n3:7 asm-mode\n4:6 asm-mode\n5:5 asm-operand-missing\n6:6 asm-bracket\n"
      "7:7 asm-index\n8:8 asm-index\n9:8 asm-index\n10:7 asm-index\n11:8 asm-index\n12:6 asm-indirect\n"
      "13:6 asm-indirect\n14:7 asm-force\n15:6 asm-force\n16:6 asm-force\n17:6 asm-force\n18:6 asm-force\n"
      "19:6 asm-force\n");
  EXPECT_EQ(
      faults_of(" LDAA [5]\n LDAA 5,Y\n LDAA ,X+\n LDAA <5,X\n LDAA -1,X\n LDAA 256,X\n CLR <5\n SETDP 0\n", "mc6800"),
      "1:7 asm-indirect\n2:9 asm-index\n3:8 asm-index\n4:7 asm-force\n5:7 asm-range\n6:7 asm-range\n"
      "7:6 asm-force\n8:2 asm-setdp\n");
}

}  // namespace
}  // namespace prewire::testing
