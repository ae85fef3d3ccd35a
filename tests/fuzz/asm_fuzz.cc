// Any text through the assembler, for both processors; the sources in scenarios/ are a corpus.
#include <cstddef>
#include <cstdint>
#include <string_view>

#include "prewire/assembler.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace prewire;
  const std::string_view source(reinterpret_cast<const char*>(data), size);
  for (const char* cpu : {"mc6800", "mc6809", ""}) {
    try {
      const Image image = assemble(source, "fuzz", {.cpu = cpu, .folder = {}, .root = {}});
      if (image.segments.empty() || image.segments.back().end() > 0x10000 || image.source == nullptr) __builtin_trap();
      if (listing(image).empty() || symbol_file(image).empty()) __builtin_trap();
      const Image again = read_image(write_image(image, ImageFormat::s_record), ImageFormat::s_record, "fuzz");
      if (again.segments != image.segments || again.entry.value_or(0) != image.entry.value_or(0)) __builtin_trap();
    } catch (const InputError& error) {
      for (const Fault& fault : error.faults()) {
        if (fault.id.empty() || fault.what.empty() || fault.place.file != "fuzz") __builtin_trap();
      }
    }
  }
  return 0;
}
