// Two images side by side, as instructions: opcodes from the MC6800 and MC6809 data sheets, by `disassemble`.
#include <gtest/gtest.h>

#include <random>

#include "prewire/cpu.h"
#include "prewire/image_tools.h"
#include "unit/image_testing.h"

namespace prewire::testing {
namespace {

std::vector<CodeDifference> code_of(const Image& first, const Image& second, const std::string& cpu) {
  return compare_code(first, second, compare(first, second),
                      [&](std::uint16_t address, auto code) { return disassemble(cpu, address, code); });
}

std::string side(const std::vector<ComparedCode>& code) {
  std::string text;
  for (const ComparedCode& each : code)
    text +=
        fmt::format(" {:04X} {}{}", each.address, each.bytes.size(), each.text.empty() ? "" : " " + each.text) + ";";
  return text;
}

std::string code_text(const Image& first, const Image& second, const std::string& cpu = "mc6800") {
  std::string text;
  for (const CodeDifference& difference : code_of(first, second, cpu)) {
    text +=
        fmt::format("{}\n <{}\n >{}\n", to_string(difference.range), side(difference.first), side(difference.second));
  }
  return text;
}

TEST(ImageCompare, WidensToTheInstruction) {
  EXPECT_EQ(code_text(image_of({{0x100, {0x86, 0x3F, 0xB7, 0x40, 0x00}}}),
                      image_of({{0x100, {0x86, 0x3F, 0xB7, 0x40, 0x01}}})),
            "$0102-$0104\n < 0102 3 STAA $4000;\n > 0102 3 STAA $4001;\n");
}

TEST(ImageCompare, GoesOnUntilBothSidesMeetAgain) {
  // LDAA #$3F against LDX #$3FB7: the second takes what was an opcode, reads on, and meets the first at $0105.
  EXPECT_EQ(code_text(image_of({{0x100, {0x86, 0x3F, 0xB7, 0x40, 0x00, 0x39}}}),
                      image_of({{0x100, {0xCE, 0x3F, 0xB7, 0x40, 0x00, 0x39}}})),
            "$0100-$0104\n < 0100 2 LDAA #$3F; 0102 3 STAA $4000;\n"
            " > 0100 3 LDX #$3FB7; 0103 1 NEGA; 0104 1 FCB $00;\n");
}

TEST(ImageCompare, JoinsDifferencesOfOneInstruction) {
  EXPECT_EQ(code_text(image_of({{0, {0x01, 0x7E, 0x12, 0x34, 0x01}}}), image_of({{0, {0x02, 0x7E, 0x13, 0x35, 0x01}}})),
            "$0000-$0000\n < 0000 1 NOP;\n > 0000 1 FCB $02;\n"
            "$0001-$0003\n < 0001 3 JMP $1234;\n > 0001 3 JMP $1335;\n");
}

TEST(ImageCompare, ShowsWhatOneSideHasAlone) {
  // The first ends within an instruction of the second: what is left of it is bytes.
  EXPECT_EQ(code_text(image_of({{0x10, {0x01, 0x7E}}}), image_of({{0x10, {0x01, 0x7E, 0xF8, 0x00}}, {0x80, {0x39}}})),
            "$0011-$0013\n < 0011 1 FCB $7E;\n > 0011 3 JMP $F800;\n"
            "$0080-$0080\n <\n > 0080 1 RTS;\n");
  EXPECT_EQ(code_text({}, image_of({{0xFFFE, {0x7E, 0xF8}}})), "$FFFE-$FFFF\n <\n > FFFE 1 FCB $7E; FFFF 1 FCB $F8;\n");
  EXPECT_EQ(code_text({}, {}), "");
}

TEST(ImageCompare, EndsInstructionsAtTheLastAddress) {
  // A processor with 16 address lines: bytes above are bytes, and nothing goes across.
  EXPECT_EQ(code_text(image_of({{0xFFFF, {0x7E, 0x01, 0x02}}}), image_of({{0xFFFF, {0x7E, 0x03, 0x02}}})),
            "$10000-$10000\n < 10000 1;\n > 10000 1;\n");
  EXPECT_EQ(code_text(image_of({{0xFFFFFFFF, {1}}}), image_of({{0xFFFFFFFF, {2}}})),
            "$FFFFFFFF-$FFFFFFFF\n < FFFFFFFF 1;\n > FFFFFFFF 1;\n");
}

TEST(ImageCompare, KnowsTheLanguageOfTheProcessor) {
  EXPECT_EQ(
      code_text(image_of({{0x100, {0x10, 0x8E, 0x12, 0x34}}}), image_of({{0x100, {0x10, 0x8E, 0x12, 0x35}}}), "mc6809"),
      "$0100-$0103\n < 0100 4 LDY #$1234;\n > 0100 4 LDY #$1235;\n");
}

// Whatever the bytes: places ascend and do not overlap, they hold every difference, each side's instructions fill
// exactly what it has there, and the sides never disagree about bytes outside.
TEST(ImageCompare, CoversEveryDifference) {
  std::mt19937 random(6809);
  const auto random_image = [&](const Image& like) {
    Image image = like;
    if (image.segments.empty() || random() % 4 == 0) {
      image.segments.clear();
      auto at = static_cast<std::uint32_t>(random() % 8 + (random() % 2 == 0 ? 0 : 0xFFC0));
      for (auto count = random() % 4; count > 0; --count) {
        Segment segment{at, std::vector<std::uint8_t>(1 + random() % 30)};
        for (std::uint8_t& byte : segment.bytes) byte = static_cast<std::uint8_t>(random());
        at = static_cast<std::uint32_t>(segment.end() + 1 + random() % 6);
        image.segments.push_back(std::move(segment));
      }
    }
    for (Segment& segment : image.segments) {
      if (random() % 2 == 0) segment.bytes[random() % segment.bytes.size()] = static_cast<std::uint8_t>(random());
    }
    return image;
  };
  for (int round = 0; round < 6000; ++round) {
    const Image first = random_image({}), second = random_image(first);
    const std::string cpu = round % 2 == 0 ? "mc6800" : "mc6809";
    const auto differences = compare(first, second);
    const auto code = code_of(first, second, cpu);
    ASSERT_EQ(code.empty(), differences.empty());
    std::uint64_t done = 0;
    auto difference = differences.begin();
    for (const CodeDifference& place : code) {
      ASSERT_GE(place.range.first, done);
      ASSERT_LE(place.range.first, place.range.last);
      done = std::uint64_t{place.range.last} + 1;
      bool used = false;
      for (; difference != differences.end() && difference->range.first < done; ++difference) {
        ASSERT_GE(difference->range.first, place.range.first);
        ASSERT_LE(difference->range.last, place.range.last);
        used = true;
      }
      ASSERT_TRUE(used);
      for (const auto& [image, instructions] : {std::pair(&first, &place.first), std::pair(&second, &place.second)}) {
        Image shown;
        for (const ComparedCode& each : *instructions) {
          const bool touches = !shown.segments.empty() && shown.segments.back().end() == each.address;
          if (!touches) shown.segments.push_back({each.address, {}});
          auto& bytes = shown.segments.back().bytes;
          bytes.insert(bytes.end(), each.bytes.begin(), each.bytes.end());
        }
        ASSERT_EQ(shown.segments, crop(*image, place.range).segments) << code_text(first, second, cpu);
      }
    }
    ASSERT_TRUE(difference == differences.end());
  }
}

}  // namespace
}  // namespace prewire::testing
