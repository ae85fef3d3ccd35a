// Any bytes at any address back to a source, and to the same bytes again. The first four bytes are the address, the
// direct page, and the processor with the style of the source.
#include <algorithm>
#include <cstddef>
#include <cstdint>

#include "prewire/disassembler.h"

namespace {

// Longer programs say nothing new, and take most of the time.
constexpr std::size_t kHead = 4, kMostBytes = 512;

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace prewire;
  if (size <= kHead || size > kHead + kMostBytes) return 0;
  const std::uint32_t start = static_cast<std::uint32_t>(data[0]) << 8 | data[1];
  const std::size_t room = std::min<std::size_t>(size - kHead, 0x10000 - start);
  Image image;
  image.segments.push_back({start, {data + kHead, data + kHead + room}});
  DisassemblerOptions options{.cpu = (data[3] & 1) == 0 ? "mc6800" : "mc6809"};
  if (options.cpu == "mc6809") options.direct_page = data[2];
  const bool comments = (data[3] & 2) != 0;
  const DisassembledProgram program = disassemble_program(image, options);
  const Image again = assemble(source_text(program, {.bytes = comments, .cycles = comments}), "fuzz");
  if (again.segments != image.segments) __builtin_trap();
  return 0;
}
