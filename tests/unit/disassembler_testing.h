// What the tests of the disassembler share.
#pragma once

#include <gtest/gtest.h>

#include <string>
#include <vector>

#include "prewire/disassembler.h"
#include "unit/asm_testing.h"

namespace prewire::testing {

inline Image image_of(std::uint32_t start, std::vector<std::uint8_t> bytes) {
  Image image;
  image.segments.push_back({start, std::move(bytes)});
  return image;
}

/// The source of an image, which must assemble to the same bytes, in every style.
inline DisassembledProgram read_back(const Image& image, const DisassemblerOptions& options) {
  DisassembledProgram program = disassemble_program(image, options);
  for (const SourceStyle style : {SourceStyle{}, SourceStyle{.bytes = true, .cycles = true}}) {
    const std::string source = source_text(program, style);
    try {
      const Image again = assemble(source, "back.asm", {.cpu = {}, .folder = {}, .root = {}});
      EXPECT_EQ(again.segments, image.segments) << source;
      EXPECT_EQ(again.entry.value_or(0), image.entry.value_or(0)) << source;
    } catch (const InputError& error) {
      ADD_FAILURE() << error.what() << source;
    }
  }
  std::vector<std::uint8_t> bytes, expected;
  for (const auto& line : program.lines) bytes.insert(bytes.end(), line.bytes.begin(), line.bytes.end());
  for (const auto& segment : image.segments) {
    expected.insert(expected.end(), segment.bytes.begin(), segment.bytes.end());
  }
  EXPECT_EQ(bytes, expected);
  return program;
}

}  // namespace prewire::testing
