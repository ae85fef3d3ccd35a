// Any text through the assembler. The first character chooses the processor: '0' or '9' by its option, else the source
// has to name it.
#include <cstddef>
#include <cstdint>
#include <string_view>

#include "prewire/assembler.h"

namespace {

// Longer texts and images say nothing new, and take most of the time.
constexpr std::size_t kMostText = 1024;
constexpr std::size_t kMostBytes = 1024;
constexpr std::size_t kMostLines = 500;
constexpr int kPatience = 20;  // how often the assembler may ask: some thousand lines

void look_at(const prewire::Image& image) {
  using namespace prewire;
  if (image.segments.empty() || image.segments.back().end() > 0x10000 || image.source == nullptr) __builtin_trap();
  std::size_t size = 0;
  for (const Segment& segment : image.segments) size += segment.bytes.size();
  if (size > kMostBytes || image.source->lines.size() > kMostLines) return;
  if (listing(image).empty() || symbol_file(image).empty()) __builtin_trap();
  const Image again = read_image(write_image(image, ImageFormat::s_record), ImageFormat::s_record, "fuzz");
  if (again.segments != image.segments || again.entry.value_or(0) != image.entry.value_or(0)) __builtin_trap();
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace prewire;
  if (size == 0 || size > kMostText) return 0;
  const char* cpu = data[0] == '0' ? "mc6800" : data[0] == '9' ? "mc6809" : "";
  const std::string_view source(reinterpret_cast<const char*>(data) + 1, size - 1);
  try {
    int asked = 0;
    const auto stop = [&asked] { return ++asked > kPatience; };
    look_at(assemble(source, "fuzz", {.cpu = cpu, .folder = {}, .root = {}, .stop = stop}));
  } catch (const AssemblyStopped&) {
    // A macro that calls itself twice, and the like.
  } catch (const InputError& error) {
    if (error.faults().empty()) __builtin_trap();
    for (const Fault& fault : error.faults()) {
      if (fault.id.empty() || fault.what.empty() || fault.place.file != "fuzz") __builtin_trap();
    }
  }
  return 0;
}
