// S-records against srec_motorola(5) of Debian's srecord 1.64, by whose rules lengths and sums of all lines here are
// worked out.
#include <gtest/gtest.h>

#include <cctype>

#include "unit/image_testing.h"

namespace prewire::testing {
namespace {

std::string s_record(std::string_view text) { return outcome(text, ImageFormat::s_record, "barrel.s19"); }
std::string record_faults(std::string_view text) { return fault_ids(text, ImageFormat::s_record); }

constexpr const char* kNoEnd =
    "barrel.s19: warn: the end record is missing [end-missing]\n"
    "    expected: S7, S8 or S9\n"
    "    found:    the end of the file\n"
    "    hint:     lines may be lost; get the file again from where it came\n";

TEST(SRecord, ManualPageExample) {
  // srec_motorola(5), EXAMPLE.
  EXPECT_EQ(s_record("S00600004844521B\n"
                     "S110000048656C6C6F2C20576F726C640A9D\n"
                     "S5030001FB\n"
                     "S9030000FC\n"),
            "header HDR\n$0000: 48 65 6C 6C 6F 2C 20 57 6F 72 6C 64 0A\nentry $0000\n");
}

TEST(SRecord, Samples) {
  // srec_info 1.64 gives the same headers, ranges and start addresses.
  EXPECT_EQ(s_record(sample("barrel.s19")),
            "header BARREL\n$0100: 8E 01 FF 86 3F B7 40 00 20 FE\n$FFFE: 01 00\nentry $0100\n");
  EXPECT_EQ(s_record(sample("tanks.s28")), "header X\n$12345: 11 22 33\nentry $12345\n");
  EXPECT_EQ(s_record(sample("mast.s37")), "header Y\n$89ABCDEF: AA 55\nentry $89ABCDEF\n");
}

TEST(SRecord, AnyChangedDigitIsFound) {
  // One digit changes one byte by less than 256, so the sum over the record cannot stay the same.
  const std::string good = "S10D01008E01FF863FB7400020FE89";
  for (std::size_t i = 2; i < good.size(); ++i) {
    for (const char digit : std::string("0123456789ABCDEF")) {
      if (digit == good[i]) continue;
      std::string bad = good;
      bad[i] = digit;
      EXPECT_EQ(record_faults(bad + "\nS9030100FB\n"), i < 4 ? "1: record-length\n" : "1: record-checksum\n") << bad;
    }
  }
}

TEST(SRecord, LowerCaseDosLinesAndBlanksAreFine) {
  std::string text = sample("barrel.s19");
  const std::string expected = s_record(text);
  std::string dos;
  for (const char c : text) {
    if (c == '\n') dos += " \t\r";
    dos += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  }
  EXPECT_EQ(s_record(dos), expected);
  EXPECT_EQ(s_record(dos + "\r\n \r\n"), expected);
  text.pop_back();
  EXPECT_EQ(s_record(text), expected) << "no line end at the end of the file";
}

TEST(SRecord, MissingEndIsARemarkAndGivesNoEntry) {
  EXPECT_EQ(s_record("S105FFFE0100FC\n"), std::string("$FFFE: 01 00\n") + kNoEnd);
}

TEST(SRecord, CountsAreOfAllDataRecordsSoFar) {
  const std::string line = "S105FFFE0100FC\n";
  EXPECT_EQ(record_faults(line + "S10501000100F8\nS5030003F9\nS9030100FB\n"), "3: record-count\n");
  const std::string twice = line + "S5030001FB\nS10501000100F8\nS604000002F9\nS9030100FB\n";
  EXPECT_EQ(s_record(twice), "$0100: 01 00\n$FFFE: 01 00\nentry $0100\n");
  // A damaged data record still counts.
  EXPECT_EQ(record_faults("S105FFFE0100FD\nS5030001FB\nS9030100FB\n"), "1: record-checksum\n");
}

TEST(SRecord, AddressesEndWithTheirType) {
  EXPECT_EQ(s_record("S104FFFF01FC\nS9030000FC\n"), "$FFFF: 01\nentry $0000\n");
  const auto past = [](const char* last, const char* found) {
    return fmt::format(
        "barrel.s19:1:5: stop: the data goes past {0} [image-past-end]\n"
        "    expected: no address above {0}\n"
        "    found:    {1}\n"
        "    hint:     correct the address or shorten the data; it does not go on at the lowest address\n",
        last, found);
  };
  EXPECT_EQ(s_record("S105FFFF0100FB\nS9030000FC\n"), past("$FFFF", "$10000"));
  EXPECT_EQ(s_record("S206FFFFFF0100FB\nS804000000FB\n"), past("$FFFFFF", "$1000000"));
  EXPECT_EQ(s_record("S307FFFFFFFF0100FB\nS70500000000FA\n"), past("$FFFFFFFF", "$100000000"));
}

TEST(SRecord, OverlapNamesBothLines) {
  EXPECT_EQ(s_record("S10501000100F8\nS104FFFF01FC\nS10501010200F6\nS9030000FC\n"),
            "barrel.s19:3:5: stop: line 3 gives another byte for $0101 than line 1 [image-overlap]\n"
            "    expected: $00, as in line 1\n"
            "    found:    $02\n"
            "    hint:     remove one of the two lines, or correct its address\n");
}

TEST(SRecord, RecordsWithoutDataBytes) {
  EXPECT_EQ(record_faults("S1030100FB\nS9030100FB\n"), "0: image-empty\n");
  EXPECT_EQ(record_faults("S0030000FC\nS9030000FC\n"), "0: image-empty\n");
  EXPECT_EQ(s_record("S1030000FC\nS105FFFE0100FC\nS5030002FA\nS9030100FB\n"), "$FFFE: 01 00\nentry $0100\n");
}

TEST(SRecord, TheFirstHeaderIsKeptAndPrintable) {
  EXPECT_EQ(s_record("S0030000FC\nS00700001B41C20AD0\nS00600004844521B\nS105FFFE0100FC\nS9030100FB\n"),
            "header .A..\n$FFFE: 01 00\nentry $0100\n");
}

TEST(SRecord, LineShapes) {
  const std::string end = "\nS105FFFE0100FC\nS9030100FB\n";
  EXPECT_EQ(record_faults("S" + end), "1: record-type\n");
  EXPECT_EQ(record_faults("Sx0300" + end), "1: record-type\n");
  EXPECT_EQ(record_faults("S4030000FC" + end), "1: record-type\n");
  EXPECT_EQ(record_faults("S1" + end), "1: record-short\n");
  EXPECT_EQ(record_faults("S10" + end), "1: record-odd\n");
  EXPECT_EQ(record_faults("S1030000" + end), "1: record-short\n");
  EXPECT_EQ(record_faults("S1FF0000FC" + end), "1: record-length\n");
  EXPECT_EQ(record_faults("S1 030000FC" + end), "1: record-digit\n");
  EXPECT_EQ(record_faults("S5040001FFFB" + end), "1: record-data\n");
}

TEST(SRecord, DamagedEndRecordsStillEnd) {
  EXPECT_EQ(record_faults("S105FFFE0100FC\nS9030100FC\n"), "2: record-checksum\n");
  EXPECT_EQ(record_faults("S105FFFE0100FC\nS9030100F\n"), "2: record-odd\n");
  EXPECT_EQ(record_faults("S105FFFE0100FC\nS903\n"), "2: record-short\n");
  // Data under an end type is more likely a mistyped data record: reading goes on.
  EXPECT_EQ(record_faults("S90D01008E01FF863FB7400020FE88\nS105FFFE0100FD\nS9030100FB\n"),
            "1: record-checksum\n2: record-checksum\n");
}

TEST(SRecord, AllFaultsInOneGo) {
  EXPECT_EQ(record_faults(sample("bad-barrel.s19")),
            "2: record-checksum\n3: record-digit\n4: record-type\n5: record-odd\n6: record-mark\n7: record-count\n"
            "9: end-early\n");
}

}  // namespace
}  // namespace prewire::testing
