// What holds for all formats: names, detection, lines, merging, files.
#include <gtest/gtest.h>

#include "paths.h"
#include "unit/image_testing.h"

namespace prewire::testing {
namespace {

// The sample files: checked against srecord in image_reference_test.cc.
constexpr const char* kBarrelData =
    "$0100: 8E 01 FF 86 3F B7 40 00 20 FE\n"
    "$FFFE: 01 00\n";

TEST(ImageFormats, NamesGoBothWays) {
  EXPECT_EQ(to_string(ImageFormat::automatic), "automatic");
  EXPECT_EQ(to_string(ImageFormat::s_record), "s-record");
  EXPECT_EQ(to_string(ImageFormat::intel_hex), "intel-hex");
  EXPECT_EQ(to_string(ImageFormat::binary), "binary");
  EXPECT_EQ(to_string(ImageFormat::key_in), "key-in");
  for (const ImageFormat format : {ImageFormat::automatic, ImageFormat::s_record, ImageFormat::intel_hex,
                                   ImageFormat::binary, ImageFormat::key_in}) {
    EXPECT_EQ(image_format(to_string(format)), format);
  }
  EXPECT_EQ(image_format("S-record"), std::nullopt);
  EXPECT_EQ(image_format(""), std::nullopt);
}

TEST(ImageFormats, AllTextFormatsGiveTheSameProgram) {
  const auto data = [](const std::string& name, ImageFormat format) {
    Image image = read_image_file(sample_path(name), format);
    EXPECT_EQ(image.size(), 12U) << name;
    image.header.clear();
    image.entry.reset();
    return dump(image);
  };
  EXPECT_EQ(data("barrel.s19", ImageFormat::s_record), kBarrelData);
  EXPECT_EQ(data("barrel.hex", ImageFormat::intel_hex), kBarrelData);
  EXPECT_EQ(data("barrel.key", ImageFormat::key_in), kBarrelData);
  for (const char* name : {"barrel.s19", "barrel.hex", "barrel.key"}) {
    EXPECT_EQ(data(name, ImageFormat::automatic), kBarrelData);
  }
}

TEST(ImageFormats, AutomaticLooksAtTheFirstLineThatIsNotBlank) {
  const auto automatic = [](std::string_view text) { return outcome(text, ImageFormat::automatic, "file"); };
  const char* const vector_only = "$FFFE: 01 00\n";
  EXPECT_EQ(automatic("\n \t\r\n  s105FFFE0100FC\ns9030000fc\n"), std::string(vector_only) + "entry $0000\n");
  EXPECT_EQ(automatic("\r\r  :02FFFE00010000\r:00000001FF"), vector_only);
  EXPECT_EQ(automatic("; a comment\nFFFE: 01 00"), vector_only);
  EXPECT_EQ(automatic("$FFFE: 01 00"), vector_only);
  EXPECT_EQ(automatic("0xfffe : 01 00"), vector_only);
  EXPECT_EQ(automatic("\xEF\xBB\xBF"
                      "FFFE: 01 00"),
            vector_only)
      << "byte order mark";
}

TEST(ImageFormats, AutomaticDoesNotGuess) {
  const auto ids = [](std::string_view text) { return fault_ids(text, ImageFormat::automatic); };
  for (const char* text : {"FFFE 01 00", "SA", "S", "station: 01", "$: 01", "0x: 01", "\x8E\x01\xFF", "FFFE"}) {
    EXPECT_EQ(ids(text), "1: image-format\n") << text;
  }
  EXPECT_EQ(ids(""), "0: image-empty\n");
  EXPECT_EQ(ids("\n \n"), "0: image-empty\n");
}

TEST(ImageFormats, MessagesShowNothingUnprintable) {
  EXPECT_EQ(outcome("\n\x1B[2J\x8E\n", ImageFormat::automatic, "barrel"),
            "barrel:2:1: stop: the format cannot be told from the content [image-format]\n"
            "    expected: 'S' and a digit (S-record), ':' (Intel HEX), or an address and ':' (key-in listing)\n"
            "    found:    '\\x1B[2J\\x8E'\n"
            "    hint:     state the format; raw binary also needs the address of its first byte\n");
}

TEST(ImageFormats, LinesCountTheSameForEveryLineEnd) {
  for (const std::string end : {"\n", "\r", "\r\n"}) {
    EXPECT_EQ(outcome("0100: 8E" + end + end + " \t0101: 1" + end, ImageFormat::key_in, "barrel.key"),
              "barrel.key:3:9: stop: this is not a byte [key-byte]\n"
              "    expected: two hex digits, such as 0F\n"
              "    found:    '1'\n"
              "    hint:     put blanks between bytes; letters such as O, I and l are easily taken for digits\n");
  }
}

TEST(ImageFormats, BytesThatTouchBecomeOneSegment) {
  const auto key_in = [](std::string_view text) { return outcome(text, ImageFormat::key_in, "file"); };
  EXPECT_EQ(key_in("0104: 55\n0100: 11 22\n0102: 33 44\n"), "$0100: 11 22 33 44 55\n");
  EXPECT_EQ(key_in("0104: 55\n0100: 11 22\n0102: 33\n"), "$0100: 11 22 33\n$0104: 55\n");
  EXPECT_EQ(key_in("FFFFFFFF: 22\nFFFFFFFE: 11\n0: 00\n"), "$0000: 00\n$FFFFFFFE: 11 22\n");
}

TEST(ImageFormats, OverlapsAreComparedByteByByte) {
  const auto key_in = [](std::string_view text) { return outcome(text, ImageFormat::key_in, "file"); };
  // The lower address comes later in the file, so the later line is the one reported.
  EXPECT_EQ(key_in("0101: 22 33\n0100: 11 22\n"),
            "$0100: 11 22 33\n"
            "file:2:1: hint: line 2 gives $0101 again, with the same byte as line 1 [image-repeat]\n"
            "    hint:     remove one of the two lines, or correct its address\n");
  EXPECT_EQ(key_in("0101: 22 33\n  0100: 11 22 34 44\n"),
            "file:2:3: stop: line 2 gives another byte for $0102 than line 1 [image-overlap]\n"
            "    expected: $33, as in line 1\n"
            "    found:    $34\n"
            "    hint:     remove one of the two lines, or correct its address\n");
  // Line 3 covers both others, agrees with the first and disagrees with the second.
  EXPECT_EQ(key_in("0100: 11 22\n0102: 33 44\n0100: 11 22 33 45 55\n"),
            "file:3:1: stop: line 3 gives another byte for $0103 than line 2 [image-overlap]\n"
            "    expected: $44, as in line 2\n"
            "    found:    $45\n"
            "    hint:     remove one of the two lines, or correct its address\n"
            "file:3:1: hint: line 3 gives $0100 again, with the same byte as line 1 [image-repeat]\n"
            "    hint:     remove one of the two lines, or correct its address\n");
}

TEST(ImageFormats, FaultsComeWorstFirstWithTheRemarksBehind) {
  // srec_motorola(5): the sums of the second and third line are right, that of the first would be FC.
  EXPECT_EQ(fault_ids("S105FFFE0100FD\nS10500000100F9\nS10500000100F9\n", ImageFormat::s_record),
            "1: record-checksum\n0: end-missing\n3: image-repeat\n");
}

TEST(ImageFormats, TwentyFaultsAreKeptAndReadingStopsAfterAThousand) {
  const auto omitted = [](std::size_t lines) {
    std::string text;
    for (std::size_t i = 0; i < lines; ++i) text += "?\n";
    try {
      read_image(text, ImageFormat::key_in, "file");
    } catch (const InputError& error) {
      EXPECT_EQ(error.faults().size(), 20U);
      return error.omitted();
    }
    return std::size_t{0};
  };
  EXPECT_EQ(omitted(21), 1U);
  EXPECT_EQ(omitted(1000), 980U);
  EXPECT_EQ(omitted(5000), 980U);
}

TEST(ImageFormats, BinaryNeedsOnlyItsBase) {
  // Check value: two bytes at $FFFE are the reset vector and nothing else (common practice).
  EXPECT_EQ(outcome(std::string("\x01\x00", 2), ImageFormat::binary, "vector.bin", 0xFFFE), "$FFFE: 01 00\n");
  EXPECT_EQ(dump(read_image_file(sample_path("barrel.bin"), ImageFormat::binary, 0x0100)),
            "$0100: 8E 01 FF 86 3F B7 40 00 20 FE\n");
  EXPECT_EQ(outcome("\xEF\xBB\xBF\r\n", ImageFormat::binary, "file"), "$0000: EF BB BF 0D 0A\n");
  EXPECT_EQ(outcome("ab", ImageFormat::binary, "file", 0xFFFFFFFE), "$FFFFFFFE: 61 62\n");
  EXPECT_EQ(outcome("", ImageFormat::binary, "empty.bin"),
            "empty.bin: stop: the image holds no data [image-empty]\n"
            "    expected: at least one byte\n"
            "    found:    none\n"
            "    hint:     check that this is the right file and that it was written completely\n");
}

TEST(ImageFormats, FilesThatCannotBeRead) {
  const auto file = [](const std::filesystem::path& path) {
    try {
      return dump(read_image_file(path, ImageFormat::binary));
    } catch (const InputError& error) {
      return std::string(error.what());
    }
  };
  const auto unreadable = [](const std::string& path, const std::string& reason) {
    return path + ": stop: the file cannot be read [image-unreadable]\n    found:    " + reason +
           "\n    hint:     check the path and the permissions\n";
  };
  EXPECT_EQ(file("no/such/file.s19"), unreadable("no/such/file.s19", "No such file or directory"));
  EXPECT_EQ(file(test_data()), unreadable(test_data(), "a folder"));
  // Opens, then fails to read: nothing is mapped at address 0 of this process.
  EXPECT_EQ(file("/proc/self/mem"), unreadable("/proc/self/mem", "Input/output error"));
}

TEST(ImageFormats, SixteenMebibytesAreAllowed) {
  const std::filesystem::path path = std::filesystem::path(::testing::TempDir()) / "prewire-image-size.bin";
  spill(path, "");
  std::filesystem::resize_file(path, 16U << 20);
  EXPECT_EQ(read_image_file(path, ImageFormat::binary).size(), 16U << 20);
  std::filesystem::resize_file(path, (16U << 20) + 1);
  EXPECT_THROW(read_image_file(path, ImageFormat::binary), InputError);
  std::filesystem::remove(path);
}

}  // namespace
}  // namespace prewire::testing
