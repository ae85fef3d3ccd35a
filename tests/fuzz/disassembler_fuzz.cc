// Any bytes at any address back to a source, for both processors, and to the same bytes again.
#include <algorithm>
#include <cstddef>
#include <cstdint>

#include "prewire/disassembler.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace prewire;
  if (size < 4) return 0;
  Image image;
  const std::uint32_t start = static_cast<std::uint32_t>(data[0]) << 8 | data[1];
  const std::size_t room = std::min<std::size_t>(size - 3, 0x10000 - start);
  image.segments.push_back({start, {data + 3, data + 3 + room}});
  for (const char* cpu : {"mc6800", "mc6809"}) {
    DisassemblerOptions options{.cpu = cpu};
    if (options.cpu == "mc6809") options.direct_page = data[2];
    const DisassembledProgram program = disassemble_program(image, options);
    const Image again = assemble(source_text(program, {.bytes = true, .cycles = true}), "fuzz");
    if (again.segments != image.segments) __builtin_trap();
  }
  return 0;
}
