// Intel HEX against srec_intel(5) of Debian's srecord 1.64.
#include <gtest/gtest.h>

#include "unit/image_testing.h"

namespace prewire::testing {
namespace {

std::string intel_hex(std::string_view text) { return outcome(text, ImageFormat::intel_hex, "barrel.hex"); }
std::string hex_faults(std::string_view text) { return fault_ids(text, ImageFormat::intel_hex); }

constexpr const char* kEnd = ":00000001FF\n";
constexpr const char* kVector = ":02FFFE00010000\n";

TEST(IntelHex, ManualPageExample) {
  // srec_intel(5), EXAMPLE.
  EXPECT_EQ(intel_hex(":0D00000048656C6C6F2C20576F726C640AA1\n:00000001FF\n"),
            "$0000: 48 65 6C 6C 6F 2C 20 57 6F 72 6C 64 0A\n");
}

TEST(IntelHex, Samples) {
  // srec_info 1.64 gives the same ranges and start addresses.
  EXPECT_EQ(intel_hex(sample("barrel.hex")), "$0100: 8E 01 FF 86 3F B7 40 00 20 FE\n$FFFE: 01 00\n");
  EXPECT_EQ(intel_hex(sample("tanks.hex")), "$12345: 11 22 33\nentry $12345\n");
}

TEST(IntelHex, AnyChangedDigitIsFound) {
  const std::string good = ":0A0100008E01FF863FB7400020FE8D";
  for (std::size_t i = 1; i < good.size(); ++i) {
    for (const char digit : std::string("0123456789ABCDEF")) {
      if (digit == good[i]) continue;
      std::string bad = good;
      bad[i] = digit;
      EXPECT_EQ(hex_faults(bad + "\n" + kEnd), i < 3 ? "1: record-length\n" : "1: record-checksum\n") << bad;
    }
  }
}

TEST(IntelHex, ChecksumOffByOne) {
  EXPECT_EQ(intel_hex(std::string(":0A0100008E01FF863FB7400020FE8E\n") + kEnd),
            "barrel.hex:1:30: stop: the checksum does not match the record [record-checksum]\n"
            "    expected: $8D\n"
            "    found:    $8E\n"
            "    hint:     a digit of this line was changed; compare it with the original\n");
}

TEST(IntelHex, LowerCaseDosLinesAndBlanksAreFine) {
  EXPECT_EQ(intel_hex("  :0a0100008e01ff863fb7400020fe8d\t\r\n:02fffe00010000\r\n:00000001ff\r\n"),
            intel_hex(sample("barrel.hex")));
}

TEST(IntelHex, NothingIsReadAfterTheEnd) {
  EXPECT_EQ(intel_hex(std::string(kVector) + kEnd + "\nanything\nmore\n"),
            "$FFFE: 01 00\n"
            "barrel.hex:4:1: warn: lines after the end record are not read [end-early]\n"
            "    expected: the end of the file\n"
            "    found:    'anything'\n"
            "    hint:     two files may have been joined; load them one by one\n");
  EXPECT_EQ(hex_faults(kEnd), "0: image-empty\n");
}

TEST(IntelHex, SegmentsAddSixteenTimesTheirNumber) {
  // srec_intel(5), Extended Segment Address Record. The last record counts.
  EXPECT_EQ(intel_hex(std::string(":020000021234B6\n:01001000559A\n:02000002FFFFFE\n:01FFFF00669B\n") + kEnd),
            "$12350: 55\n$10FFEF: 66\n");
}

TEST(IntelHex, LinearRecordsGiveBitsSixteenToThirtyOne) {
  // srec_intel(5), Extended Linear Address Record.
  EXPECT_EQ(intel_hex(std::string(":020000040001F9\n:01001000559A\n:02000004FFFFFC\n:01FFFF00669B\n") + kEnd),
            "$10010: 55\n$FFFFFFFF: 66\n");
  EXPECT_EQ(intel_hex(std::string(":020000040000FA\n:02FFFF00AA5501\n") + kEnd), "$FFFF: AA 55\n")
      << "(LBA + DRLO + DRI): a record may cross into the next 64 KiB";
}

TEST(IntelHex, DataDoesNotWrap) {
  const auto past = [](int line, const char* last, const char* found) {
    return fmt::format(
        "barrel.hex:{0}:4: stop: the data goes past {1} [image-past-end]\n"
        "    expected: no address above {1}\n"
        "    found:    {2}\n"
        "    hint:     correct the address or shorten the data; it does not go on at the lowest address\n",
        line, last, found);
  };
  const std::string crossing = std::string(":02FFFF00AA5501\n") + kEnd;
  EXPECT_EQ(intel_hex(crossing), past(1, "$FFFF", "$10000"));
  EXPECT_EQ(intel_hex(":020000021234B6\n" + crossing), past(2, "$2233F", "$22340"));
  EXPECT_EQ(intel_hex(":02000004FFFFFC\n" + crossing), past(2, "$FFFFFFFF", "$100000000"));
  EXPECT_EQ(intel_hex(":020000040001F9\n:020000020000FC\n" + crossing), past(3, "$FFFF", "$10000"))
      << "a segment replaces the linear address";
}

TEST(IntelHex, StartAddresses) {
  const auto entry = [](const std::string& record) { return intel_hex(kVector + record + "\n" + kEnd); };
  // srec_intel(5): Start Segment Address Record (CS, IP), Start Linear Address Record (EIP); may stand anywhere.
  EXPECT_EQ(entry(":0400000312340010A3"), "$FFFE: 01 00\nentry $12350\n");
  EXPECT_EQ(entry(":0400000512345678E3"), "$FFFE: 01 00\nentry $12345678\n");
  EXPECT_EQ(intel_hex(std::string(":0400000500000100F6\n") + kVector + kEnd), "$FFFE: 01 00\nentry $0100\n");
  // srec_intel(5), End of File Record: i8hex once kept the start address in its load offset.
  EXPECT_EQ(intel_hex(std::string(kVector) + ":00010001FE\n"), "$FFFE: 01 00\nentry $0100\n");
  EXPECT_EQ(intel_hex(std::string(kVector) + kEnd), "$FFFE: 01 00\n");
}

TEST(IntelHex, TheFirstStartAddressCounts) {
  EXPECT_EQ(intel_hex(std::string(kVector) + ":0400000500000100F6\n:0400000300000100F8\n" + kEnd),
            "$FFFE: 01 00\nentry $0100\n")
      << "the same address twice is fine";
  EXPECT_EQ(intel_hex(std::string(kVector) + ":0400000500000103F3\n:00010001FE\n"),
            "$FFFE: 01 00\nentry $0103\n"
            "barrel.hex:3:8: warn: a second start address is not used [entry-repeat]\n"
            "    expected: $0103, as in line 2\n"
            "    found:    $0100\n"
            "    hint:     remove one of the two records\n");
}

TEST(IntelHex, StartTypeShouldFitTheAddresses) {
  const std::string segment = ":020000020000FC\n";
  const std::string linear = ":020000040000FA\n";
  const std::string start_segment = ":0400000300000100F8\n";
  const std::string start_linear = ":0400000500000100F6\n";
  const std::string good = "$FFFE: 01 00\nentry $0100\n";
  const auto text = [](const std::string& records) { return intel_hex(records + kVector + kEnd); };
  EXPECT_EQ(text(segment + start_segment), good);
  EXPECT_EQ(text(linear + start_linear), good);
  EXPECT_EQ(text(segment + linear + start_segment), good);
  EXPECT_EQ(text(segment + linear + start_linear), good);
  EXPECT_EQ(
      text(segment + start_linear),
      good +
          "barrel.hex:2:8: hint: a start linear address record does not belong to segment addresses [entry-type]\n"
          "    expected: 03\n"
          "    found:    05\n"
          "    hint:     check that the program starts at $0100\n");
  EXPECT_EQ(
      text(start_segment + linear),
      good +
          "barrel.hex:1:8: hint: a start segment address record does not belong to linear addresses [entry-type]\n"
          "    expected: 05\n"
          "    found:    03\n"
          "    hint:     check that the program starts at $0100\n");
}

TEST(IntelHex, OverlapNamesBothLines) {
  EXPECT_EQ(intel_hex(std::string(":02010000AA55FE\n") + kVector + ":02010000AA56FD\n" + kEnd),
            "barrel.hex:3:4: stop: line 3 gives another byte for $0101 than line 1 [image-overlap]\n"
            "    expected: $55, as in line 1\n"
            "    found:    $56\n"
            "    hint:     remove one of the two lines, or correct its address\n");
}

TEST(IntelHex, LineShapes) {
  const auto with = [](const std::string& line) { return hex_faults(line + "\n" + kVector + kEnd); };
  EXPECT_EQ(with("0A0100008E01FF863FB7400020FE8D"), "1: record-mark\n");
  EXPECT_EQ(with(":"), "1: record-short\n");
  EXPECT_EQ(with(":0"), "1: record-odd\n");
  EXPECT_EQ(with(":000000"), "1: record-short\n");
  EXPECT_EQ(with(":020100"), "1: record-short\n");
  EXPECT_EQ(with(":0A0100008E01FF863FB7400020FE8"), "1: record-odd\n");
  EXPECT_EQ(with(":0A0100008E01FF863FB7400020FE"), "1: record-length\n");
  EXPECT_EQ(with(":0A0100008E 01FF863FB7400020FE8D"), "1: record-digit\n");
  EXPECT_EQ(with(":0101000600F8"), "1: record-type\n");
  EXPECT_EQ(with(":020000030100FA"), "1: record-data\n");
  EXPECT_EQ(intel_hex(std::string(":00010000FF\n") + kVector + kEnd), "$FFFE: 01 00\n") << "no data bytes";
}

TEST(IntelHex, DamagedEndRecordsStillEnd) {
  EXPECT_EQ(hex_faults(std::string(kVector) + ":00000001FE\n"), "2: record-checksum\n");
  EXPECT_EQ(hex_faults(std::string(kVector) + ":00000001F\n"), "2: record-odd\n");
  EXPECT_EQ(hex_faults(std::string(kVector) + ":00000001\n"), "2: record-short\n");
  EXPECT_EQ(hex_faults(std::string(kVector) + ":020000010000FD\n"), "2: record-data\n");
  // Data under the end type with a wrong sum is more likely a mistyped data record: reading goes on.
  EXPECT_EQ(hex_faults(":0A0100018E01FF863FB7400020FE8D\n:02FFFE00010001\n:00000001FF\n"),
            "1: record-checksum\n2: record-checksum\n");
}

TEST(IntelHex, AllFaultsInOneGo) {
  EXPECT_EQ(hex_faults(sample("bad-barrel.hex")),
            "1: record-checksum\n2: record-length\n3: record-type\n4: record-checksum\n6: image-overlap\n"
            "0: end-missing\n");
}

}  // namespace
}  // namespace prewire::testing
