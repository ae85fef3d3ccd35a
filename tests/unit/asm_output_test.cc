// What comes out: images in every format, the map of the source, cycles.
#include <gtest/gtest.h>

#include <array>
#include <nlohmann/json.hpp>
#include <random>

#include "asm/timing.h"
#include "cpu/instruction.h"
#include "prewire/cpu.h"
#include "unit/asm_testing.h"
#include "unit/image_testing.h"

namespace prewire::testing {
namespace {

TEST(AsmImage, Formats) {
  // Lines and their sums: srec_motorola(5) and srec_intel(5) of srecord 1.64.
  Image image = image_of({{0x00FE, {1, 2, 3}}, {0x0110, {0xFF}}});
  image.header = "GAUGE";
  image.entry = 0xFE;
  EXPECT_EQ(write_image(image, ImageFormat::s_record),
            "S008000047415547458E\nS10500FE0102F9\nS104010003F7\nS1040110FFEB\nS90300FEFE\n");
  EXPECT_EQ(write_image(image, ImageFormat::intel_hex), ":0200FE000102FD\n:0101000003FB\n:01011000FFEF\n:0000FE0101\n");
  EXPECT_EQ(write_image(image, ImageFormat::key_in), "; GAUGE\n00FE: 01 02\n0100: 03\n0110: FF\n");
  const std::string binary = write_image(image, ImageFormat::binary);
  ASSERT_EQ(binary.size(), 0x13U);
  EXPECT_EQ(binary.substr(0, 4), "\x01\x02\x03\xFF");
  EXPECT_EQ(binary.back(), '\xFF');
}

TEST(AsmImage, ComesBackFromEveryFormat) {
  std::mt19937 random(1979);
  for (int round = 0; round < 200; ++round) {
    const std::uint32_t top = round % 4 == 0 ? 0xFFFFFFFF : round % 4 == 1 ? 0xFFFFFF : 0xFFFF;
    std::vector<Segment> segments;
    std::uint64_t start = random() % 300;
    for (int i = 0; i < 4 && start + 300 < top; ++i) {
      std::vector<std::uint8_t> bytes(1 + random() % 200);
      for (std::uint8_t& byte : bytes) byte = static_cast<std::uint8_t>(random());
      segments.push_back({static_cast<std::uint32_t>(start), bytes});
      start = segments.back().end() + 1 + random() % (top / 4);
    }
    Image image = image_of(segments);
    if (round % 3 == 0) image.entry = segments.front().start;
    for (const ImageFormat format : {ImageFormat::s_record, ImageFormat::intel_hex, ImageFormat::key_in}) {
      const Image back = read_image(write_image(image, format), format, "back");
      EXPECT_EQ(back.segments, segments) << to_string(format);
      EXPECT_TRUE(back.remarks.empty());
      if (image.entry && *image.entry != 0 && format != ImageFormat::key_in) {
        EXPECT_EQ(back.entry, image.entry) << to_string(format);
      }
    }
  }
}

TEST(AsmImage, FormatByExtension) {
  EXPECT_EQ(format_by_extension("lab/gauge.s19"), ImageFormat::s_record);
  EXPECT_EQ(format_by_extension("GAUGE.S19"), ImageFormat::s_record);
  EXPECT_EQ(format_by_extension("gauge.hex"), ImageFormat::intel_hex);
  EXPECT_EQ(format_by_extension("gauge.bin"), ImageFormat::binary);
  EXPECT_EQ(format_by_extension("gauge.key"), ImageFormat::key_in);
  EXPECT_EQ(format_by_extension("gauge.asm"), std::nullopt);
  EXPECT_EQ(format_by_extension("gauge"), std::nullopt);
}

TEST(AsmMap, LinesAndSymbols) {
  const Image image = assemble("PORT EQU $4000\n ORG $100\nSTART LDAA PORT\n.x BRA .x\nTABLE FDB 1,2\nROOM RMB 5\n",
                               "lab.asm", {.cpu = "mc6800", .folder = {}, .root = {}});
  const SourceMap& map = *image.source;
  EXPECT_EQ(map.at(0x0FF), nullptr);
  EXPECT_EQ(map.at(0x100)->number, 3);
  EXPECT_EQ(map.at(0x102)->number, 3);
  EXPECT_EQ(map.at(0x104)->number, 4);
  EXPECT_EQ(map.at(0x107)->number, 5);
  EXPECT_EQ(map.at(0x109), nullptr);  // reserved, no bytes
  EXPECT_EQ(map.find("PORT")->value, 0x4000);
  EXPECT_EQ(map.find("PORT")->kind, SourceMap::SymbolKind::constant);
  EXPECT_EQ(map.find("START.x")->value, 0x103);
  EXPECT_EQ(map.find("START.x")->uses.size(), 1U);
  EXPECT_EQ(map.find("start"), nullptr);
  EXPECT_EQ(map.lines.at(5).kind, LineKind::space);
  EXPECT_EQ(map.lines.at(5).size, 5U);
}

TEST(AsmMap, ShowsControlCharactersAsNumbers) {
  const Image image = assemble("        cpu mc6800\n        nop     ; a\x1B[31m\tred\n", "lab.asm");
  EXPECT_EQ(image.source->lines[1].text, "        nop     ; a\\x1B[31m\tred");
}

TEST(AsmMap, TheSymbolFileIsJson) {
  const Image image = assemble(" NAM \"A\\B\"\n NOP\n", "la\"b\x80.asm", {.cpu = "mc6800", .folder = {}, .root = {}});
  const auto json = nlohmann::json::parse(symbol_file(image));
  EXPECT_EQ(json.at("format"), "prewire symbols 1");
  EXPECT_EQ(json.at("title"), "\"A\\B\"");
  EXPECT_EQ(json.at("lines").size(), 1U);
  EXPECT_TRUE(json.at("symbols").empty());
}

/// The disassembler counts cycles by itself.
void expect_cycles(const std::string& cpu, const Instruction& row, const std::vector<std::uint8_t>& code) {
  const Disassembly read = disassemble(cpu, 0, code);
  if (!read.defined) return;
  EXPECT_EQ(assembler::timing_of(row, std::span(code).first(static_cast<std::size_t>(read.bytes))).cycles, read.cycles)
      << read.text;
}

TEST(AsmTiming, AsTheDisassemblerCounts) {
  for (const Instruction& row : mc6800_instructions().rows()) expect_cycles("mc6800", row, {row.opcode, 1, 2});
  for (const Instruction& row : mc6809_instructions().rows()) {
    const bool varied = row.mode == Mode::indexed || row.mode == Mode::stack;
    for (int second = 0; second < (varied ? 256 : 1); ++second) {
      std::vector<std::uint8_t> code;
      if (row.prefix != 0) code.push_back(row.prefix);
      code.insert(code.end(), {row.opcode, static_cast<std::uint8_t>(second), 1, 2});
      expect_cycles("mc6809", row, code);
    }
  }
}

TEST(AsmTiming, WhatDependsOnTheRun) {
  const auto most = [](const InstructionTable& table, std::initializer_list<std::uint8_t> code) {
    const std::vector<std::uint8_t> bytes(code);
    return assembler::timing_of(*table.find(bytes), bytes).most;
  };
  // M6809PM, tables C-1 and D-1; MC6800 data sheet, "Accumulator and Memory Instructions" and the ones after it.
  EXPECT_EQ(most(mc6809_instructions(), {0x10, 0x27, 0, 0}), 6);  // LBEQ, taken
  EXPECT_EQ(most(mc6809_instructions(), {0x27, 0}), 3);           // BEQ, either way
  EXPECT_EQ(most(mc6809_instructions(), {0x16, 0, 0}), 5);        // LBRA
  EXPECT_EQ(most(mc6809_instructions(), {0x3B}), 15);             // RTI with all registers
  EXPECT_EQ(most(mc6809_instructions(), {0x13}), 0);              // SYNC
  EXPECT_EQ(most(mc6809_instructions(), {0x3C, 0xFF}), 0);        // CWAI
  EXPECT_EQ(most(mc6800_instructions(), {0x27, 0}), 4);           // BEQ, either way
  EXPECT_EQ(most(mc6800_instructions(), {0x3B}), 10);             // RTI
  EXPECT_EQ(most(mc6800_instructions(), {0x3E}), 0);              // WAI
}

}  // namespace
}  // namespace prewire::testing
