// Agreement with Debian's srecord 1.64 (srec_cat, srec_cmp, srec_info) and with Python's binascii, on random images.
#include <fmt/format.h>
#include <gtest/gtest.h>
#include <sys/wait.h>

#include <cstdlib>
#include <random>

#include "folder_fixture.h"
#include "prewire/image_tools.h"
#include "unit/image_testing.h"

namespace prewire::testing {
namespace {

class ImageToolsReference : public FolderTest {
 protected:
  /// The exit status of a command. Paths are ours, without blanks.
  static int status_of(const std::string& command) { return WEXITSTATUS(std::system(command.c_str())); }

  Image random_image() {
    Image image;
    image.header = "tanks";
    auto at = static_cast<std::uint32_t>(random_() % 0x400);
    for (auto count = 1 + random_() % 4; count > 0 && at < 0xFE00; --count) {
      Segment segment{at, std::vector<std::uint8_t>(1 + random_() % 200)};
      for (std::uint8_t& byte : segment.bytes) byte = static_cast<std::uint8_t>(random_());
      at = static_cast<std::uint32_t>(segment.end() + 1 + random_() % 0x3000);
      image.segments.push_back(std::move(segment));
    }
    return image;
  }
  void write(const std::string& name, const Image& image) {
    spill(path(name), write_image(image, ImageFormat::s_record));
  }
  /// What srec_cat makes of in.s19 with `filters`.
  Image theirs(const std::string& filters) {
    const std::string command =
        fmt::format("srec_cat {} -motorola {} -o {} -motorola", path("in.s19"), filters, path("out.s19"));
    EXPECT_EQ(status_of(command), 0) << command;
    return read_image_file(path("out.s19"), ImageFormat::s_record);
  }

  std::mt19937 random_{2716};
};

TEST_F(ImageToolsReference, SrecCatDoesTheSame) {
  for (int round = 0; round < 8; ++round) {
    const Image image = random_image();
    write("in.s19", image);
    const AddressRange span = *span_of(image);
    const auto middle = static_cast<std::uint32_t>(span.first + span.size() / 2);
    const AddressRange kept{span.first, middle};
    EXPECT_EQ(crop(image, kept).segments,
              theirs(fmt::format("-crop 0x{:X} 0x{:X}", kept.first, std::uint64_t{kept.last} + 1)).segments);
    EXPECT_EQ(move(image, 0x12345, "").segments, theirs("-offset 0x12345").segments);
    EXPECT_EQ(move(image, -std::int64_t{span.first}, "").segments,
              theirs(fmt::format("-offset -0x{:X}", span.first)).segments);
    EXPECT_EQ(fill(image, 0xA5, "").segments,
              theirs(fmt::format("-fill 0xA5 0x{:X} 0x{:X}", span.first, std::uint64_t{span.last} + 1)).segments);
    const AddressRange chip = block_of(image, 0x10000, "");
    EXPECT_EQ(pad(image, chip, 0xFF, "").segments, theirs("-fill 0xFF 0x0000 0x10000").segments);
    int half = 0;
    for (const Image& chip_half : split_even_odd(image)) {
      // srec_cat refuses to write no data.
      if (!chip_half.segments.empty()) {
        EXPECT_EQ(chip_half.segments, theirs(fmt::format("-split 2 {}", half)).segments);
      }
      ++half;
    }
    EXPECT_EQ(split_nibbles(image)[0].segments, theirs("-and 0x0F").segments);
  }
}

TEST_F(ImageToolsReference, SrecCatJoinsAndRefusesAlike) {
  int clashes = 0;
  for (int round = 0; round < 20; ++round) {
    Image one = random_image(), two = random_image();
    if (round % 2 == 0) two = move(two, 0x10000, "");
    write("one.s19", one);
    write("two.s19", two);
    const int status =
        status_of(fmt::format("srec_cat {} {} -o {} 2>/dev/null", path("one.s19"), path("two.s19"), path("both.s19")));
    const std::vector<NamedImage> both{{"one", one}, {"two", two}};
    if (status == 0) {
      EXPECT_EQ(join(both).segments, read_image_file(path("both.s19"), ImageFormat::s_record).segments);
    } else {
      ++clashes;
      EXPECT_THROW(join(both), InputError);
    }
  }
  EXPECT_GT(clashes, 0);
  EXPECT_LT(clashes, 20);
}

TEST_F(ImageToolsReference, SrecCmpAndWeAgreeWhetherImagesDiffer) {
  for (int round = 0; round < 12; ++round) {
    const Image one = random_image();
    Image two = one;
    if (round % 3 == 1) two.segments.back().bytes.back() ^= 0x10;
    if (round % 3 == 2) two.segments.back().bytes.push_back(0xFF);
    write("one.s19", one);
    spill(path("two.hex"), write_image(two, ImageFormat::intel_hex));
    const int status = status_of(fmt::format("srec_cmp {} -motorola -ignore-checksums {} -intel >/dev/null 2>&1",
                                             path("one.s19"), path("two.hex")));
    EXPECT_EQ(compare(one, two).empty(), status == 0) << round;
    EXPECT_EQ(compare(one, two).empty(), round % 3 == 0);
  }
}

TEST_F(ImageToolsReference, SrecCatHasTheSameSums) {
  const std::map<std::string, std::string> filters{{"CRC-16/XMODEM", "-crc16-be 0x20000 -xmodem"},
                                                   {"CRC-16/ARC",
                                                    "-crc16-be 0x20000 -xmodem -polynomial ibm "
                                                    "-least-to-most"},
                                                   {"CRC-32/ISO-HDLC", "-crc32-be 0x20000"}};
  for (int round = 0; round < 4; ++round) {
    const Image image = fill(random_image(), 0xFF, "");  // srec_cat warns of gaps
    write("in.s19", image);
    const auto value_of = [&](const std::string& filter) {
      const Image result = theirs(filter + " -crop 0x20000 0x20010");
      std::uint32_t value = 0;
      for (const std::uint8_t byte : result.segments.at(0).bytes) value = value << 8 | byte;
      return value;
    };
    EXPECT_EQ(sum16(image), value_of("-checksum-positive-be 0x20000 2 1"));
    EXPECT_EQ(sum8(image), value_of("-checksum-positive-be 0x20000 1 1"));
    int seen = 0;
    for (const Crc& crc : known_crcs()) {
      const auto filter = filters.find(std::string(crc.name));
      if (filter == filters.end()) continue;
      EXPECT_EQ(crc_of(image, crc), value_of(filter->second)) << crc.name;
      ++seen;
    }
    EXPECT_EQ(seen, 3);
  }
}

// crc_hqx(data, value) is CRC-CCITT, polynomial x16 + x12 + x5 + 1, from any register (Python library reference).
TEST_F(ImageToolsReference, PythonHasTheSameCrcFromARegisterOfOnes) {
  const Image image = fill(random_image(), 0, "");
  spill(path("in.bin"), write_image(image, ImageFormat::binary));
  ASSERT_EQ(status_of(fmt::format("python3 -c \"import binascii; print(binascii.crc_hqx(open('{}','rb').read(), "
                                  "0xFFFF))\" > {}",
                                  path("in.bin"), path("crc"))),
            0);
  const Crc& crc = known_crcs()[1];
  ASSERT_EQ(crc.name, "CRC-16/IBM-3740");
  EXPECT_EQ(std::to_string(crc_of(image, crc)) + "\n", slurp(path("crc")));
}

TEST_F(ImageToolsReference, SrecInfoSeesTheSameAddresses) {
  const Image image = random_image();
  write("in.s19", image);
  ASSERT_EQ(status_of(fmt::format("srec_info {} -motorola > {}", path("in.s19"), path("info"))), 0);
  const std::string info = slurp(path("info"));
  for (const Segment& segment : image.segments) {
    EXPECT_NE(info.find(fmt::format("{:04X} - {:04X}", segment.start, segment.end() - 1)), std::string::npos) << info;
  }
}

}  // namespace
}  // namespace prewire::testing
