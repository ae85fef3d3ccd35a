// Macros: parameters, local labels, calls within calls, and where they end.
#include <gtest/gtest.h>

#include "unit/asm_testing.h"

namespace prewire::testing {
namespace {

TEST(AsmMacros, Parameters) {
  EXPECT_EQ(assembled("PUT MACRO VALUE,WHERE\n LDA #\\VALUE\n STA \\where\n ENDM\n PUT 5,$4000\n PUT 'A, >$10 text\n"),
            "$0000: 86 05 B7 40 00 86 41 B7 00 10\n");
  EXPECT_EQ(assembled("PUT MACRO VALUE,WHERE\n LDA #\\1\n STA \\2\n ENDM\n put 5,$4000\n"), "$0000: 86 05 B7 40 00\n");
  EXPECT_EQ(assembled("GET MACRO FROM\n LDA \\FROM\n ENDM\n GET {5,X}\n GET [5,X]\n GET (1+2)*2\n"),
            "$0000: A6 05 A6 98 05 96 06\n");
  EXPECT_EQ(assembled("SAY MACRO TEXT\n FCC \\TEXT\n FCC /\\\\\\TEXT./\n ENDM\n SAY \"A, B\"\n"),
            "$0000: 41 2C 20 42 5C 22 41 2C 20 42 22 2E\n");
  EXPECT_EQ(assembled("NAMED MACRO N\nL\\N FCB \\N\n ENDM\n NAMED 1\n NAMED 2\n FDB L1,L2\n"),
            "$0000: 01 02 00 00 00 01\n");
}

TEST(AsmMacros, LocalLabels) {
  EXPECT_EQ(assembled("WAIT MACRO N\n LDB #\\N\n.again DECB\n BNE .again\n ENDM\n"
                      "ONE WAIT 1\n.again NOP\n BRA .again\nTWO WAIT 2\n.again BRA .again\n FDB ONE.again,TWO.again\n"),
            "$0000: C6 01 5A 26 FD 12 20 FD C6 02 5A 26 FD 20 FE 00 05 00 0D\n");
  // An ordinary label in a macro is defined once, and begins no scope.
  EXPECT_EQ(faults_of("M MACRO\nL NOP\n ENDM\n M\n M\n"), "2:1 asm-duplicate\n");
}

TEST(AsmLocalLabels, BelongToTheLabelAbove) {
  EXPECT_EQ(assembled("A1 NOP\n.x BRA .x\nB1 NOP\n.x BRA .x\n FDB A1.x,B1.x\n"),
            "$0000: 12 20 FE 12 20 FE 00 01 00 04\n");
  EXPECT_EQ(faults_of("A1 NOP\n.x NOP\nB1 BRA .x\n"), "3:8 asm-undefined\n");
}

TEST(AsmMacros, CallsAndConditions) {
  EXPECT_EQ(assembled("TWO MACRO V\n FCB \\V\n ONE \\V+1\n ENDM\nONE MACRO V\n FCB \\V\n ENDM\n TWO 5\n"),
            "$0000: 05 06\n");
  // A macro that calls itself until a condition ends it.
  EXPECT_EQ(assembled("DOWN MACRO V\n IF \\V\n FCB \\V\n DOWN \\V-1\n ENDIF\n ENDM\n DOWN 3\n"), "$0000: 03 02 01\n");
  EXPECT_EQ(faults_of("M MACRO\n IF 1\n ENDM\n M\n NOP\n"), "2:2 asm-if-open\n");
  EXPECT_EQ(faults_of("M MACRO\n ENDIF\n ENDM\n IF 1\n M\n ENDIF\n NOP\n"), "2:2 asm-if-missing\n");
}

TEST(AsmMacros, Refused) {
  EXPECT_EQ(faults_of(" MACRO\n ENDM\n NOP\n"), "1:2 asm-macro-name\n");
  EXPECT_EQ(faults_of("LDA MACRO\n ENDM\n NOP\n"), "1:1 asm-macro-name\n");
  EXPECT_EQ(faults_of("ORG MACRO\n ENDM\n NOP\n"), "1:1 asm-macro-name\n");
  EXPECT_EQ(faults_of("M MACRO\n ENDM\nM MACRO\n ENDM\n NOP\n"), "3:1 asm-macro-name\n");
  EXPECT_EQ(faults_of("M MACRO 5\n ENDM\n NOP\n"), "1:9 asm-macro-parameter\n");
  EXPECT_EQ(faults_of("M MACRO P\n LDA \\Q\n ENDM\n NOP\n"), "2:6 asm-macro-parameter\n");
  EXPECT_EQ(faults_of("M MACRO\n NOP\n"), "1:3 asm-macro-open\n");
  EXPECT_EQ(faults_of("M MACRO\nN MACRO\n ENDM\n NOP\n"), "2:3 asm-macro-nested\n3:2 asm-endm\n");
  EXPECT_EQ(faults_of(" ENDM\n NOP\n"), "1:2 asm-endm\n");
  EXPECT_EQ(faults_of("M MACRO P\n NOP\n ENDM\n M\n M 1,2\n"), "4:3 asm-macro-arguments\n5:4 asm-macro-arguments\n");
  EXPECT_EQ(faults_of("M MACRO P\n NOP\n ENDM\n M (1\n M \"1\n"), "4:4 asm-parenthesis\n5:4 asm-text\n");
  EXPECT_EQ(faults_of("M MACRO\n M\n ENDM\n M\n"), "2:2 asm-macro-depth\n");
}

TEST(AsmMacros, NothingGrowsBeyondAllBounds) {
  EXPECT_EQ(faults_of("M MACRO\n NOP\n M\n M\n ENDM\n M\n"), "3:2 asm-macro-depth\n");
  const std::string doubling = "M MACRO P\n IF 1\n M {\\P\\P}\n ENDIF\n ENDM\n M 1234567890\n";
  EXPECT_EQ(faults_of(doubling), "3:1001 asm-line-long\n");
  std::string wide = "L0 MACRO\n NOP\n ENDM\n";
  for (int i = 1; i < 20; ++i) {
    wide += fmt::format("L{} MACRO\n L{}\n L{}\n L{}\n ENDM\n", i, i - 1, i - 1, i - 1);
  }
  const std::string faults = faults_of(wide + " L19\n");
  EXPECT_NE(faults.find("asm-too-long"), std::string::npos) << faults;
}

TEST(AsmMacros, AFaultNamesTheCall) {
  EXPECT_EQ(assembled("M MACRO P\n LDA #\\P\n ENDM\n NOP\n M 300\n"),
            "lab.asm:2:6: stop: the number does not fit into 8 bits [asm-range]\n"
            "    expected: -128 to 255\n"
            "    found:    300 ($12C)\n"
            "               LDA #300\n"
            "                   ^\n"
            "    hint:     the line comes from a macro that lab.asm:5 calls\n");
}

}  // namespace
}  // namespace prewire::testing
