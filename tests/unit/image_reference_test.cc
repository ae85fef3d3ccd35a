// Agreement with Debian's srecord 1.64 and GNU binutils 2.x for the m68hc11: they write files from random bytes and we
// read them; srec_cat reads our samples; srec_info refuses what we refuse.
#include <gtest/gtest.h>

#include <cstdlib>
#include <random>

#include "folder_fixture.h"
#include "unit/image_testing.h"

namespace prewire::testing {
namespace {

class ImageReference : public FolderTest {
 protected:
  /// Whether a command succeeds. Paths are ours, without blanks.
  static bool succeeds(const std::string& command) { return std::system((command + " >/dev/null 2>&1").c_str()) == 0; }
  /// Whether srec_info accepts a text. `option` is its name for the format.
  bool srec_info_accepts(const std::string& text, const std::string& option) const {
    spill(path("text"), text);
    return succeeds("srec_info " + path("text") + " " + option);
  }

  std::vector<std::uint8_t> random_bytes(std::size_t count) {
    std::vector<std::uint8_t> bytes(count);
    for (std::uint8_t& byte : bytes) byte = static_cast<std::uint8_t>(random_());
    return bytes;
  }

  /// Random segments below `end`: some bytes apart, long and short, one of them across a 64 KiB boundary if there is
  /// one.
  std::vector<Segment> random_segments(std::uint64_t end) {
    std::vector<std::uint64_t> starts = {random_() % (end / 4), end / 2 - 1 - random_() % 300, end - 2};
    std::vector<Segment> segments;
    for (const std::uint64_t start : starts) {
      const std::uint64_t most = std::min<std::uint64_t>(end - start, 2000);
      segments.push_back({static_cast<std::uint32_t>(start), random_bytes(1 + random_() % most)});
    }
    return segments;
  }

  /// Writes the segments with srec_cat, reads them with ours and compares.
  void round_trip(const std::string& format, int address_bytes, std::uint64_t end, ImageFormat expected_format) {
    for (int block = 8; block <= 32; block += 8) {
      const std::vector<Segment> segments = random_segments(end);
      // In a start segment address record srec_cat writes the halves of the address instead of CS and IP (its own
      // reader takes it as CS and IP): alike below $10000 only.
      const bool halves = format == "-intel" && address_bytes == 3;
      const std::uint32_t entry = (segments[1].start + 1) & (halves ? 0xFFFF : 0xFFFFFFFF);
      std::string command = "srec_cat";
      for (const Segment& segment : segments) {
        const std::string name = path(fmt::format("{:X}.bin", segment.start));
        spill(name, {reinterpret_cast<const char*>(segment.bytes.data()), segment.bytes.size()});
        command += fmt::format(" {} -binary -offset 0x{:X}", name, segment.start);
      }
      command += fmt::format(" -o {} {} -address-length={} -output-block-size={} -execution-start-address=0x{:X}",
                             path("out"), format, address_bytes, block, entry);
      if (block == 16) command += " -line-termination=crlf";
      SCOPED_TRACE(command);
      ASSERT_TRUE(succeeds(command));
      for (const ImageFormat by : {expected_format, ImageFormat::automatic}) {
        const Image image = read_image_file(path("out"), by);
        EXPECT_EQ(image.segments, segments);
        EXPECT_EQ(image.entry, entry);
        for (const Fault& remark : image.remarks) ADD_FAILURE() << to_string(remark);
      }
    }
  }
  std::mt19937 random_{1976};
};

constexpr std::uint64_t kOne = 1;

TEST_F(ImageReference, SRecordsOfSrecCat) {
  round_trip("-motorola", 2, kOne << 16, ImageFormat::s_record);
  round_trip("-motorola", 3, kOne << 24, ImageFormat::s_record);
  round_trip("-motorola", 4, kOne << 32, ImageFormat::s_record);
}

TEST_F(ImageReference, IntelHexOfSrecCat) {
  round_trip("-intel", 2, kOne << 16, ImageFormat::intel_hex);
  round_trip("-intel", 3, kOne << 20, ImageFormat::intel_hex);
  round_trip("-intel", 4, kOne << 32, ImageFormat::intel_hex);
}

TEST_F(ImageReference, FilesOfObjcopy) {
  for (const char* output : {"srec", "ihex"}) {
    for (const std::uint32_t base : {0x0100U, 0xFF80U, 0x1FFF0U, 0xFFFF0U, 0x7FFFFFF0U}) {
      const Segment segment = {base, random_bytes(300)};
      spill(path("in"), {reinterpret_cast<const char*>(segment.bytes.data()), segment.bytes.size()});
      // objcopy moves the start address with the data.
      const std::string command =
          fmt::format("m68hc11-objcopy -I binary -O {} --change-addresses 0x{:X} --set-start 4 {} {}", output, base,
                      path("in"), path("out"));
      SCOPED_TRACE(command);
      ASSERT_TRUE(succeeds(command));
      const Image image = read_image_file(path("out"), ImageFormat::automatic);
      EXPECT_EQ(image.segments, std::vector<Segment>{segment});
      EXPECT_EQ(image.entry, base + 4);
      for (const Fault& remark : image.remarks) ADD_FAILURE() << to_string(remark);
    }
  }
}

TEST_F(ImageReference, SrecCatReadsOurSamplesAlike) {
  for (const auto& [name, option] :
       {std::pair{"barrel.s19", "-motorola"}, std::pair{"tanks.s28", "-motorola"}, std::pair{"mast.s37", "-motorola"},
        std::pair{"barrel.hex", "-intel"}, std::pair{"tanks.hex", "-intel"}}) {
    const Image image = read_image_file(sample_path(name), ImageFormat::automatic);
    for (const Segment& segment : image.segments) {
      const std::string command =
          fmt::format("srec_cat {} {} -crop 0x{:X} 0x{:X} -offset -0x{:X} -o {} -binary", sample_path(name).string(),
                      option, segment.start, segment.end(), segment.start, path("out"));
      ASSERT_TRUE(succeeds(command)) << command;
      EXPECT_EQ(slurp(path("out")), std::string(segment.bytes.begin(), segment.bytes.end())) << command;
    }
  }
}

TEST_F(ImageReference, SrecInfoRefusesWhatWeRefuse) {
  const std::string s_record = sample("barrel.s19");
  const std::string intel_hex = sample("barrel.hex");
  ASSERT_TRUE(srec_info_accepts(s_record, "-motorola"));
  ASSERT_TRUE(srec_info_accepts(intel_hex, "-intel"));
  const auto changed = [](std::string text, std::size_t at) {
    char& c = text.at(at);
    c = c == '0' ? '1' : '0';
    return text;
  };
  // The second S-record line and the first Intel HEX line, after the mark.
  const std::size_t second = s_record.find('\n') + 1;
  for (std::size_t at = 2; at < 30; ++at) {
    EXPECT_FALSE(srec_info_accepts(changed(s_record, second + at), "-motorola"));
    EXPECT_THROW(read_image(changed(s_record, second + at), ImageFormat::s_record, ""), InputError);
  }
  for (std::size_t at = 1; at < 31; ++at) {
    EXPECT_FALSE(srec_info_accepts(changed(intel_hex, at), "-intel"));
    EXPECT_THROW(read_image(changed(intel_hex, at), ImageFormat::intel_hex, ""), InputError);
  }

  // Right and wrong by srec_motorola(5), as srec_info has to agree.
  const std::string line = "S105FFFE0100FC\n";
  for (const std::string& bad :
       {line + "S5030002FA\nS9030100FB\n", line + "S1\n", line + "S103000FC\n", line + "S10G0000FC\n"}) {
    EXPECT_FALSE(srec_info_accepts(bad, "-motorola")) << bad;
    EXPECT_THROW(read_image(bad, ImageFormat::s_record, ""), InputError) << bad;
  }
  for (const std::string& good : {line, line + "S9030000FC\n", line + "S5030001FB\n"}) {
    EXPECT_TRUE(srec_info_accepts(good, "-motorola")) << good;
    EXPECT_NO_THROW(read_image(good, ImageFormat::s_record, "")) << good;
  }
}

}  // namespace
}  // namespace prewire::testing
