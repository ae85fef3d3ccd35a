// What a source may grow to, and how an assembly is stopped from outside. No time is measured: it follows from the
// sizes that are bounded.
#include <gtest/gtest.h>

#include <stdexcept>

#include "unit/asm_testing.h"

namespace prewire::testing {
namespace {

std::string repeated(const std::string& text, int times) {
  std::string all;
  for (int i = 0; i < times; ++i) all += text;
  return all;
}

/// `1,1,1`
std::string list(int items) { return repeated("1,", items - 1) + "1"; }

/// The last fault: the one after which nobody reads on.
std::string last_fault(const std::string& source) {
  const std::string faults = faults_of(source, "mc6800");
  const std::size_t at = faults.find(' ', faults.rfind('\n', faults.size() - 2) + 1);
  return faults.substr(at + 1, faults.size() - at - 2);
}

TEST(AsmLimits, TheTextThatMacrosMake) {
  // A few bytes that would be gigabytes: many lines of a long argument, which would be many numbers each.
  const std::string bomb =
      "M MACRO P\n" + repeated(" FCB \\P\n", 5000) + " ENDM\n" + repeated(" M {" + list(480) + "}\n", 60);
  EXPECT_LT(bomb.size(), 110000U);
  EXPECT_EQ(last_fault(bomb), "asm-too-long");
  const std::string comments =
      "M MACRO P\n" + repeated(" NOP ;\\P\n", 5000) + " ENDM\n" + repeated(" M {" + std::string(980, 'x') + "}\n", 60);
  EXPECT_EQ(last_fault(comments), "asm-too-long");
  const std::string nested = "L0 MACRO P\n NOP \\P\n ENDM\n" +
                             [] {
                               std::string levels;
                               for (int i = 1; i < 60; ++i)
                                 levels += fmt::format("L{0} MACRO P\n L{1} \\P\n L{1} \\P\n ENDM\n", i, i - 1);
                               return levels;
                             }() +
                             " L59 " + std::string(900, 'x') + "\n";
  EXPECT_EQ(last_fault(nested), "asm-too-long");
}

TEST(AsmLimits, LinesAndNamesAndNumbers) {
  EXPECT_EQ(last_fault(repeated("\n", 200001)), "asm-too-long");
  EXPECT_EQ(last_fault(repeated(" FCB " + list(490) + "\n", 2100)), "asm-too-long");
  std::string names;
  for (int i = 0; i < 100001; ++i) names += fmt::format("L{} NOP\n", i);
  EXPECT_EQ(last_fault(names), "asm-too-long");
  EXPECT_EQ(faults_of(std::string(101, 'N') + " NOP\n JMP " + std::string(101, 'M') + "\n"),
            "1:1 asm-name-long\n2:6 asm-name-long\n");
  EXPECT_EQ(faults_of(std::string(100, 'N') + " JMP " + std::string(100, 'N') + "\n"), "");
  EXPECT_EQ(faults_of(" INCLUDE " + std::string(256, 'N') + "\n NOP\n"), "1:10 asm-include\n");
  const std::string parameters = "M MACRO A1" + repeated(",P", 64) + "\n ENDM\n NOP\n";
  EXPECT_EQ(faults_of(parameters), "1:138 asm-macro-parameter\n");
  EXPECT_EQ(faults_of("M MACRO\n NOP " + std::string(1000, 'x') + "\n ENDM\n NOP\n"), "2:1001 asm-line-long\n");
}

TEST(AsmLimits, AreToldWhateverElseIsWrong) {
  // More faults than are shown, all above.
  EXPECT_EQ(last_fault(repeated(" FOO\n", 100) + repeated("\n", 200001)), "asm-too-long");
  EXPECT_EQ(faults_of(" NOP\n" + repeated(" FOO\n", 30) + repeated("\n", 200001)).substr(0, 13), "2:2 asm-mnemo");
}

TEST(AsmLimits, FillingFarBehindTheEnd) {
  const std::string faults = faults_of(" ORG $FFFF\n" + repeated(" FILL 1,65535\n RMB 65535\n", 60000));
  EXPECT_EQ(faults, "2:1 asm-past-end\n");
}

TEST(AsmLimits, NothingIsLookedAtAgainAndAgain) {
  // Each name refers to the next one many times: as a tree they would never end.
  std::string tree;
  for (int i = 0; i < 20; ++i)
    tree += fmt::format("N{0} EQU N{1}", i, i + 1) + repeated(fmt::format("*N{}", i + 1), 99) + "\n";
  EXPECT_EQ(faults_of(tree + "N20 EQU 1\n CMPA N0\n", "mc6800"), "22:7 asm-hash-missing\n");
  // Names that are searched for on every line.
  std::string names;
  for (int i = 0; i < 4000; ++i) names += fmt::format("LIMIT{} SET 5\n", i);
  const std::string faults = faults_of(names + repeated(" LDAA #5 + LIMIX4\n", 10000), "mc6800");
  EXPECT_EQ(faults, "4001:10 asm-blank\n");
}

TEST(AsmStop, IsAskedInEveryPass) {
  const std::string source = repeated(" LDAA #5\n BRA *\n", 5000);
  int asked = 0;
  AssemblyOptions options{.cpu = "mc6800", .folder = {}, .root = {}};
  options.stop = [&] { return ++asked < 0; };
  assemble(source, "lab.asm", options);
  const int all = asked;
  EXPECT_GT(all, 3 * 10000 / 256);
  // At any moment.
  for (int moment = 1; moment <= all; moment += 31) {
    asked = 0;
    options.stop = [&] { return ++asked == moment; };
    EXPECT_THROW(assemble(source, "lab.asm", options), AssemblyStopped) << moment;
    EXPECT_EQ(asked, moment);
  }
}

TEST(AsmStop, MayThrowItself) {
  AssemblyOptions options{.cpu = "mc6800", .folder = {}, .root = {}};
  options.stop = []() -> bool { throw std::length_error("enough"); };
  EXPECT_THROW(assemble(repeated(" NOP\n", 1000), "lab.asm", options), std::length_error);
}

TEST(AsmStop, LooksIntoMacros) {
  AssemblyOptions options{.cpu = "mc6800", .folder = {}, .root = {}};
  options.stop = [] { return true; };
  EXPECT_THROW(assemble("M MACRO\n" + repeated(" NOP\n", 400), "lab.asm", options), AssemblyStopped);
  EXPECT_THROW(assemble("M MACRO\n NOP\n NOP\n ENDM\n" + repeated(" M\n", 100), "lab.asm", options), AssemblyStopped);
}

}  // namespace
}  // namespace prewire::testing
