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
  // Nothing uses it as an address, and it does not look like one.
  EXPECT_EQ(faults_of("FULL EQU 200\n LDAA FULL\n", "mc6800"), "2:7 asm-hash-missing\n");
  EXPECT_EQ(faults_of("MARK EQU 'A\nLAST EQU MARK+25\nBITS EQU %101\n CMPA LAST\n ANDA BITS\n LDAA MARK\n", "mc6800"),
            "4:7 asm-hash-missing\n5:7 asm-hash-missing\n6:7 asm-hash-missing\n");
  EXPECT_EQ(faults_of("SIZE EQU LAST-FIRST\nFIRST FCB 1\nLAST FCB 2\n CPX SIZE\n", "mc6800"), "4:6 asm-hash-missing\n");
  EXPECT_EQ(faults_of("N SET 5\n SUBB N\n", "mc6800"), "2:7 asm-hash-missing\n");
  // Of two hex digits it may be a port.
  const std::vector<Fault> doubtful =
      assemble("CR EQU $0D\n CMPA CR\n", "lab.asm", {.cpu = "mc6800", .folder = {}, .root = {}}).remarks;
  ASSERT_EQ(doubtful.size(), 1U);
  EXPECT_EQ(doubtful[0].weight, Weight::hint);
  EXPECT_EQ(faults_of("PORT EQU $4000\nNEXT EQU PORT+1\nLOW EQU $0080\n LDAA PORT\n LDAA NEXT\n LDAA LOW\n", "mc6800"),
            "");
  EXPECT_EQ(faults_of("SPOT EQU 64\n LDAA SPOT\n STAA SPOT\n", "mc6800"), "");
  EXPECT_EQ(faults_of("SPOT EQU 64\n LDAA SPOT\n CLR SPOT+1\n", "mc6800"), "");
  EXPECT_EQ(faults_of("BASE EQU $80\nCTRL EQU BASE+1\n LDAA BASE\n STAA CTRL\n", "mc6800"), "");
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
  EXPECT_EQ(faults_of(" LDAA #1 - the first\n LDAA #2 + more\n LDAA #3 ; + 1\n LDAA #4 -> port\n", "mc6800"), "");
}

TEST(AsmWarnings, OperandsThatAreIgnored) {
  EXPECT_EQ(faults_of(" INCA #1\n NOP $10\n RTS # done\n", "mc6800"),
            "1:7 asm-operand-ignored\n2:6 asm-operand-ignored\n3:6 asm-operand-ignored\n");
  EXPECT_EQ(faults_of(" RTS # done\n", "mc6800"), "1:6 asm-operand-ignored\n");
  EXPECT_EQ(faults_of(" INCA one more\n NOP ; $10\n", "mc6800"), "");
}

TEST(AsmWarnings, BesideFaults) {
  EXPECT_EQ(faults_of("FULL EQU 200\n LDAA FULL\n FOO\nSPARE BRA TABLE\nTABLE FCB 1\n", "mc6800"),
            "3:2 asm-mnemonic\n2:7 asm-hash-missing\n4:11 asm-branch-data\n");
}

TEST(AsmWarnings, OfOneKindAreOne) {
  const auto remarks = [](const std::string& source) {
    std::string text;
    for (const Fault& fault : assemble(source, "lab.asm", {.cpu = "mc6800", .folder = {}, .root = {}}).remarks) {
      text += fmt::format("{}: {}\n", fault.place.line, fault.what);
    }
    return text;
  };
  EXPECT_EQ(remarks(" LDAA 10\n LDAB 10\n LDAA 11\n CMPA 10\n"),
            "1: this takes the memory at address $000A, not the number 10 (also in lines 2 and 4)\n"
            "3: this takes the memory at address $000B, not the number 11\n");
  std::string many, unused;
  for (int i = 0; i < 40; ++i) many += " LDAA 10\n";
  EXPECT_EQ(remarks(many),
            "1: this takes the memory at address $000A, not the number 10 (also in lines 2, 3, 4, 5, 6, 7 and 33 more "
            "lines)\n");
  for (int i = 0; i < 40; ++i) unused += fmt::format("L{} NOP\n", i);
  const std::string text = remarks(" NOP\n" + unused);
  EXPECT_EQ(std::count(text.begin(), text.end(), '\n'), 20);
  EXPECT_EQ(text.substr(text.rfind(':') - 7), "21 more: 21 asm-unused\n") << text;
}

TEST(AsmWarnings, DirectivesForPrintersAreReadOver) {
  EXPECT_EQ(faults_of(" NAM\n OPT L,S\n TTL the gauge\n SPC 3\nTOP PAGE\n SPC\n JMP TOP\n", "mc6800"),
            "1:2 asm-read-over\n");
  EXPECT_EQ(assemble(" OPT X\n SPC 1\n SPC 1\n NOP\n", "lab.asm", {.cpu = "mc6800", .folder = {}, .root = {}})
                .remarks.at(0)
                .what,
            "OPT and SPC (2 times) are read over");
  // A macro or a label may have such a name.
  EXPECT_EQ(assembled("PAGE MACRO\n FCB 5\n ENDM\nLIST\n PAGE\n FDB LIST\n", "mc6800"), "$0000: 05 00 00\n");
}

TEST(AsmWarnings, MnemonicInTheFirstColumn) {
  EXPECT_EQ(faults_of(" NOP\nRTS\n", "mc6800"), "2:1 asm-label-mnemonic\n2:1 asm-unused\n");
  EXPECT_EQ(faults_of("LDAA #5\n", "mc6800"), "1:6 asm-mnemonic\n");
}

}  // namespace
}  // namespace prewire::testing
