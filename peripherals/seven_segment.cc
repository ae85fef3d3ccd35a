// A seven-segment digit with a decimal point: eight LEDs that share one side.
#include <array>
#include <utility>

#include "chips.h"

namespace prewire::chips {

namespace {

enum Pin { kA, kDp = 7, kCom };
constexpr int kSegments = 8;
// A red segment needs this much to light up (common practice: 1.6 V to 2 V).
constexpr std::int32_t kForward = 1'600'000;

constexpr unsigned kPoint = 0x80;
constexpr unsigned kTaillessSix = 0x7C;

// Bit 0 is segment a, bit 6 is g (National 74LS48 data sheet for the digits without tails; the rest common practice).
constexpr std::pair<unsigned, char> kCharacters[] = {
    {0x00, ' '}, {0x40, '-'}, {0x3F, '0'}, {0x06, '1'}, {0x5B, '2'}, {0x4F, '3'}, {0x66, '4'}, {0x6D, '5'},
    {0x7D, '6'}, {0x07, '7'}, {0x27, '7'}, {0x7F, '8'}, {0x6F, '9'}, {0x67, '9'}, {0x77, 'A'}, {0x7C, 'b'},
    {0x39, 'C'}, {0x58, 'c'}, {0x5E, 'd'}, {0x79, 'E'}, {0x71, 'F'}, {0x76, 'H'}, {0x38, 'L'}, {0x54, 'n'},
    {0x5C, 'o'}, {0x73, 'P'}, {0x50, 'r'}, {0x78, 't'}, {0x3E, 'U'}};

class SevenSegment final : public Chip {
 public:
  SevenSegment(Socket& socket, const Parameters& parameters)
      : Chip(socket), anode_(parameters["common"] != 0), decimal_(parameters["reads"] != 0) {}

  void power_on() override { lamps_ = {}; }
  void start() override { on_edge(kCom, socket().level(kCom), socket().now()); }

  void on_edge(int pin, Level /*level*/, Stamp when) override {
    if (pin != kCom) return light(pin, when);
    for (int segment = kA; segment < kSegments; ++segment) light(segment, when);
  }

  std::span<const Lamp> lamps() const override { return lamps_; }

  std::string reads(unsigned lit) const override {
    const unsigned pattern = lit & ~kPoint;
    char character = '?';
    for (const auto& [known, shape] : kCharacters) {
      if (known == pattern) character = shape;
    }
    if (decimal_ && pattern == kTaillessSix) character = '6';
    return (lit & kPoint) != 0 ? std::string{character, '.'} : std::string{character};
  }

  void archive(Archive& archive) override { archive(lamps_); }

 private:
  void light(int segment, Stamp when) {
    const NetState& own = socket().look(segment);
    const NetState& common = socket().look(kCom);
    const bool known = own.strength != Strength::none && common.strength != Strength::none;
    const std::int32_t across = anode_ ? common.microvolts - own.microvolts : own.microvolts - common.microvolts;
    lamps_[static_cast<std::size_t>(segment)].set(known && across >= kForward, when);
  }

  const bool anode_;
  const bool decimal_;
  std::array<Lamp, kSegments> lamps_;
};

}  // namespace

ChipType seven_segment() {
  ChipType type;
  type.name = "seven_segment";
  type.title = "seven-segment display";
  type.summary = "One digit of seven LED segments and a decimal point, with a common cathode or a common anode.";
  for (const std::string_view name : {"a", "b", "c", "d", "e", "f", "g", "dp", "COM"}) {
    type.pins.push_back({.name = name, .listens = true});
  }
  type.parameters = {{.name = "common",
                      .unit = Unit::choice,
                      .fallback = 0,
                      .minimum = 0,
                      .maximum = 1,
                      .help = "which side of the LEDs is at COM",
                      .choices = {"cathode", "anode"}},
                     {.name = "reads",
                      .unit = Unit::choice,
                      .fallback = 0,
                      .minimum = 0,
                      .maximum = 1,
                      .help = "whether c d e f g is the letter b or, as 74LS47 and 74LS48 show it, the digit 6",
                      .choices = {"hex", "decimal"}}};
  type.looks = Looks::digit;
  type.make = [](Socket& socket, const Parameters& parameters) {
    return std::make_unique<SevenSegment>(socket, parameters);
  };
  return type;
}

}  // namespace prewire::chips
