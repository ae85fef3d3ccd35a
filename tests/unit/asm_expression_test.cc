// Expressions: numbers, operators, precedence, what is refused.
#include <gtest/gtest.h>

#include "unit/asm_testing.h"

namespace prewire::testing {
namespace {

struct Row {
  const char* expression;
  int value;
};

class AsmExpression : public ::testing::TestWithParam<Row> {};

TEST_P(AsmExpression, Value) {
  const std::string source = fmt::format(" ORG $1000\nTEN EQU 10\nHERE FDB {}\n", GetParam().expression);
  const unsigned value = static_cast<std::uint16_t>(GetParam().value);
  EXPECT_EQ(assembled(source), fmt::format("$1000: {:02X} {:02X}\n", value >> 8, value & 0xFF))
      << GetParam().expression;
}

INSTANTIATE_TEST_SUITE_P(All, AsmExpression,
                         ::testing::ValuesIn(std::vector<Row>{
                             // numbers: common practice
                             {"10", 10},
                             {"$1F", 31},
                             {"$ab", 0xAB},
                             {"%1010", 10},
                             {"@17", 15},
                             {"'A", 65},
                             {"'A'", 65},
                             {"''", 39},
                             {"' ", 32},
                             {"-1", -1},
                             {"+7", 7},
                             {"~0", -1},
                             {"--5", 5},
                             {"~-1", 0},
                             {"TEN", 10},
                             {"*", 0x1000},
                             {"HERE", 0x1000},
                             // precedence: as in C, but comparisons come last
                             {"2+3*4", 14},
                             {"(2+3)*4", 20},
                             {"20-5-3", 12},
                             {"100/7/2", 7},
                             {"100%7", 2},
                             {"-100/7", -14},
                             {"-100%7", -2},
                             {"2*-3", -6},
                             {"1<<4+1", 32},
                             {"256>>2", 64},
                             {"-16>>2", -4},
                             {"$F0|$0F&$3C", 0xFC},
                             {"$FF^$0F&$3C", 0xF3},
                             {"1|2^3", 1},
                             {"1+2=3", 1},
                             {"1<>1", 0},
                             {"1<2", 1},
                             {"2<=1", 0},
                             {"2>1", 1},
                             {"1>=2", 0},
                             {"5=4|1", 1},
                             {"*-$FF0", 16},
                             {"*/256", 16},
                             {"HERE&$FF00", 0x1000},
                             {"%11%%10", 1},
                             // as other notations write them
                             {"0x1F", 31},
                             {"0XfF", 255},
                             {"1Fh", 31},
                             {"0FFH", 255},
                             {"0b101", 5},
                             {"0B1h", 177},
                             {"1010b", 10},
                             {"17q", 15},
                             {"10", 10},
                             // blanks where the expression cannot be over
                             {"( 2 + 3 )*4", 20},
                             {"(2 + 3)*4", 20},
                             {"2* 3", 6},
                         }),
                         [](const auto& test) { return fmt::format("Row{}", test.index); });

TEST(AsmExpressions, LocationTimesItself) { EXPECT_EQ(assembled(" ORG $10\n FDB ***\n"), "$0010: 01 00\n"); }

TEST(AsmExpressions, Refused) {
  const auto faults = [](const std::string& expression) { return faults_of(" FDB " + expression + "\n"); };
  EXPECT_EQ(faults(""), "1:6 asm-value-missing\n");
  EXPECT_EQ(faults("1+"), "1:8 asm-value-missing\n");
  EXPECT_EQ(faults("(1"), "1:6 asm-parenthesis\n");
  EXPECT_EQ(faults("1)"), "1:7 asm-operand\n");
  EXPECT_EQ(faults("$"), "1:7 asm-number\n");
  EXPECT_EQ(faults("$1G"), "1:8 asm-number\n");
  EXPECT_EQ(faults("%102"), "1:9 asm-number\n");
  EXPECT_EQ(faults("@8"), "1:7 asm-number\n");
  EXPECT_EQ(faults("12G"), "1:8 asm-number\n");
  EXPECT_EQ(faults("12F"), "1:8 asm-number\n");
  EXPECT_EQ(faults("0x"), "1:7 asm-number\n");
  EXPECT_EQ(faults("12b"), "1:8 asm-number\n");
  EXPECT_EQ(faults("99999999999999999999"), "1:6 asm-number\n");
  EXPECT_EQ(faults("'"), "1:7 asm-character\n");
  EXPECT_EQ(faults("'\x80"), "1:7 asm-character\n");
  EXPECT_EQ(faults("\"A\""), "1:6 asm-value\n");
  EXPECT_EQ(faults("#5"), "1:6 asm-value\n");
  EXPECT_EQ(faults("X"), "1:6 asm-register\n");
  EXPECT_EQ(faults("1/0"), "1:7 asm-arithmetic\n");
  EXPECT_EQ(faults("1%0"), "1:7 asm-arithmetic\n");
  EXPECT_EQ(faults("1<<32"), "1:7 asm-arithmetic\n");
  EXPECT_EQ(faults("1>>-1"), "1:7 asm-arithmetic\n");
  EXPECT_EQ(faults("$7FFFFFFF*$7FFFFFFF"), "1:15 asm-arithmetic\n");
  EXPECT_EQ(faults("65536"), "1:6 asm-range\n");
  EXPECT_EQ(faults("-32769"), "1:6 asm-range\n");
  EXPECT_EQ(faults("NOWHERE"), "1:6 asm-undefined\n");
  EXPECT_EQ(faults(std::string(200, '(') + "1"), "1:70 asm-nesting\n");
  EXPECT_EQ(faults(std::string(200, '-') + "1"), "1:70 asm-nesting\n");
}

}  // namespace
}  // namespace prewire::testing
