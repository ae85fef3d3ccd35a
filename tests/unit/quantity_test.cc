// Quantities: prefixes and units as in the SI Brochure (BIPM, 9th edition, tables 4 and 7), in exact arithmetic.
#include "units/quantity.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <limits>
#include <random>
#include <regex>

#include "units/address.h"

namespace prewire {
namespace {

constexpr std::int64_t kMost = std::numeric_limits<std::int64_t>::max();
constexpr std::int64_t kLeast = std::numeric_limits<std::int64_t>::min();

struct QuantityCase {
  std::string_view text;
  Unit unit;
  std::int64_t value;
};

TEST(Quantity, IsWrittenAsAPersonWould) {
  // Neither long nor rounded; what is read again is the same.
  EXPECT_EQ(format_quantity(2'000'000'558'730, Unit::picoseconds), "2.00000055873 s");
  EXPECT_EQ(format_quantity(1'234'567'891'000, Unit::picoseconds), "1.234567891 s");
  EXPECT_EQ(format_quantity(12'345'678'000, Unit::picoseconds), "12.345678 ms");
  EXPECT_EQ(format_quantity(1'005'500'000, Unit::picoseconds), "1005.5 us");
  EXPECT_EQ(format_quantity(-2'000'000'558'730, Unit::picoseconds), "-2.00000055873 s");
  EXPECT_EQ(format_quantity(40'250'000, Unit::picoseconds), "40.25 us");
  EXPECT_EQ(format_quantity(1, Unit::picoseconds), "1 ps");
  for (const std::int64_t span : {2'000'000'558'730, 1'234'567'891'001, 999'999'999'999}) {
    EXPECT_EQ(parse_quantity(format_quantity(span, Unit::picoseconds), Unit::picoseconds), span);
  }
}

TEST(Quantity, ReadsNumbersWithUnits) {
  const QuantityCase cases[] = {
      {"8", Unit::count, 8},
      {"-8", Unit::count, -8},
      {"1e3", Unit::count, 1000},
      {"12.50e1", Unit::count, 125},
      {"9223372036854775807", Unit::count, kMost},
      {"-9223372036854775808", Unit::count, kLeast},
      {"640 kHz", Unit::millihertz, 640'000'000},
      {"1MHz", Unit::millihertz, 1'000'000'000},
      {"4.194304 MHz", Unit::millihertz, 4'194'304'000},
      {"60 Hz", Unit::millihertz, 60'000},
      {"2 GHz", Unit::millihertz, 2'000'000'000'000},
      {"1 mHz", Unit::millihertz, 1},
      {"2.56 V", Unit::microvolts, 2'560'000},
      {"+5V", Unit::microvolts, 5'000'000},
      {"-12 V", Unit::microvolts, -12'000'000},
      {"19.5 mV", Unit::microvolts, 19'500},
      {"7 uV", Unit::microvolts, 7},
      {"7 \u00B5V", Unit::microvolts, 7},
      {"7 \u03BCV", Unit::microvolts, 7},
      {"0.0015 kV", Unit::microvolts, 1'500'000},
      {"4.7 kOhm", Unit::ohms, 4'700},
      {"4.7kohm", Unit::ohms, 4'700},
      {"330 \u03A9", Unit::ohms, 330},
      {"330 \u2126", Unit::ohms, 330},
      {"10 MOhm", Unit::ohms, 10'000'000},
      {"150 pF", Unit::femtofarads, 150'000},
      {"0.1 uF", Unit::femtofarads, 100'000'000},
      {".1 uF", Unit::femtofarads, 100'000'000},
      {"10 nF", Unit::femtofarads, 10'000'000},
      {"0.001 pF", Unit::femtofarads, 1},
      {"3 ms", Unit::picoseconds, 3'000'000'000},
      {"20 us", Unit::picoseconds, 20'000'000},
      {"1 s", Unit::picoseconds, 1'000'000'000'000},
      {"450 ns", Unit::picoseconds, 450'000},
      {"0.5 LSB", Unit::millilsb, 500},
      {"-1 LSB", Unit::millilsb, -1'000},
      {"0.25", Unit::millionths, 250'000},
      {"25 %", Unit::millionths, 250'000},
      {"25%", Unit::millionths, 250'000},
      {"0.0001 %", Unit::millionths, 1},
      {"2.5e-1", Unit::millionths, 250'000},
      {"true", Unit::flag, 1},
      {"false", Unit::flag, 0},
      {"0 V", Unit::microvolts, 0},
      {"-0.000 V", Unit::microvolts, 0},
      {"0e99999999999999999999 V", Unit::microvolts, 0},
      {" 5\tV ", Unit::microvolts, 5'000'000},
      {"5.0000000000000000000000000000000000000000 V", Unit::microvolts, 5'000'000},
      {"0000000000000000000000000000000000005 V", Unit::microvolts, 5'000'000},
      {"0.000000000000000000001e21 V", Unit::microvolts, 1'000'000},
  };
  for (const QuantityCase& one : cases) {
    SCOPED_TRACE(one.text);
    ASSERT_TRUE(parse_quantity(one.text, one.unit).has_value());
    EXPECT_EQ(*parse_quantity(one.text, one.unit), one.value);
    EXPECT_EQ(read_quantity(one.text, one.unit).trouble, QuantityTrouble::none);
  }
}

struct Bad {
  std::string_view text;
  Unit unit;
  QuantityTrouble trouble;
  std::string_view hint;
};

TEST(Quantity, SaysWhyATextIsNone) {
  constexpr auto kNumber = QuantityTrouble::number, kUnit = QuantityTrouble::unit, kFine = QuantityTrouble::fine,
                 kLarge = QuantityTrouble::large;
  const Bad cases[] = {
      {"", Unit::ohms, kNumber, ""},
      {"   ", Unit::ohms, kNumber, ""},
      {"kOhm", Unit::ohms, kNumber, ""},
      {"+", Unit::count, kNumber, ""},
      {".", Unit::count, kNumber, ""},
      {"- 5", Unit::count, kNumber, ""},
      {"e5", Unit::count, kNumber, ""},
      {"yes", Unit::flag, kNumber, ""},
      {"1", Unit::flag, kNumber, ""},
      {"1", Unit::choice, kNumber, ""},
      {"10", Unit::ohms, kUnit, "write the unit after the number"},
      {"10k", Unit::ohms, kUnit, "write the unit too: \"kOhm\""},
      {"4.7K", Unit::ohms, kUnit, "write the unit too: \"kOhm\""},
      {"10 V", Unit::ohms, kUnit, ""},
      {"10 KOHM", Unit::ohms, kUnit, "capital and small letters matter: write \"kOhm\""},
      {"10 mOhm", Unit::ohms, kUnit, "capital and small letters matter: write \"MOhm\""},
      {"1 Mhz", Unit::millihertz, kUnit, "capital and small letters matter: write \"MHz\""},
      {"1 lsb", Unit::millilsb, kUnit, "capital and small letters matter: write \"LSB\""},
      {"150 p F", Unit::femtofarads, kUnit, ""},
      {"5 V", Unit::count, kUnit, "this is a plain number without a unit"},
      {"1.2.3 V", Unit::microvolts, kUnit, ""},
      {"1 2 V", Unit::microvolts, kUnit, ""},
      {"5e V", Unit::microvolts, kUnit, ""},
      {"5 V\n", Unit::microvolts, kUnit, ""},
      {"0.5", Unit::count, kFine, "the smallest step is 1"},
      {"0.5 Ohm", Unit::ohms, kFine, "the smallest step is 1 Ohm"},
      {"0.1 uV", Unit::microvolts, kFine, "the smallest step is 1 uV"},
      {"0.0001 pF", Unit::femtofarads, kFine, "the smallest step is 0.001 pF"},
      {"0.0000001", Unit::millionths, kFine, "the smallest step is 0.0001 %"},
      {"5.0000000000000000000000000000000000000001 V", Unit::microvolts, kFine, "the smallest step is 1 uV"},
      {"1e-999999999999 V", Unit::microvolts, kFine, "the smallest step is 1 uV"},
      {"9223372036854775808", Unit::count, kLarge, "the number is far too large: check the prefix"},
      {"-9223372036854775809", Unit::count, kLarge, "the number is far too large: check the prefix"},
      {"1e999999999999 V", Unit::microvolts, kLarge, "the number is far too large: check the prefix"},
      {"10000000000000000000", Unit::count, kLarge, "the number is far too large: check the prefix"},
      {"99999999999999999999999999999", Unit::count, kLarge, "the number is far too large: check the prefix"},
  };
  for (const Bad& one : cases) {
    SCOPED_TRACE(one.text);
    const Quantity quantity = read_quantity(one.text, one.unit);
    EXPECT_EQ(quantity.trouble, one.trouble);
    EXPECT_EQ(quantity_hint(one.text, one.unit, quantity.trouble), one.hint);
    EXPECT_FALSE(parse_quantity(one.text, one.unit).has_value());
  }
}

TEST(Quantity, WritesTheLargestPrefixThatKeepsItShort) {
  const QuantityCase cases[] = {
      {"640 kHz", Unit::millihertz, 640'000'000},
      {"1 MHz", Unit::millihertz, 1'000'000'000},
      {"1048576.25 Hz", Unit::millihertz, 1'048'576'250},
      {"4194.304 kHz", Unit::millihertz, 4'194'304'000},
      {"1 mHz", Unit::millihertz, 1},
      {"0 Hz", Unit::millihertz, 0},
      {"2.56 V", Unit::microvolts, 2'560'000},
      {"-12 V", Unit::microvolts, -12'000'000},
      {"1234.567 mV", Unit::microvolts, 1'234'567},
      {"10000.001 mV", Unit::microvolts, 10'000'001},
      {"4.7 kOhm", Unit::ohms, 4'700},
      {"330 Ohm", Unit::ohms, 330},
      {"1 MOhm", Unit::ohms, 1'000'000},
      {"150 pF", Unit::femtofarads, 150'000},
      {"100 nF", Unit::femtofarads, 100'000'000},
      {"0.001 pF", Unit::femtofarads, 1},
      {"3 ms", Unit::picoseconds, 3'000'000'000},
      {"0.5 LSB", Unit::millilsb, 500},
      {"25 %", Unit::millionths, 250'000},
      {"0.0001 %", Unit::millionths, 1},
      {"8", Unit::count, 8},
      {"2", Unit::choice, 2},
      {"true", Unit::flag, 1},
      {"false", Unit::flag, 0},
  };
  for (const QuantityCase& one : cases) {
    EXPECT_EQ(format_quantity(one.value, one.unit), one.text);
  }
}

const Unit kUnits[] = {Unit::count,       Unit::millihertz,  Unit::microvolts, Unit::ohms,
                       Unit::femtofarads, Unit::picoseconds, Unit::millilsb,   Unit::millionths};

TEST(Quantity, ReadsBackWhatItWrites) {
  std::mt19937_64 random(6800);
  const auto check = [](std::int64_t value) {
    for (const Unit unit : kUnits) {
      const std::string text = format_quantity(value, unit);
      const auto again = parse_quantity(text, unit);
      ASSERT_TRUE(again.has_value()) << text;
      ASSERT_EQ(*again, value) << text;
    }
  };
  for (const std::int64_t value : {std::int64_t{0}, kMost, kLeast, kMost - 1, kLeast + 1, std::int64_t{-1}})
    check(value);
  for (std::int64_t power = 1; power < kMost / 10; power *= 10) {
    for (const std::int64_t value : {power, power + 1, power - 1, -power, 5 * power}) check(value);
  }
  for (int i = 0; i < 5000; ++i) {
    const auto bits = random() % 63;
    check(static_cast<std::int64_t>(random() >> bits));
  }
}

// Slow and obviously right: a mantissa, a decimal point and a power of ten, in 128 bits.
TEST(Quantity, AgreesWithWideArithmetic) {
  __extension__ using Wide = __int128;
  struct Symbol {
    Unit unit;
    std::string_view text;
    int power;
  };
  const Symbol symbols[] = {{Unit::millihertz, "GHz", 12}, {Unit::millihertz, "mHz", 0}, {Unit::microvolts, "mV", 3},
                            {Unit::ohms, "kOhm", 3},       {Unit::ohms, "Ohm", 0},       {Unit::femtofarads, "uF", 9},
                            {Unit::picoseconds, "ns", 3},  {Unit::picoseconds, "s", 12}, {Unit::millionths, "%", 4},
                            {Unit::millionths, "", 6},     {Unit::count, "", 0}};
  std::mt19937_64 random(6802);
  int exact = 0, fine = 0, large = 0;
  for (int i = 0; i < 20'000; ++i) {
    const Symbol& symbol = symbols[random() % std::size(symbols)];
    const std::string digits = std::to_string(random() >> random() % 60);
    const std::size_t decimals = random() % (digits.size() + 1);
    const int exponent = static_cast<int>(random() % 9) - 4;
    const bool negative = random() % 2 == 0;
    const std::string text =
        fmt::format("{}{}.{}e{} {}", negative ? "-" : "", digits.substr(0, digits.size() - decimals),
                    digits.substr(digits.size() - decimals), exponent, symbol.text);
    Wide value = 0;
    for (const char digit : digits) value = value * 10 + (digit - '0');
    bool whole = true;
    int power = symbol.power + exponent - static_cast<int>(decimals);
    for (; power > 0; --power) value *= 10;  // at most 20 + 16 digits
    for (; power < 0; ++power) {
      whole = whole && value % 10 == 0;
      value /= 10;
    }
    if (negative) value = -value;
    const Quantity quantity = read_quantity(text, symbol.unit);
    if (!whole) {
      ++fine;
      ASSERT_EQ(quantity.trouble, QuantityTrouble::fine) << text;
    } else if (value > kMost || value < kLeast) {
      ++large;
      ASSERT_EQ(quantity.trouble, QuantityTrouble::large) << text;
    } else {
      ++exact;
      ASSERT_EQ(quantity.trouble, QuantityTrouble::none) << text;
      ASSERT_EQ(quantity.value, static_cast<std::int64_t>(value)) << text;
    }
  }
  EXPECT_GT(exact, 1000);
  EXPECT_GT(fine, 1000);
  EXPECT_GT(large, 1000);
}

TEST(Quantity, ExamplesAreQuantities) {
  for (const Unit unit : kUnits) {
    const std::string example(quantity_example(unit));
    const std::size_t quote = example.find('"');
    const std::string text = quote == std::string::npos ? example.substr(example.rfind(' ') + 1)
                                                        : example.substr(quote + 1, example.size() - quote - 2);
    EXPECT_TRUE(parse_quantity(text, unit).has_value()) << example;
  }
}

// The schema offers this pattern to editors: it must take what the reader takes, and no other unit.
TEST(Quantity, PatternMatchesTheReader) {
  for (const Unit unit : kUnits) {
    const std::regex pattern(quantity_pattern(unit));
    for (const std::string_view text :
         {"8",         "640 kHz", "1MHz",     "2 GHz", "5 mHz",    "+5V",       "-1.5e3 mV", "7 \u00B5V",
          "7 \u03BCV", "1 kV",    "4.7 kOhm", "3 ohm", "3 \u2126", "3 k\u03A9", "10 GOhm",   "150 pF",
          ".1 uF",     "1. F",    "3 ms",     "1 ns",  "1 ks",     "0.5 LSB",   "1 kLSB",    "25 %",
          "25%",       " 5 V ",   "",         "V",     "5 5 V"}) {
      const QuantityTrouble trouble = read_quantity(text, unit).trouble;
      const bool written = trouble != QuantityTrouble::number && trouble != QuantityTrouble::unit;
      EXPECT_EQ(std::regex_match(std::string(text), pattern), written) << text << " and " << quantity_pattern(unit);
    }
  }
}

TEST(AddressMap, WritesRanges) {
  EXPECT_EQ(format_range({0x4000, 0x4003}), "$4000-$4003");
  EXPECT_EQ(format_range({0xC, 0xC}), "$000C");
}

}  // namespace
}  // namespace prewire
