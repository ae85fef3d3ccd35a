// Key-in listings against their specification in docs/images.md.
#include <gtest/gtest.h>

#include "unit/image_testing.h"

namespace prewire::testing {
namespace {

std::string key_in(std::string_view text) { return outcome(text, ImageFormat::key_in, "barrel.key"); }
std::string key_in_faults(std::string_view text) { return fault_ids(text, ImageFormat::key_in); }

TEST(KeyIn, Sample) { EXPECT_EQ(key_in(sample("barrel.key")), "$0100: 8E 01 FF 86 3F B7 40 00 20 FE\n$FFFE: 01 00\n"); }

TEST(KeyIn, AddressesMayBePlainOrMarked) {
  const char* const expected = "$00FE: 01 AB\n";
  for (const char* line : {"FE: 01 AB", "fe: 01 ab", "00FE:01 AB", "000000FE : 01\tAB", "$FE: 01 AB", "0xFE: 01 AB",
                           "0X00fe\t:\t01  AB  ", "  $00FE:01 AB;comment", "FE: 01 AB ; : 0100: 99"}) {
    EXPECT_EQ(key_in(line), expected) << line;
  }
  EXPECT_EQ(key_in("0: 55"), "$0000: 55\n");
  EXPECT_EQ(key_in("FFFFFFFF: 55"), "$FFFFFFFF: 55\n");
}

TEST(KeyIn, LinesMayComeInAnyOrder) {
  EXPECT_EQ(key_in("0102: 33\nFFFE: 01 00\n0100: 11 22\n"), "$0100: 11 22 33\n$FFFE: 01 00\n");
}

TEST(KeyIn, AddressFaults) {
  const auto address = [](int column, const char* found) {
    return fmt::format(
        "barrel.key:1:{}: stop: the line does not start with an address [key-address]\n"
        "    expected: 1 to 8 hex digits and a colon, such as 0100:\n"
        "    found:    {}\n"
        "    hint:     start every line with its address; comments start with ';'\n",
        column, found);
  };
  EXPECT_EQ(key_in(": 8E"), address(1, "':'"));
  EXPECT_EQ(key_in("  $: 8E"), address(4, "':'"));
  EXPECT_EQ(key_in("0x"), address(3, "the end of the line"));
  EXPECT_EQ(key_in("$ ; stack"), address(2, "' '"));
  EXPECT_EQ(key_in("$;"), address(2, "the end of the line"));
  EXPECT_EQ(key_in("lamps: 8E"), address(1, "'l'"));
  EXPECT_EQ(key_in("123456789: 8E"), address(1, "9 digits"));
}

TEST(KeyIn, ColonFaults) {
  const auto colon = [](int column, const char* found) {
    return fmt::format(
        "barrel.key:1:{}: stop: there is no colon after the address [key-colon]\n"
        "    expected: ':'\n"
        "    found:    {}\n"
        "    hint:     write the line as in 0100: 8E 01 FF\n",
        column, found);
  };
  EXPECT_EQ(key_in("0100 8E 01"), colon(6, "'8'"));
  EXPECT_EQ(key_in("01O0: 8E"), colon(3, "'O'"));
  EXPECT_EQ(key_in("0100"), colon(5, "the end of the line"));
  EXPECT_EQ(key_in("0100 ; 8E"), colon(6, "the end of the line"));
}

TEST(KeyIn, EveryBadByteIsReported) {
  EXPECT_EQ(key_in_faults("0100: 8E 1 GG 863F $01 0x01 01, -1\n"),
            "1: key-byte\n1: key-byte\n1: key-byte\n1: key-byte\n1: key-byte\n1: key-byte\n1: key-byte\n");
  EXPECT_EQ(key_in("  0100: 8E 0l FF\n"),
            "barrel.key:1:12: stop: this is not a byte [key-byte]\n"
            "    expected: two hex digits, such as 0F\n"
            "    found:    '0l'\n"
            "    hint:     put blanks between bytes; letters such as O, I and l are easily taken for digits\n");
}

TEST(KeyIn, LongWordsAreShortened) {
  EXPECT_EQ(key_in("0100: " + std::string(1000, 'F')),
            "barrel.key:1:7: stop: this is not a byte [key-byte]\n"
            "    expected: two hex digits, such as 0F\n"
            "    found:    'FFFFFFFFFFFFFFFFFFFFFFFF...'\n"
            "    hint:     put blanks between bytes; letters such as O, I and l are easily taken for digits\n");
}

TEST(KeyIn, TheLastAddressIsTheEnd) {
  EXPECT_EQ(key_in("$FFFFFFFF: 01 00"),
            "barrel.key:1:1: stop: the data goes past $FFFFFFFF [image-past-end]\n"
            "    expected: no address above $FFFFFFFF\n"
            "    found:    $100000000\n"
            "    hint:     correct the address or shorten the data; it does not go on at the lowest address\n");
}

TEST(KeyIn, OnlyCommentsAreNoImage) { EXPECT_EQ(key_in_faults("; nothing\n  ;\n"), "0: image-empty\n"); }

TEST(KeyIn, AllFaultsInOneGo) {
  EXPECT_EQ(key_in_faults(sample("bad-barrel.key")),
            "3: key-colon\n4: key-byte\n5: key-address\n6: key-address\n7: image-overlap\n8: image-past-end\n");
}

}  // namespace
}  // namespace prewire::testing
