// Any bytes at all: what comes back assembles to them.
#include <random>

#include "cpu/instruction.h"
#include "unit/disassembler_testing.h"

namespace prewire::testing {
namespace {

class DisassemblerRandom : public ::testing::TestWithParam<const char*> {
 protected:
  std::uint32_t below(std::uint32_t limit) { return static_cast<std::uint32_t>(random_() % limit); }
  std::uint8_t byte() { return static_cast<std::uint8_t>(random_()); }
  /// Some of the image's own addresses, and some others.
  std::uint16_t address(const Image& image) {
    if (below(4) == 0) return static_cast<std::uint16_t>(random_());
    const Segment& segment = image.segments[below(static_cast<std::uint32_t>(image.segments.size()))];
    return static_cast<std::uint16_t>(segment.start + below(static_cast<std::uint32_t>(segment.bytes.size())));
  }

  DisassemblerOptions options(const Image& image) {
    DisassemblerOptions options;
    options.cpu = GetParam();
    const auto inside = [&] {
      return address({.header = {}, .segments = {image.segments.front()}, .entry = {}, .remarks = {}, .source = {}});
    };
    if (below(3) == 0) {
      const std::uint16_t entry = inside();
      const bool present = entry >= image.segments.front().start && entry < image.segments.front().end();
      if (present && entry < 0xFFF0) options.entries.push_back(entry);
    }
    for (std::uint32_t count = below(4); count > 0; --count) {
      options.names.push_back({address(image), fmt::format("NAME{}", count), "some about"});
    }
    if (below(3) == 0 && image.segments.front().bytes.size() > 4) {
      const auto start = static_cast<std::uint16_t>(image.segments.front().start);
      options.tables.push_back({start, static_cast<std::uint16_t>(start + 3)});
    }
    if (options.cpu == "mc6809" && below(3) == 0) options.direct_page = byte();
    return options;
  }

  std::mt19937 random_{1974};
};

TEST_P(DisassemblerRandom, RandomBytesComeBack) {
  for (int i = 0; i < 250; ++i) {
    SCOPED_TRACE(i);
    Image image;
    const std::uint32_t size = 1 + below(i % 10 == 0 ? 3000 : 200);
    // At the ends of memory, across the direct page, anywhere.
    const std::uint32_t start = i % 5 == 0   ? 0x10000 - size
                                : i % 5 == 1 ? below(0x180)
                                : i % 5 == 2 ? 0xFF00 + below(0xF0)
                                             : below(0xF000);
    std::vector<std::uint8_t> bytes(std::min(size, 0x10000 - start));
    for (std::uint8_t& each : bytes)
      each = i % 3 == 0 ? static_cast<std::uint8_t>(0x10 + below(2) + (below(2) << 5)) : byte();
    for (std::uint8_t& each : bytes) {
      if (i % 3 == 0 && below(2) == 0) each = byte();
    }
    image.segments.push_back({start, bytes});
    if (below(3) == 0 && start + bytes.size() < 0xF000) {
      std::vector<std::uint8_t> more(1 + below(40));
      for (std::uint8_t& each : more) each = byte();
      image.segments.push_back({0xF000 + below(0x800), more});
    }
    // Vectors, whole or cut, that point into the image or anywhere.
    if (below(2) == 0 && image.segments.back().end() < 0xFFE0) {
      Segment vectors{0xFFF0 + below(16), {}};
      while (vectors.end() < 0x10000) {
        const std::uint16_t target = address(image);
        vectors.bytes.push_back(static_cast<std::uint8_t>(target >> 8));
        if (vectors.end() < 0x10000) vectors.bytes.push_back(static_cast<std::uint8_t>(target));
      }
      image.segments.push_back(vectors);
    }
    if (below(4) == 0) image.entry = address(image);
    read_back(image, options(image));
    if (HasFailure()) return;  // one is enough to look at
  }
}

/// Instructions one after the other, that refer to each other.
TEST_P(DisassemblerRandom, RandomCodeComesBack) {
  const bool mc6809 = std::string_view(GetParam()) == "mc6809";
  const auto rows = (mc6809 ? mc6809_instructions() : mc6800_instructions()).rows();
  std::size_t code = 0, all = 0;
  for (int i = 0; i < 60; ++i) {
    SCOPED_TRACE(i);
    std::vector<std::uint8_t> bytes;
    const std::uint32_t start = i % 3 == 0 ? 0 : below(0xF000);
    while (bytes.size() < 600) {
      const Instruction& row = rows[below(static_cast<std::uint32_t>(rows.size()))];
      const bool ends = row.mnemonic == "RTS" || row.mnemonic == "RTI" || row.mnemonic == "JMP" ||
                        row.mnemonic == "BRA" || row.mnemonic == "LBRA";
      if (ends && below(8) != 0) continue;
      if (row.prefix != 0) bytes.push_back(row.prefix);
      bytes.push_back(row.opcode);
      const bool word = row.mode == Mode::extended || row.mode == Mode::imm16 || row.mode == Mode::relative16;
      const bool local = word && row.mode != Mode::relative16 && below(2) == 0;
      const std::uint32_t target = start + below(600);
      if (local) {
        bytes.push_back(static_cast<std::uint8_t>(target >> 8));
        bytes.push_back(static_cast<std::uint8_t>(target));
      } else if (row.mode == Mode::pair) {
        bytes.push_back(static_cast<std::uint8_t>(below(5) << 4 | below(5)));
      } else if (row.mode == Mode::indexed) {
        std::uint8_t chosen = byte();
        while (postbyte(chosen).form == Postbyte::Form::illegal) chosen = byte();
        const Postbyte post = postbyte(chosen);
        bytes.push_back(chosen);
        for (int more = 0; more < post.bytes; ++more) bytes.push_back(byte());
      } else if (row.mode != Mode::inherent) {
        bytes.push_back(row.mode == Mode::relative ? static_cast<std::uint8_t>(below(60) - 30) : byte());
        if (word) bytes.push_back(byte());
      }
    }
    const Image image = image_of(start, bytes);
    const DisassembledProgram program = read_back(image, options(image));
    if (HasFailure()) return;
    code += program.size(LineKind::instruction);
    all += bytes.size();
  }
  EXPECT_GT(code, all / 10);  // it is not all taken for data
}

INSTANTIATE_TEST_SUITE_P(Parts, DisassemblerRandom, ::testing::Values("mc6800", "mc6809"),
                         [](const auto& test) { return std::string(test.param); });

}  // namespace
}  // namespace prewire::testing
