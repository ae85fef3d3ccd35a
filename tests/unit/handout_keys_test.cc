// The key-in sheet, its checksums, and the comparison with a dump.
#include <gtest/gtest.h>

#include <numeric>
#include <string>
#include <vector>

#include "handout/compare.h"
#include "handout/handout.h"
#include "handout/key_sheet.h"
#include "handout/markup.h"
#include "paths.h"
#include "prewire/chips.h"
#include "prewire/image.h"
#include "prewire/machine.h"

namespace prewire::testing {
namespace {

using handout::Comparison;
using handout::KeyLine;
using handout::KeySheet;
using handout::make_key_sheet;
using handout::run_expected;
using handout::usual_positions;

Machine machine_in(const std::string& folder, const std::string& name) {
  return Machine::from_file(source_folder() / folder / name, standard_chips());
}
Machine gauge() { return machine_in("scenarios/rain_barrel", "gauge.json"); }

TEST(HandoutKeys, ReadBackGiveTheSameImage) {
  for (const auto& [folder, name] :
       {std::pair("scenarios/rain_barrel", "gauge.json"), std::pair("scenarios/rain_barrel", "gauge-6809.json"),
        std::pair("tests/cli/data", "tank.json"), std::pair("tests/cli/data", "mast-6809.json"),
        std::pair("tests/cli/data", "greenhouse.json")}) {
    Machine machine = machine_in(folder, name);
    const std::string text = to_text(handout::make_handout(machine, handout::kKeys));
    for (const ImageFormat format : {ImageFormat::key_in, ImageFormat::automatic}) {
      const Image image = read_image(text, format, "sheet.key");
      EXPECT_EQ(image.segments, machine.programs()[0]->segments) << name;
      EXPECT_TRUE(image.remarks.empty()) << name;
    }
  }
}

TEST(HandoutKeys, AddTheBytesOfALine) {
  // Opcode of LDS: MC6800 data sheet, table "Index Register and Stack Manipulation Instructions".
  const KeyLine line{0xF800, {0x8E, 0x00, 0x7F}, "LDS #$007F", "start:  lds #$007F"};
  EXPECT_EQ(line.sum(), 0x0D);  // $8E + $00 + $7F = $10D
  EXPECT_EQ(to_text(line, 4), "F800: 8E 00 7F    ; 0D  LDS #$007F        start:  lds #$007F");
  Machine machine = gauge();
  unsigned sum = 0;
  for (const Segment& segment : machine.programs()[0]->segments) {
    sum = std::accumulate(segment.bytes.begin(), segment.bytes.end(), sum);
  }
  const KeySheet sheet = make_key_sheet(machine);
  EXPECT_EQ(sheet.sum(), sum & 0xFFFF);
  EXPECT_EQ(sheet.bytes(), machine.programs()[0]->size());
}

TEST(HandoutKeys, FollowTheSource) {
  Machine machine = gauge();
  const KeySheet sheet = make_key_sheet(machine);
  EXPECT_EQ(sheet.lines.front().text, "LDS #$007F");
  EXPECT_EQ(sheet.lines.front().source.substr(0, 6), "start:");
  EXPECT_EQ(sheet.lines.back().address, 0xFFFE);
  EXPECT_EQ(sheet.lines.back().text, "vector of RESET");
}

TEST(HandoutKeys, WithoutSourceFollowTheProgram) {
  const Machine machine = machine_in("tests/cli/data", "tank.json");
  const KeySheet sheet = make_key_sheet(machine);
  EXPECT_EQ(sheet.lines.front().text, "LDS #$007F");
  for (const KeyLine& line : sheet.lines) EXPECT_NE(line.text, "data");
}

// Comparison ----------------------------------------------------------------------------------------------------------

KeySheet small_sheet() {
  return {{{0x0100, {0x8E, 0x01, 0xFF}, "LDS #$01FF", ""},
           {0x0103, {0x86, 0x3B}, "LDAA #$3B", ""},
           {0x0105, {0xB7, 0x40, 0x02}, "STAA $4002", ""},
           {0x0108, {0xC6, 0x12}, "LDAB #$12", ""},
           {0x010A, {0x20, 0xFE}, "BRA $010A", ""}}};
}
constexpr const char* kRight = "0100: 8E 01 FF 86 3B B7 40 02 C6 12 20 FE";

Comparison compared(const std::string& dump) {
  return compare(small_sheet(), read_image(dump, ImageFormat::key_in, "dump.key"));
}

TEST(HandoutCompare, AgreesWithItself) {
  const Comparison same = compared(kRight);
  EXPECT_TRUE(same.same());
  EXPECT_EQ(same.compared, 12U);
  EXPECT_EQ(to_text(same), "all 12 bytes agree\n");
}

TEST(HandoutCompare, FindsSwappedDigits) {
  const Comparison result = compared("0100: 8E 01 FF 86 B3 B7 40 02 C6 12 20 FE");
  ASSERT_EQ(result.differences.size(), 1U);
  EXPECT_EQ(result.differences[0].address, 0x0104);
  EXPECT_EQ(result.differences[0].expected, 0x3B);
  EXPECT_EQ(result.differences[0].found, 0xB3);
  EXPECT_EQ(result.differences[0].line, "LDAA #$3B");
  EXPECT_EQ(result.differences[0].slip, "digits swapped");
}

TEST(HandoutCompare, FindsDigitsThatLookAlike) {
  EXPECT_EQ(compared("0100: 8E 01 FF 86 38 B7 40 02 C6 12 20 FE").differences.at(0).slip, "B read as 8");
  EXPECT_EQ(compared("0100: 8E D1 FF 86 3B B7 40 02 C6 12 20 FE").differences.at(0).slip, "0 read as D");
}

TEST(HandoutCompare, FindsAByteLeftOut) {
  const Comparison result = compared("0100: 8E 01 FF 86 B7 40 02 C6 12 20 FE");
  ASSERT_GE(result.differences.size(), 3U);
  EXPECT_NE(result.differences[0].slip.find("a byte was left out"), std::string::npos);
  EXPECT_EQ(result.differences[1].slip, "likewise");
  ASSERT_EQ(result.gaps.size(), 1U);
  EXPECT_EQ(result.gaps[0].first, 0x010B);
}

TEST(HandoutCompare, FindsAByteTooMany) {
  const Comparison result = compared("0100: 8E 01 FF FF 86 3B B7 40 02 C6 12 20");
  EXPECT_NE(result.differences.at(0).slip.find("a byte too many"), std::string::npos);
}

TEST(HandoutCompare, FindsASkippedLine) {
  const Comparison result = compared("0100: 8E 01 FF 86 3B C6 12 20 FE");
  EXPECT_NE(result.differences.at(0).slip.find("the line was skipped"), std::string::npos);
  const Comparison gap = compared("0100: 8E 01 FF\n0105: B7 40 02 C6 12 20 FE");
  ASSERT_EQ(gap.gaps.size(), 1U);
  EXPECT_EQ(gap.gaps[0].slip, "a line was skipped");
  EXPECT_TRUE(gap.differences.empty());
  EXPECT_FALSE(gap.same());
}

TEST(HandoutCompare, FindsExchangedBytesAndErasedOnes) {
  const Comparison result = compared("0100: 8E 01 FF 86 3B B7 02 40 C6 12 20 FE");
  EXPECT_EQ(result.differences.at(0).slip, "exchanged with the next byte");
  EXPECT_EQ(result.differences.at(1).slip, "exchanged with the byte before");
  EXPECT_EQ(compared("0100: 8E 01 FF 86 3B B7 40 FF C6 12 20 FE").differences.at(0).slip,
            "erased, or nobody answers here");
}

TEST(HandoutCompare, FindsADeadDataLine) {
  // Every byte with D1 low.
  const Comparison result = compared("0100: 8C 01 FD 84 39 B5 40 00 C4 10 20 FC");
  EXPECT_EQ(result.pattern, "D1 is low in every byte of the dump: look at that data line");
}

TEST(HandoutCompare, DoesNotCountOtherAddresses) {
  const Comparison result = compared(std::string(kRight) + "\n0200: 00 01 02");
  EXPECT_TRUE(result.same());
  EXPECT_EQ(result.elsewhere, 3U);
}

// What the board shows ------------------------------------------------------------------------------------------------

TEST(HandoutShows, WhatTheMachineShows) {
  Machine machine = gauge();
  const handout::Expected expected = run_expected(machine, {{"FLOAT", {"0.84 V", "4.46 V"}}});
  ASSERT_EQ(expected.readings.size(), 2U);
  EXPECT_EQ(expected.readings[0].texts, (std::vector<std::pair<std::string, std::string>>{{"LEVEL", " 42"}}));
  EXPECT_EQ(expected.readings[0].leds, (std::vector<std::pair<std::string, bool>>{{"FULL", false}}));
  EXPECT_EQ(expected.readings[0].remark, "");
  EXPECT_EQ(expected.readings[1].texts[0].second, "223");
  EXPECT_TRUE(expected.readings[1].leds[0].second);
  EXPECT_EQ(machine.now(), 0);
}

TEST(HandoutShows, UsualPositionsOfKnobsAndContacts) {
  Machine machine = gauge();
  const auto positions = usual_positions(machine);
  ASSERT_EQ(positions.size(), 1U);
  EXPECT_EQ(positions[0].values, (std::vector<std::string>{"0 %", "25 %", "50 %", "75 %", "100 %"}));
  Machine tank = machine_in("tests/cli/data", "tank.json");
  const auto contacts = usual_positions(tank);
  ASSERT_EQ(contacts.size(), 1U);
  EXPECT_EQ(contacts[0].values, (std::vector<std::string>{"open", "closed"}));
}

TEST(HandoutShows, RefusesWhatTheMachineDoesNotTake) {
  Machine machine = gauge();
  EXPECT_THROW(run_expected(machine, {{"FLOAT", {"much"}}}), InputError);
  EXPECT_THROW(run_expected(machine, {{"BOAT", {"1 V"}}}), InputError);
}

TEST(HandoutShows, RunsTheMachineForThatSectionOnly) {
  struct Counter final : Observer {
    unsigned wants() const override { return kCycles; }
    void on_cycle(const BusCycle&) override { ++cycles; }
    Cycle cycles = 0;
  } counter;
  Machine machine = gauge();
  machine.watch(counter);
  handout::make_handout(machine, handout::kEverything & ~handout::kShows);
  EXPECT_EQ(counter.cycles, 0);
  handout::make_handout(machine, handout::kShows);
  EXPECT_GT(counter.cycles, 0);
  machine.unwatch(counter);
}

TEST(HandoutForms, AreTheSameEveryTime) {
  Machine one = gauge(), two = gauge();
  const handout::Handout first = handout::make_handout(one), second = handout::make_handout(two);
  EXPECT_EQ(to_html(first), to_html(second));
  EXPECT_EQ(to_text(first), to_text(second));
}

// XML 1.0, section 2.2, production 2: what a character may be; The Unicode Standard, table 3-7: well-formed UTF-8.
TEST(HandoutForms, HoldNothingThatXmlForbids) {
  EXPECT_EQ(handout::escaped("Fl\xFCsse \xE2\x82 \xC0\x80 \xED\xA0\x80"),
            R"(Fl\xFCsse \xE2\x82 \xC0\x80 \xED\xA0\x80)");
  EXPECT_EQ(handout::escaped("Fl\u00FCsse \U0001F4A7 \uFFFD"), "Fl\u00FCsse \U0001F4A7 \uFFFD");
  EXPECT_EQ(handout::escaped(std::string_view("\0\x01\t\n\r\x1F \x7F", 8)), "\\x00\\x01\t\n\\x0D\\x1F \\x7F");
  EXPECT_EQ(handout::escaped("a\uFFFE\uFFFFb\uFFFC"), "a\\uFFFE\\uFFFFb\uFFFC");
}

TEST(HandoutForms, NeedNoOtherFileAndEscapeTexts) {
  Machine machine = Machine::from_text(R"({"machine": "a <b> & \"c\"", "cpu": {"type": "mc6800", "clock": "1 MHz"}})",
                                       "m.json", standard_chips());
  const std::string html = to_html(handout::make_handout(machine));
  EXPECT_NE(html.find("<h1>a &lt;b&gt; &amp; &quot;c&quot;</h1>"), std::string::npos);
  for (const char* outside : {"src=", "href=", "url(", "@import", "<script"}) {
    EXPECT_EQ(html.find(outside), std::string::npos) << outside;
  }
}

}  // namespace
}  // namespace prewire::testing
