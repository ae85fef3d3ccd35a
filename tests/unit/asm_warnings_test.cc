// What is legal and bites those who learn; and what must not be complained about.
#include <gtest/gtest.h>

#include "unit/asm_testing.h"

namespace prewire::testing {
namespace {

TEST(AsmWarnings, HashForgotten) {
  EXPECT_EQ(faults_of(" LDAA 10\n LDAA 'A\n LDX 1000\n CMPB 7\n", "mc6800"),
            "1:7 asm-hash-missing\n2:7 asm-hash-missing\n3:6 asm-hash-missing\n4:7 asm-hash-missing\n");
  // Elsewhere the name stands with #, and nothing is stored there.
  EXPECT_EQ(faults_of("FULL EQU 200\n LDAA FULL\n CMPA #FULL\n", "mc6800"), "2:7 asm-hash-missing\n");
  // Addresses in hex, by name, or by force.
  EXPECT_EQ(faults_of("PORT EQU $80\n LDAA $10\n LDAA PORT\n LDX #PORT\n LDAA >10\n CLR 10\n STAA 10\n", "mc6800"), "");
}

TEST(AsmWarnings, HashSuperfluous) {
  EXPECT_EQ(faults_of(" ORG $10\nLEVEL RMB 1\n ORG $100\n LDAA #LEVEL\n", "mc6800"), "4:7 asm-hash-extra\n");
  EXPECT_EQ(faults_of("PORT EQU $80\n LDAA #PORT\n STAA PORT\n", "mc6800"), "2:7 asm-hash-extra\n");
  EXPECT_EQ(faults_of(" ORG $10\nLEVEL RMB 1\n ORG $100\n LDX #LEVEL\n LDAA #LEVEL+1\n LDAA LEVEL\n", "mc6800"), "");
}

TEST(AsmWarnings, BranchToData) {
  EXPECT_EQ(
      faults_of(" BRA TABLE\n JMP TEXT\nTABLE FCB 1\nTEXT\n FCC /A/\nROOM RMB 5\n BNE ROOM\n JSR ROOM\n", "mc6800"),
      "1:6 asm-branch-data\n2:6 asm-branch-data\n7:6 asm-branch-data\n");
  EXPECT_EQ(faults_of("TOP\n NOP\n BRA TOP\n", "mc6800"), "");
}

TEST(AsmWarnings, Unused) {
  EXPECT_EQ(faults_of("START NOP\nSPARE NOP\nN EQU 5\nV SET 5\n BRA *\n", "mc6800"),
            "2:1 asm-unused\n3:1 asm-unused\n");
  EXPECT_EQ(faults_of("M MACRO\nL NOP\n ENDM\nSTART NOP\n M\n", "mc6800"), "");
  EXPECT_EQ(faults_of("BYTE RMB 1\n ORG $100\nSTART NOP\n", "mc6800"), "1:1 asm-unused\n");
}

TEST(AsmWarnings, Vectors) {
  EXPECT_EQ(faults_of(" ORG $F000\n NOP\n NOP\n", "mc6800"), "2:1 asm-no-vector\n");
  EXPECT_EQ(faults_of(" ORG $F000\nGO SWI\n ORG $FFFE\n FDB GO\n", "mc6800"), "2:1 asm-no-vector\n");
  EXPECT_EQ(faults_of(" ORG $F000\nGO SWI\n ORG $FFFA\n FDB GO,GO,GO\n", "mc6800"), "");
  EXPECT_EQ(faults_of(" ORG $100\n SWI\n", "mc6800"), "");
}

TEST(AsmWarnings, BlanksInOperands) {
  EXPECT_EQ(faults_of("N EQU 1\n LDAA #N + 1\n LDAA #N - N\n LDAA #N * $10 ; text\n", "mc6800"),
            "2:10 asm-blank\n3:10 asm-blank\n4:10 asm-blank\n");
  // With a fault, too: it may be the reason.
  EXPECT_EQ(faults_of(" LDAA #1 + 1\n FOO\n", "mc6800"), "2:2 asm-mnemonic\n1:10 asm-blank\n");
  EXPECT_EQ(faults_of(" LDAA #1 - the first\n LDAA #2 + more\n LDAA #3 ; + 1\n LDAA #4 -> port\n LDAA #5 * 5 volts\n",
                      "mc6800"),
            "");
}

TEST(AsmWarnings, OperandsThatAreIgnored) {
  EXPECT_EQ(faults_of(" INCA #1\n NOP $10\n RTS # done\n", "mc6800"),
            "1:7 asm-operand-ignored\n2:6 asm-operand-ignored\n3:6 asm-operand-ignored\n");
  EXPECT_EQ(faults_of(" INCA one more\n NOP ; $10\n", "mc6800"), "");
}

TEST(AsmWarnings, MnemonicInTheFirstColumn) {
  EXPECT_EQ(faults_of(" NOP\nRTS\n", "mc6800"), "2:1 asm-label-mnemonic\n2:1 asm-unused\n");
  EXPECT_EQ(faults_of("LDAA #5\n", "mc6800"), "1:6 asm-mnemonic\n");
}

}  // namespace
}  // namespace prewire::testing
