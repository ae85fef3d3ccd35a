// Text from outside, made safe to look at. Which characters those are: The Unicode Standard 15.0, section 23.1 (control
// codes), Standard Annex 9, revision 46, table 4 (explicit formatting characters, marks), section 23.7 (noncharacters);
// UTF-8: RFC 3629, sections 3, 4 and 10.
#include "prewire/text.h"

#include <gtest/gtest.h>

#include <nlohmann/json.hpp>
#include <string>

namespace prewire {
namespace {

TEST(Printable, ShowsControlCharactersAsNumbers) {
  EXPECT_EQ(printable("rain\tbarrel\n", "\t\n"), "rain\tbarrel\n");
  EXPECT_EQ(printable("rain\tbarrel\n", "\t"), "rain\tbarrel\\x0A");
  EXPECT_EQ(printable("rain\nbarrel"), "rain\\x0Abarrel");
  EXPECT_EQ(printable("a\x1B[31mb\x07\x7F\r"), "a\\x1B[31mb\\x07\\x7F\\x0D");
  EXPECT_EQ(printable(std::string_view("\0", 1)), "\\x00");
  EXPECT_EQ(printable("\xC2\x80 \xC2\x9B"
                      "1m \xC2\x9F \xC2\xA0"),
            "\\x80 \\x9B"
            "1m \\x9F \xC2\xA0");
}

TEST(Printable, LeavesOtherCharactersAlone) {
  const std::string text = " ~\\x1B \xC2\xB5 \xC3\x9B \u03A9 \u05D0\u0645 \u3042 \U0001F327 \u200D";
  EXPECT_EQ(printable(text), text);
}

TEST(Printable, ShowsBytesThatAreNoUtf8) {
  EXPECT_EQ(printable("caf\xE9!"), "caf\\xE9!");
  EXPECT_EQ(printable("\xC2"), "\\xC2");
  EXPECT_EQ(printable("\xE2\x80"), "\\xE2\\x80");
  EXPECT_EQ(printable("\x9B"
                      "1m"),
            "\\x9B"
            "1m");
  EXPECT_EQ(printable("\xC0\x9B"), "\\xC0\\x9B");                    // longer than it need be: the escape character
  EXPECT_EQ(printable("\xE0\x82\x9B"), "\\xE0\\x82\\x9B");           // U+009B in three bytes
  EXPECT_EQ(printable("\xF0\x82\x80\xAE"), "\\xF0\\x82\\x80\\xAE");  // in four
  EXPECT_EQ(printable("\xED\xA0\x80"), "\\xED\\xA0\\x80");           // a surrogate
  EXPECT_EQ(printable("\xF4\x90\x80\x80"), "\\xF4\\x90\\x80\\x80");  // above U+10FFFF
  EXPECT_EQ(printable("\xF5\x80\x80\x80\xFF"), "\\xF5\\x80\\x80\\x80\\xFF");
  EXPECT_EQ(printable("\xE3\x81\u3042"), "\\xE3\\x81\u3042");  // what follows is read anew
}

TEST(Printable, ShowsWhatOrdersOrEndsOrHidesText) {
  EXPECT_EQ(printable("\u202A\u202B\u202C\u202D\u202E"), "\\u202A\\u202B\\u202C\\u202D\\u202E");
  EXPECT_EQ(printable("\u2066\u2067\u2068\u2069"), "\\u2066\\u2067\\u2068\\u2069");
  EXPECT_EQ(printable("\u200E\u200F\u061C"), "\\u200E\\u200F\\u061C");
  EXPECT_EQ(printable("\u2028\u2029"), "\\u2028\\u2029");
  EXPECT_EQ(printable("\uFEFF\uFFFE\uFFFF\uFFF9"), "\\uFEFF\\uFFFE\\uFFFF\\uFFF9");
  EXPECT_EQ(printable("\U000E0041"), "\\uDB40\\uDC41");
}

TEST(Printable, ChangesNothingTwice) {
  std::string all;
  for (int c = 0; c < 256; ++c) all += static_cast<char>(c);
  all += "\u202E\u2028\u009B";
  EXPECT_EQ(printable(printable(all)), printable(all));
}

// RFC 4180, section 2; what a spreadsheet takes for a formula: common practice.
TEST(CsvCell, IsQuotedWhereItMustBe) {
  EXPECT_EQ(csv_cell("rain"), "rain");
  EXPECT_EQ(csv_cell(""), "");
  EXPECT_EQ(csv_cell("rain, barrel"), "\"rain, barrel\"");
  EXPECT_EQ(csv_cell("a \"b\""), "\"a \"\"b\"\"\"");
  EXPECT_EQ(csv_cell("two\r\nlines"), "two\\x0D\\x0Alines");
}

TEST(CsvCell, IsNoFormula) {
  for (const char* begin : {"=", "+", "-", "@", "\uFF1D", "\uFF0B", "\uFF0D", "\uFF20"}) {
    EXPECT_EQ(csv_cell(std::string(begin) + "1"), "'" + std::string(begin) + "1");
  }
  EXPECT_EQ(csv_cell("\t=1"), "'\\x09=1");
  EXPECT_EQ(csv_cell("=HYPERLINK(\"a\")"), "\"'=HYPERLINK(\"\"a\"\")\"");
  EXPECT_EQ(csv_cell("1+1"), "1+1");
}

TEST(PrintableJson, HoldsTheSameValues) {
  using Json = nlohmann::json;
  const Json json{{"a\u202E", "\x1B \x7F \u009B \u2028 \uFEFF \U000E0041 \u03A9 \\ \" \n"}, {"b", {1, 2}}};
  const std::string shown = printable_json(json.dump(2));
  EXPECT_EQ(Json::parse(shown), json);
  EXPECT_EQ(shown.find("\u202E"), std::string::npos);
  EXPECT_NE(shown.find("\\u007F \\u009B \\u2028 \\uFEFF \\uDB40\\uDC41 \u03A9"), std::string::npos);
}

}  // namespace
}  // namespace prewire
