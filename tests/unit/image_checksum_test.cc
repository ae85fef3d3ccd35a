// Sums, against published values and other programs' arithmetic.
#include <gtest/gtest.h>

#include "prewire/image_tools.h"

namespace prewire {
namespace {

Image image_of(std::string_view text) {
  Image image;
  if (!text.empty()) image.segments.push_back({0x100, {text.begin(), text.end()}});
  return image;
}

// The check value of a CRC is that of the nine digits. CRC-32: $CBF43926 (ITU-T V.42 and IEEE 802.3 with this
// convention). CRC-16: $31C3, $29B1, $BB3D (common practice; srec_cat agrees in image_tools_reference_test.cc).
TEST(ImageChecksum, CrcsGiveTheirCheckValues) {
  const Image nine = image_of("123456789");
  const auto crcs = known_crcs();
  ASSERT_EQ(crcs.size(), 4U);
  const std::uint32_t published[] = {0x31C3, 0x29B1, 0xBB3D, 0xCBF43926};
  for (std::size_t i = 0; i < crcs.size(); ++i) {
    EXPECT_EQ(crc_of(nine, crcs[i]), published[i]) << crcs[i].name;
    EXPECT_EQ(crcs[i].check, published[i]) << crcs[i].name;
  }
}

// Other widths and parameters, by the same published convention: CRC-8/SMBUS $F4 (System Management Bus 1.1, polynomial
// x8 + x2 + x + 1), CRC-16/GENIBUS $D64E and CRC-32/BZIP2 $FC891918 (common practice).
TEST(ImageChecksum, CrcsAreWhatTheirParametersSay) {
  const Image nine = image_of("123456789");
  EXPECT_EQ(crc_of(nine, {.name = "", .width = 8, .polynomial = 0x07}), 0xF4U);
  EXPECT_EQ(crc_of(nine, {.name = "", .width = 16, .polynomial = 0x1021, .initial = 0xFFFF, .final = 0xFFFF}), 0xD64EU);
  EXPECT_EQ(
      crc_of(nine, {.name = "", .width = 32, .polynomial = 0x04C11DB7, .initial = 0xFFFFFFFF, .final = 0xFFFFFFFF}),
      0xFC891918U);
}

TEST(ImageChecksum, SumsKeepTheirLowBits) {
  EXPECT_EQ(sum16(image_of("123456789")), 0x1DD);  // 9 * $30 + 45
  EXPECT_EQ(sum8(image_of("123456789")), 0xDD);
  const Image large = image_of(std::string(0x10000, '\xFF'));     // an erased 27512
  EXPECT_EQ(sum16(large), 0x0000);                                // 65536 * 255
  EXPECT_EQ(sum16(image_of(std::string(2048, '\xFF'))), 0xF800);  // an erased 2716: 2048 * 255
  EXPECT_EQ(sum8(image_of(std::string(2048, '\xFF'))), 0x00);
}

TEST(ImageChecksum, NothingGivesTheInitialValue) {
  const Image empty;
  EXPECT_EQ(sum8(empty), 0);
  EXPECT_EQ(sum16(empty), 0);
  const std::uint32_t expected[] = {0, 0xFFFF, 0, 0};
  for (std::size_t i = 0; i < 4; ++i) EXPECT_EQ(crc_of(empty, known_crcs()[i]), expected[i]);
}

TEST(ImageChecksum, GapsDoNotCount) {
  Image parts;
  parts.segments = {{0x10, {'1', '2', '3', '4'}}, {0x8000, {'5', '6', '7', '8', '9'}}};
  EXPECT_EQ(sum16(parts), 0x1DD);
  for (const Crc& crc : known_crcs()) EXPECT_EQ(crc_of(parts, crc), crc.check) << crc.name;
}

}  // namespace
}  // namespace prewire
