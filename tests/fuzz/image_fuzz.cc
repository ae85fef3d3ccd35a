// Any bytes through every image reader; tests/data/images is a corpus.
#include <cstddef>
#include <cstdint>
#include <string_view>

#include "prewire/image.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using prewire::ImageFormat;
  const std::string_view bytes(reinterpret_cast<const char*>(data), size);
  for (const ImageFormat format : {ImageFormat::automatic, ImageFormat::s_record, ImageFormat::intel_hex,
                                   ImageFormat::binary, ImageFormat::key_in}) {
    try {
      const prewire::Image image = prewire::read_image(bytes, format, "fuzz", 0xFFFFFF00);
      std::uint64_t free_from = 0;
      for (const prewire::Segment& segment : image.segments) {
        if (segment.bytes.empty() || segment.start < free_from) __builtin_trap();
        free_from = segment.end() + 1;
      }
      if (image.segments.empty()) __builtin_trap();
    } catch (const prewire::InputError&) {
      // the only way out for bad input
    }
  }
  return 0;
}
