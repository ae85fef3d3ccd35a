// Blanks: none takes a part of an operand away without a word, wherever it stands; and comments stay comments.
#include <gtest/gtest.h>

#include <map>
#include <set>
#include <vector>

#include "cpu/instruction.h"
#include "unit/asm_testing.h"

namespace prewire::testing {
namespace {

/// What both parts of a name that a blank cuts in two may be, too.
constexpr const char* kNames =
    "LEVEL EQU $1234\nLEV EQU $34\nPORTS EQU $80\nCOUNT EQU 5\nPUT MACRO WHAT,WHERE\n FCB \\WHAT\n FDB \\WHERE\n ENDM\n"
    "STOP MACRO\n FCB 7\n ENDM\n ORG $2000\nHERE FDB LEVEL,LEV,PORTS,COUNT\n";

struct Outcome {
  std::string bytes;  ///< of the image, and its entry; empty if there is none
  bool told = false;  ///< something is said about a blank
  std::string faults;
};

Outcome outcome_of(const std::string& line, const std::string& cpu) {
  Outcome outcome;
  const auto listen = [&](const std::vector<Fault>& faults) {
    for (const Fault& fault : faults) {
      outcome.told = outcome.told || fault.id == "asm-blank" || fault.id == "asm-operand-ignored";
      outcome.faults += to_string(fault);
    }
  };
  try {
    const Image image = assemble(kNames + line + "\n NOP\n", "lab.asm", {.cpu = cpu, .folder = {}, .root = {}});
    outcome.bytes = bytes_of(image) + fmt::format("{}", image.entry.value_or(0));
    listen(image.remarks);
  } catch (const InputError& error) {
    listen(error.faults());
  }
  return outcome;
}

/// One operand for every form that a mode of addressing has.
std::vector<std::string> operands_of(Mode mode, const std::string& cpu) {
  switch (mode) {
    case Mode::inherent: return {""};
    case Mode::imm8: return {"#5", "#$2A", "#-1", "#'A", "#'A'", "#%101", "#COUNT+1", "#(COUNT+2)*3", "#LEVEL/256"};
    case Mode::imm16: return {"#1000", "#$12AB", "#LEVEL", "#LEVEL+2*COUNT"};
    case Mode::direct: return {"$42", "PORTS", "PORTS+1", "<PORTS"};
    case Mode::extended: return {"$1234", "LEVEL", "LEVEL-1", ">PORTS"};
    case Mode::relative:
    case Mode::relative16: return {"HERE", "*", "*+2", "HERE+COUNT"};
    case Mode::offset: return {"5,X", "COUNT,X", "0,X", ",X", "$2A,X"};
    case Mode::indexed: break;
    case Mode::pair: return {"A,B", "X,Y", "D,X"};
    case Mode::stack: return {"A,B", "A,B,X", "CC,DP,PC", "#$06"};
    default: return {};
  }
  if (cpu != "mc6809") return {};
  return {"5,X",        "-5,Y",    "$1234,U",   ",S",          ",X+",      ",Y++",  ",-U",      ",--S",
          "A,X",        "B,Y",     "D,U",       "<5,X",        ">5,X",     "<<5,X", "HERE,PCR", "<*,PCR",
          "[5,X]",      "[,Y]",    "[,X++]",    "[,--S]",      "[A,X]",    "[D,Y]", "[$1234]",  "[LEVEL+2]",
          "[HERE,PCR]", "COUNT,X", "COUNT+1,X", "[COUNT+1,X]", "(COUNT),X"};
}

std::vector<std::string> instructions_of(const std::string& cpu) {
  const InstructionTable& table = cpu == "mc6809" ? mc6809_instructions() : mc6800_instructions();
  std::vector<std::string> lines;
  std::map<Mode, std::set<std::string_view>> seen;
  for (const Instruction& row : table.rows()) {
    std::vector<std::string> operands = operands_of(row.mode, cpu);
    // All the forms with a few mnemonics, and then one: the operand is read by the same code.
    std::set<std::string_view>& mnemonics = seen[row.mode];
    if (mnemonics.size() > 2) operands.resize(std::min<std::size_t>(operands.size(), 1));
    mnemonics.insert(row.mnemonic);
    const std::string name(row.mnemonic);
    for (const std::string& operand : operands) {
      if (name == "PSHU" || name == "PULU" || name == "PSHS" || name == "PULS" || operand != "CC,DP,PC") {
        lines.push_back(operand.empty() ? " " + name : fmt::format(" {} {}", name, operand));
      }
    }
  }
  if (cpu == "mc6800") {
    for (const char* line : {" LDA A #5", " STA B 5,X", " CMP A LEVEL", " LDAA X", " INC B", " PSH A"})
      lines.push_back(line);
  }
  return lines;
}

const std::vector<std::string> kDirectives = {"N EQU 5",
                                              "N EQU LEVEL+1",
                                              "N SET COUNT*2",
                                              " ORG $3000",
                                              " ORG LEVEL&$FF00",
                                              " RMB 16",
                                              " RMB COUNT+COUNT",
                                              " FCB 1",
                                              " FCB 1,2,3",
                                              " FCB $1A,'A,-1,COUNT",
                                              " FCB 1,,3",
                                              " FDB LEVEL",
                                              " FDB $1234,HERE",
                                              " FDB HERE-1,PORTS",
                                              " FILL $FF,16",
                                              " FILL COUNT,LEV",
                                              " END HERE",
                                              " IF COUNT=5\n FCB 1\n ENDIF",
                                              " IF COUNT-5\n FCB 1\n ELSE\n FCB 2\n ENDIF",
                                              " PUT 5,LEVEL",
                                              " PUT COUNT,$1234",
                                              " STOP",
                                              "M MACRO P1,P2\n FCB \\P1\n FCB \\P2\n ENDM\n M 1,2"};

/// Every place in the first line of `text` where a blank may stand. `check` gets the text with it.
template <class Check>
void with_blanks(const std::string& text, const std::string& blank, Check check) {
  const std::size_t end = std::min(text.find('\n'), text.size());
  for (std::size_t at = 1; at < end; ++at) {
    check(text.substr(0, at) + blank + text.substr(at));
  }
}

class AsmBlanks : public ::testing::TestWithParam<std::string> {
 protected:
  std::vector<std::string> lines() const {
    std::vector<std::string> lines = instructions_of(GetParam());
    lines.insert(lines.end(), kDirectives.begin(), kDirectives.end());
    lines.push_back(fmt::format(" CPU {}\n FCB 1", GetParam()));
    if (GetParam() == "mc6809") lines.push_back(" SETDP $12\n LDA LEVEL");
    return lines;
  }
};

TEST_P(AsmBlanks, TakeNothingAway) {
  for (const std::string& line : lines()) {
    const Outcome good = outcome_of(line, GetParam());
    ASSERT_NE(good.bytes, "") << line << '\n' << good.faults;
    for (const char* blank : {" ", "  \t"}) {
      with_blanks(line, blank, [&](const std::string& cut) {
        const Outcome outcome = outcome_of(cut, GetParam());
        EXPECT_TRUE(outcome.bytes.empty() || outcome.bytes == good.bytes) << "'" << cut << "' for '" << line << "'\n"
                                                                          << outcome.faults;
      });
    }
  }
}

TEST_P(AsmBlanks, TakeNothingAwayBeforeAComment) {
  for (const std::string& line : lines()) {
    if (line.find('\n') != std::string::npos) continue;
    for (const char* comment : {" ; then go on", "  then go on"}) {
      const Outcome good = outcome_of(line + comment, GetParam());
      ASSERT_NE(good.bytes, "") << line << comment << '\n' << good.faults;
      ASSERT_FALSE(good.told) << line << comment << '\n' << good.faults;
      with_blanks(line, " ", [&](const std::string& cut) {
        const Outcome outcome = outcome_of(cut + comment, GetParam());
        EXPECT_TRUE(outcome.bytes.empty() || outcome.bytes == good.bytes || outcome.told)
            << "'" << cut << comment << "' for '" << line << "'\n"
            << outcome.faults;
      });
    }
  }
}

TEST_P(AsmBlanks, CommentsStayComments) {
  // How comments begin in listings of the trade.
  for (const char* comment : {"load it",     "LOAD IT",      "the level, then the count",
                              "- the first", "-> port",      "<- here",
                              "* once more", "= ready",      "(see above)",
                              "\"go\"",      "'go' on",      "5 times",
                              "10% of it",   "$ is hex",     "# of turns",
                              "& so on",     "/ the rest",   "X is kept",
                              "a pointer",   "A POINTER",    "don't stop",
                              "if C=0",      "and/or",       "@ noon",
                              "! now",       "? why",        ".5 s",
                              "[sic]",       "--- here ---", "***",
                              "===",         "+ carry",      "% duty",
                              "> limit",     "A = 5, B = 6", "; and",
                              "to X",        "wait"}) {
    for (const std::string& line : lines()) {
      if (line.find('\n') != std::string::npos) continue;
      const Outcome good = outcome_of(line, GetParam());
      const Outcome outcome = outcome_of(fmt::format("{}   {}", line, comment), GetParam());
      EXPECT_EQ(outcome.bytes, good.bytes) << line << "   " << comment << '\n' << outcome.faults;
    }
  }
}

INSTANTIATE_TEST_SUITE_P(Processors, AsmBlanks, ::testing::Values("mc6800", "mc6809"),
                         [](const auto& each) { return each.param; });

/// What the fault says that the line should read, or everything if it says nothing.
std::string mended(const std::string& line, const std::string& cpu = "mc6809") {
  const std::string faults = outcome_of(line, cpu).faults;
  const std::string mark = "write\n              ";
  const std::size_t at = faults.find(mark);
  if (at == std::string::npos) return faults;
  const std::size_t first = at + mark.size();
  return faults.substr(first, faults.find('\n', first) - first);
}

TEST(AsmBlanksMended, TheLineIsWrittenOut) {
  EXPECT_EQ(mended(" LDAA $5 ,X", "mc6800"), " LDAA $5,X");
  EXPECT_EQ(mended(" FCB 1 ,2"), " FCB 1,2");
  EXPECT_EQ(mended(" FCB 1 2"), " FCB 1,2");
  EXPECT_EQ(mended(" FCB 1 2 3 COUNT 5 6"), " FCB 1,2,3,COUNT,5,6");
  EXPECT_EQ(mended(" PSHS A B"), " PSHS A,B");
  EXPECT_EQ(mended(" TFR A B"), " TFR A,B");
  EXPECT_EQ(mended(" TFR A ,B"), " TFR A,B");
  EXPECT_EQ(mended(" LDX #LEVEL + 1 ; the next"), " LDX #LEVEL+1 ; the next");
  EXPECT_EQ(mended(" LDX #LEVEL + 1 the next"), " LDX #LEVEL+1  ; the next");
  EXPECT_EQ(mended(" LDA LEVEL X"), " LDA LEVEL,X");
  EXPECT_EQ(mended(" LDA ,X +"), " LDA ,X+");
  EXPECT_EQ(mended(" LDA A ,X"), " LDA A,X");
  EXPECT_EQ(mended(" LDA # 5"), " LDA #5");
  EXPECT_EQ(mended(" LDA $ 42"), " LDA $42");
  EXPECT_EQ(mended(" LDA < $42"), " LDA <$42");
  EXPECT_EQ(mended(" ORG $F8 00"), " ORG $F800");
  EXPECT_EQ(mended(" LDX #LEV EL"), " LDX #LEVEL");
  EXPECT_EQ(mended(" FILL 1 2"), " FILL 1,2");
  EXPECT_EQ(mended(" PUT 1 2"), " PUT 1,2");
  EXPECT_EQ(mended(" PUT 1,2 3"), " PUT 1,2,3");
  EXPECT_EQ(mended(" STOP 5"), " STOP ; 5");
  EXPECT_EQ(mended(" SWI 2"), " SWI2");
  EXPECT_EQ(mended(" CLRA 5"), " CLRA ; 5");
}

TEST(AsmBlanksMended, WhatMayBeEitherIsARemark) {
  const auto ids = [](const char* line) { return faults_of(std::string("N EQU 1\nM1 FDB N,M1\n") + line + "\n"); };
  EXPECT_EQ(ids(" LDB #N * 5 volts"), "3:9 asm-blank\n");
  EXPECT_EQ(ids(" LDB #8 8 bits"), "3:9 asm-blank\n");
  EXPECT_EQ(ids(" LDB #8  8 bits"), "");
  EXPECT_EQ(ids(" FDB M1 M1 is the table"), "3:9 asm-blank\n");
  EXPECT_EQ(ids(" FDB M1  M1 is the table"), "");
  EXPECT_EQ(ids(" LDA M1 X is zero"), "3:9 asm-blank\n");
  EXPECT_EQ(ids(" LDA M1 X is zero from here to the end"), "3:9 asm-blank\n");
  EXPECT_EQ(ids(" PSHS X a pointer"), "");
  EXPECT_EQ(ids(" CLRA M1"), "3:7 asm-operand-ignored\n");
  EXPECT_EQ(ids(" CLRA M1 is clear"), "");
  // A name that is almost one that exists.
  EXPECT_EQ(faults_of("LIMIT EQU 1\n LDA #LIMIT + LIMT\n"), "2:13 asm-blank\n");
  // Never behind a semicolon.
  EXPECT_EQ(ids(" LDB #N ; + 1\n FCB 1 ; ,2\n CLRA ; 5"), "");
}

}  // namespace
}  // namespace prewire::testing
