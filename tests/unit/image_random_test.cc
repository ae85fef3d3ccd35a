// Any bytes at all: a reader returns an image that keeps its promises, or throws InputError with faults that make
// sense.
#include <gtest/gtest.h>

#include <random>

#include "prewire/image_tools.h"
#include "unit/image_testing.h"

namespace prewire::testing {
namespace {

class ImageRandom : public ::testing::Test {
 protected:
  void feed(const std::string& bytes) {
    for (const ImageFormat format : {ImageFormat::automatic, ImageFormat::s_record, ImageFormat::intel_hex,
                                     ImageFormat::binary, ImageFormat::key_in}) {
      try {
        const Image image = read_image(bytes, format, "random", static_cast<std::uint32_t>(random_()));
        ASSERT_EQ(broken_promise(image), "") << to_string(format) << ": " << bytes;
        use(image);
        previous_ = image;
        ++accepted_;
      } catch (const InputError& error) {
        ASSERT_FALSE(error.faults().empty());
        ASSERT_EQ(error.faults().front().weight, Weight::stop);
        ++refused_;
      }
    }
  }

  /// What is done with an image changes none of its promises; what is refused is an `InputError`.
  void use(const Image& image) {
    for (const Image& half : split_even_odd(image)) {
      if (half.segments.empty()) continue;
      ASSERT_EQ(broken_promise(half), "");
    }
    const std::vector<NamedImage> both{{"previous", previous_}, {"random", image}};
    ASSERT_EQ(broken_promise(join(both, Clash::replace)), "");
    ASSERT_EQ(compare(image, previous_).size(), compare(previous_, image).size());
    try {
      const Image moved = move(image, static_cast<std::int32_t>(random_()), "random");
      ASSERT_EQ(broken_promise(moved), "");
      ASSERT_EQ(sum16(moved), sum16(image));
    } catch (const InputError& error) {
      ASSERT_EQ(error.faults().front().id, "move-range");
    }
  }

  std::size_t below(std::size_t limit) { return random_() % limit; }

  Image previous_;
  std::mt19937 random_{6800};
  int accepted_ = 0;
  int refused_ = 0;
};

TEST_F(ImageRandom, RandomBytes) {
  const std::string likely = "0123456789ABCDEFabcdefS:;$x \t\r\n";
  for (int i = 0; i < 20000; ++i) {
    std::string bytes(below(80), '\0');
    const bool any = i % 4 == 0;
    for (char& c : bytes) c = any ? static_cast<char>(random_()) : likely[below(likely.size())];
    feed(bytes);
  }
  EXPECT_GT(accepted_, 10000);  // most bytes are good for a binary image
  EXPECT_GT(refused_, 50000);
}

TEST_F(ImageRandom, DamagedSamples) {
  std::vector<std::string> samples;
  for (const auto& entry : std::filesystem::directory_iterator(sample_path(""))) samples.push_back(slurp(entry.path()));
  ASSERT_GE(samples.size(), 8U);
  for (int i = 0; i < 20000; ++i) {
    std::string bytes = samples[below(samples.size())];
    for (std::size_t changes = 1 + below(3); changes > 0; --changes) {
      const std::size_t at = below(bytes.size() + 1);
      const std::string& other = samples[below(samples.size())];
      switch (below(5)) {
        case 0: bytes.resize(at); break;
        case 1: bytes.insert(at, 1, static_cast<char>(random_())); break;
        case 2: bytes.erase(at, 1 + below(4)); break;
        case 3: bytes.insert(at, other.substr(below(other.size()), below(40))); break;
        case 4:
          if (at < bytes.size()) bytes[at] = static_cast<char>(bytes[at] ^ (1 << below(8)));
          break;
      }
    }
    feed(bytes);
  }
  EXPECT_GT(accepted_, 20000);
  EXPECT_GT(refused_, 20000);
}

}  // namespace
}  // namespace prewire::testing
