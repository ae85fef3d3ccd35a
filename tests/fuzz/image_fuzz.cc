// Any bytes through the image readers: the first byte chooses one.
#include <cstddef>
#include <cstdint>
#include <iterator>
#include <string_view>

#include "prewire/image.h"

namespace {

constexpr std::size_t kMostText = 1024;

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using prewire::ImageFormat;
  if (size == 0 || size > kMostText) return 0;
  constexpr ImageFormat kFormats[] = {ImageFormat::automatic, ImageFormat::s_record, ImageFormat::intel_hex,
                                      ImageFormat::binary, ImageFormat::key_in};
  const ImageFormat format = kFormats[data[0] % std::size(kFormats)];
  const std::string_view bytes(reinterpret_cast<const char*>(data) + 1, size - 1);
  try {
    const prewire::Image image = prewire::read_image(bytes, format, "fuzz", 0xFFFFFF00);
    std::uint64_t free_from = 0;
    for (const prewire::Segment& segment : image.segments) {
      if (segment.bytes.empty() || segment.start < free_from) __builtin_trap();
      free_from = segment.end() + 1;
    }
    if (image.segments.empty()) __builtin_trap();
  } catch (const prewire::InputError& error) {
    if (error.faults().empty()) __builtin_trap();
  }
  return 0;
}
