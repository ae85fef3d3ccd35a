// Which form an operand takes: the shortest that fits, with references to what comes later, stable. Opcodes: MC6800
// data sheet, instruction tables; M6809PM, tables C-1 and 2-1.
#include <gtest/gtest.h>

#include "unit/asm_testing.h"

namespace prewire::testing {
namespace {

TEST(AsmSizes, DirectOrExtended) {
  EXPECT_EQ(assembled(" LDA $FF\n LDA $100\n LDA >$FF\n JMP $10\n JSR $1234\n"),
            "$0000: 96 FF B6 01 00 B6 00 FF 0E 10 BD 12 34\n");
  EXPECT_EQ(assembled(" LDAA $FF\n LDAA $100\n LDAA >$FF\n CLR $10\n JSR $10\n", "mc6800"),
            "$0000: 96 FF B6 01 00 B6 00 FF 7F 00 10 BD 00 10\n");
}

TEST(AsmSizes, ForwardReferences) {
  // The data comes behind the code; both forms are found without help.
  EXPECT_EQ(assembled(" LDA NEAR\n LDA FAR\nNEAR FCB 1\n ORG $200\nFAR FCB 2\n"),
            "$0000: 96 05 B6 02 00 01\n$0200: 02\n");
  // Just below and just above the end of page 0: five extended instructions push FAR over the edge.
  EXPECT_EQ(assembled(" ORG $FC\n LDA FAR\nFAR FCB 2\n"), "$00FC: 96 FE 02\n");
  EXPECT_EQ(assembled(" ORG $FD\n LDA FAR\nFAR FCB 2\n"), "$00FD: 96 FF 02\n");
  EXPECT_EQ(assembled(" ORG $FE\n LDA FAR\nFAR FCB 2\n"), "$00FE: B6 01 01 02\n");
}

TEST(AsmSizes, FormsThatLengthenEachOther) {
  // In their short forms all four would reach P and Q below $100 but for the last bytes; the first that grows pushes
  // both out of page 0.
  EXPECT_EQ(assembled(" ORG $F8\n LDA P\n LDA Q\n LDA P\n LDA Q\nP FCB 0\nQ FCB 0\n"),
            "$00F8: B6 01 04 B6 01 05 B6 01 04 B6 01 05 00 00\n");
}

TEST(AsmSizes, AChainOfGrowthEnds) {
  // Each instruction that grows pushes the next one over an edge: the worst case for the passes.
  std::string source = " ORG 0\n";
  for (int i = 0; i < 400; ++i) source += fmt::format("L{} LDX L{}\n", i, i + 1);
  source += "L400 FCB 0\n";
  const Image image = assemble(source, "lab.asm", {.cpu = "mc6809", .folder = {}, .root = {}});
  // The first reach up to $FF in two bytes each.
  EXPECT_EQ(image.segments.at(0).bytes.at(0), 0x9E);
  EXPECT_EQ(image.segments.at(0).bytes.at(0xFE), 0xBE);
}

TEST(AsmSizes, DirectPage) {
  EXPECT_EQ(assembled(" SETDP $20\n LDA $2010\n LDA $10\n LDA <$10\n LDA <$2010\n SETDP 0\n LDA $10\n"),
            "$0000: 96 10 B6 00 10 96 10 96 10 96 10\n");
  EXPECT_EQ(faults_of(" SETDP $20\n LDA <$1234\n SETDP $2000\n SETDP -1\n SETDP L\nL NOP\n"),
            "2:6 asm-direct\n3:8 asm-range\n4:8 asm-range\n5:8 asm-forward\n");
}

TEST(AsmSizes, Offsets) {
  // M6809PM, table 2-1. An offset of zero has a form without offset, which is a cycle shorter than five bits.
  EXPECT_EQ(
      assembled(" LDA 0,X\n LDA ,X\n LDA 1,X\n LDA 15,Y\n LDA -16,U\n LDA 16,S\n LDA -17,X\n LDA 127,X\n LDA -128,X\n"
                " LDA 128,X\n LDA -129,X\n LDA $FFFF,X\n LDA $C000,X\n"),
      "$0000: A6 84 A6 84 A6 01 A6 2F A6 50 A6 E8 10 A6 88 EF A6 88 7F A6 88 80 A6 89 00 80 A6 89 FF 7F A6 1F"
      " A6 89 C0 00\n");
  EXPECT_EQ(assembled(" LDA [0,X]\n LDA [,Y]\n LDA [1,X]\n LDA [-128,U]\n LDA [128,S]\n"),
            "$0000: A6 94 A6 B4 A6 98 01 A6 D8 80 A6 F9 00 80\n");
  EXPECT_EQ(assembled(" LDA <<0,X\n LDA <0,X\n LDA >0,X\n LDA <<-3,Y\n LDA [<0,X]\n LDA [>0,X]\n"),
            "$0000: A6 00 A6 88 00 A6 89 00 00 A6 3D A6 98 00 A6 99 00 00\n");
  EXPECT_EQ(faults_of(" LDA <<16,X\n LDA <128,X\n LDA 65536,X\n LDA -32769,X\n"),
            "1:6 asm-range\n2:6 asm-range\n3:6 asm-range\n4:6 asm-range\n");
}

TEST(AsmSizes, OffsetsToWhatComesLater) {
  EXPECT_EQ(assembled(" LDA SMALL,X\n LDA LARGE,X\nSMALL EQU 3\nLARGE EQU 300\n"), "$0000: A6 03 A6 89 01 2C\n");
}

TEST(AsmSizes, ProgramCounterRelative) {
  EXPECT_EQ(
      assembled(
          " ORG $1000\n LEAX NEAR,PCR\n LEAX FAR,PCR\n LEAX *,PCR\n LEAX >NEAR,PCR\nNEAR NOP\n RMB 200\nFAR NOP\n"),
      "$1000: 30 8C 0B 30 8D 00 D0 30 8C FD 30 8D 00 00 12\n$10D7: 12\n");
  // 127 bytes are reached with 8 bits, 128 are not.
  EXPECT_EQ(assembled(" LEAX L,PCR\n RMB 127\nL NOP\n"), "$0000: 30 8C 7F\n$0082: 12\n");
  EXPECT_EQ(assembled(" LEAX L,PCR\n RMB 128\nL NOP\n"), "$0000: 30 8D 00 80\n$0084: 12\n");
  EXPECT_EQ(faults_of(" LEAX <L,PCR\n RMB 128\nL NOP\n"), "1:7 asm-range\n");
  EXPECT_EQ(assembled(" LDA [$1234,PCR]\n LDA [L,PCR]\nL NOP\n"), "$0000: A6 9D 12 30 A6 9C 00 12\n");
}

TEST(AsmSizes, Branches) {
  // MC6800 data sheet, figure "Addressing Mode Summary", by its op code arithmetic: -126 to +129 from the branch.
  EXPECT_EQ(assembled(" ORG $1000\nL RMB 124\n RMB 2\n BRA L\n", "mc6800"), "$107E: 20 80\n");
  EXPECT_EQ(faults_of(" ORG $1000\nL RMB 127\n BRA L\n", "mc6800"), "3:6 asm-branch-range\n3:6 asm-branch-data\n");
  EXPECT_EQ(assembled(" ORG $1000\n BRA L\n RMB 127\nL NOP\n", "mc6800"), "$1000: 20 7F\n$1081: 01\n");
  EXPECT_EQ(faults_of(" ORG $1000\n BRA L\n RMB 128\nL NOP\n", "mc6800"), "2:6 asm-branch-range\n");
  EXPECT_EQ(assembled(" ORG $1000\n LBRA $9000\n LBNE $0000\n BSR *\n"), "$1000: 16 7F FD 10 26 EF F9 8D FE\n");
  // Around the end of memory.
  EXPECT_EQ(assembled(" ORG $FFFC\n BRA $0000\n", "mc6800"), "$FFFC: 20 02\n");
}

TEST(AsmSizes, TheEndOfMemory) {
  EXPECT_EQ(assembled(" ORG $FFFE\n FDB *\n"), "$FFFE: FF FE\n");
  EXPECT_EQ(faults_of(" ORG $FFFF\n FDB *\n NOP\n ORG 0\n NOP\n"), "2:1 asm-past-end\n");
  EXPECT_EQ(faults_of(" ORG $FFFF\n RMB 2\n"), "2:1 asm-past-end\n");
  EXPECT_EQ(faults_of(" ORG $10000\n NOP\n"), "1:6 asm-range\n");
}

TEST(AsmSizes, Overlap) {
  EXPECT_EQ(faults_of(" ORG $10\n FDB 1,2\n ORG $13\n NOP\n"), "4:1 asm-overlap\n");
  EXPECT_EQ(assembled(" ORG $10\n RMB 4\n ORG $10\n NOP\n"), "$0010: 12\n");
}

TEST(AsmSizes, WhatMustBeKnownAtOnce) {
  EXPECT_EQ(faults_of(" ORG L\nL NOP\n"), "1:6 asm-forward\n");
  EXPECT_EQ(faults_of(" RMB N\nN EQU 3\n NOP\n"), "1:6 asm-forward\n");
  EXPECT_EQ(faults_of(" FILL 0,N\nN EQU 3\n NOP\n"), "1:9 asm-forward\n");
  EXPECT_EQ(faults_of("N EQU M\n RMB N\nM EQU 3\n NOP\n"), "2:6 asm-forward\n");
  EXPECT_EQ(faults_of(" IF N\n ENDIF\nN EQU 3\n NOP\n"), "1:5 asm-forward\n");
  EXPECT_EQ(faults_of("L NOP\n IF L\n NOP\n ENDIF\n"), "2:5 asm-moves\n");
  EXPECT_EQ(faults_of(" IF *\n NOP\n ENDIF\n"), "1:5 asm-moves\n");
  EXPECT_EQ(faults_of(" FCB N\nN SET 3\n LDA #N\n"), "1:6 asm-forward\n");
}

TEST(AsmSizes, ValuesThatFollowFromThemselves) {
  EXPECT_EQ(faults_of("P EQU Q\nQ EQU P\n FDB P\n"), "1:1 asm-circular\n2:1 asm-circular\n");
  EXPECT_EQ(faults_of("P EQU P+1\n FDB P\n"), "1:1 asm-circular\n");
}

}  // namespace
}  // namespace prewire::testing
