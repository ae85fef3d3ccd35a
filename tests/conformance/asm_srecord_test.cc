// The images that are written against srec_cat of Debian's srecord 1.64: it reads them and gives the same bytes back.
#include <fmt/format.h>

#include <random>

#include "conformance/asm_testing.h"
#include "prewire/image.h"

namespace prewire::testing {
namespace {

class AsmSrecord : public AsmReference {};

TEST_F(AsmSrecord, ReadsWhatIsWritten) {
  std::mt19937 random(6800);
  for (int round = 0; round < 6; ++round) {
    Image image;
    image.header = "gauge";
    const std::uint32_t base = round % 2 == 0 ? 0x1000 : 0x12F000;
    for (std::uint32_t start = base; start < base + 0xF000;
         start += 0x3000 + static_cast<std::uint32_t>(random() % 0x1000)) {
      Segment segment{start, std::vector<std::uint8_t>(1 + random() % 500)};
      for (std::uint8_t& byte : segment.bytes) byte = static_cast<std::uint8_t>(random());
      image.segments.push_back(segment);
    }
    image.entry = image.segments.front().start;
    for (const auto& [format, name] :
         {std::pair(ImageFormat::s_record, "-motorola"), std::pair(ImageFormat::intel_hex, "-intel")}) {
      write("ours", write_image(image, format));
      run(fmt::format("srec_cat {} {} -o {} -motorola", path("ours"), name, path("theirs.s19")));
      const Image back = read_image_file(path("theirs.s19"), ImageFormat::s_record);
      EXPECT_EQ(back.segments, image.segments) << name;
      EXPECT_EQ(back.entry, image.entry) << name;
    }
  }
}

}  // namespace
}  // namespace prewire::testing
