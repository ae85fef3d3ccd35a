// 74LS47 and 74LS48: a decimal digit in, seven segments out. National 74LS48 data sheet, p. 3; Fairchild DM74LS47,
// p. 2.
#include <fmt/format.h>

#include <array>

#include "chips.h"
#include "input_watch.h"
#include "pins.h"
#include "wonder.h"

namespace prewire::chips {

namespace {

// In the order of the package (from memory).
enum Pin { kInB, kInC, kLt, kBiRbo, kRbi, kInD, kInA, kGnd, kE, kD, kC, kB, kA, kG, kF, kVcc };
constexpr std::array kInputs = {kInA, kInB, kInC, kInD};
constexpr std::array kSegments = {kA, kB, kC, kD, kE, kF, kG};

// Bit 0 is segment a (National 74LS48 data sheet, truth table).
constexpr std::array<std::uint8_t, 16> kShapes = {0x3F, 0x06, 0x5B, 0x4F, 0x66, 0x6D, 0x7C, 0x07,
                                                  0x7F, 0x67, 0x58, 0x4C, 0x62, 0x69, 0x78, 0x00};
constexpr std::uint8_t kAll = 0x7F;

// The 74LS48's outputs have 2 kOhm to VCC inside (National 74LS48 data sheet); that of BI/RBO is from memory.
constexpr Drive kSegmentPull = pull(kLogicHigh, 2'000);
constexpr Drive kRboPull = pull(kLogicHigh, 20'000);

class BcdDecoder final : public Chip {
 public:
  BcdDecoder(Socket& socket, Drive lit, Drive dark) : Chip(socket), lit_(lit), dark_(dark) {}

  void power_on() override {
    digit_ = armed_ = told_ = 0;
    blanked_ = {};
    since_ = 0;
    socket().drive(kBiRbo, kRboPull);
  }

  void start() override {
    for (const int pin : {kInA, kInB, kInC, kInD, kLt, kRbi}) watch_input(socket(), pin, socket().level(pin));
    update();
  }

  void on_edge(int pin, Level level, Stamp /*when*/) override {
    if (pin != kBiRbo) watch_input(socket(), pin, level);
    update();
  }

  void on_timer(unsigned tag, Stamp when) override {
    if (tag != kJudge) return report_watched(socket(), tag);
    armed_ = 0;
    if (!odd()) return;
    const Stamp due = since_ + socket().timebase().stamps(kSteady);
    if (due > when) return arm(due);
    report(socket(), "digit-beyond-nine", Weight::warn, 0, [&] {
      return std::pair(fmt::format("{} shows the number {}, which is no decimal digit", socket().name(), int{digit_}),
                       "count in decimal: ADDA #1 and DAA, or divide by ten; 15 makes the digit dark");
    });
  }

  void archive(Archive& archive) override {
    archive.within(digit_, 0, 15);
    archive.within(armed_, 0, 1);
    archive.number(since_);
    archive.within(told_, 0, 1);
    blanked_.archive(archive);
  }

 private:
  static constexpr unsigned kJudge = 0;
  static constexpr Picoseconds kSteady = 50'000'000'000;  // long enough to be read

  bool odd() const { return digit_ > 9 && digit_ < 15; }
  void arm(Stamp due) {
    armed_ = 1;
    socket().timer(kJudge, due);
  }

  /// An open TTL input reads 1.
  bool high(int pin) const { return socket().high(pin, true); }

  void update() {
    unsigned digit = 0;
    for (std::size_t bit = 0; bit < kInputs.size(); ++bit) digit |= high(kInputs[bit]) ? 1U << bit : 0;
    const bool changed = digit != digit_;
    if (changed) {
      digit_ = static_cast<std::uint8_t>(digit);
      since_ = socket().now();
      if (odd() && armed_ == 0) arm(since_ + socket().timebase().stamps(kSteady));
    }
    const bool suppressed = digit == 0 && !high(kRbi) && high(kLt);
    socket().drive(kBiRbo, suppressed ? open_low() : kRboPull);
    unsigned shape = high(kLt) ? kShapes[digit] : kAll;
    const bool blank = suppressed || !high(kBiRbo);
    if (blank) shape = 0;
    if (changed && told_ == 0 && blank && !suppressed) wonder();
    if (!blank && shape != 0) blanked_ = {};
    for (std::size_t segment = 0; segment < kSegments.size(); ++segment) {
      socket().drive(kSegments[segment], (shape >> segment & 1) != 0 ? lit_ : dark_);
    }
  }

  /// Numbers come for long, and BI keeps all of them dark.
  void wonder() {
    if (!blanked_.at(socket(), socket().now(), kMoves, kLong)) return;
    told_ = 1;
    report(socket(), "decoder-blanked", Weight::hint, 0, [&] {
      return std::pair(fmt::format("{} is low, so {} shows none of {} numbers", socket().pin_name(kBiRbo),
                                   socket().name(), blanked_.moves),
                       fmt::format("BI/RBO is an input, too: leave it open, or let what is wired to {} go high",
                                   socket().pin_name(kBiRbo)));
    });
  }

  // So many numbers, and for so long, before a dark decoder is wondered at.
  static constexpr std::int64_t kMoves = 4;
  static constexpr Picoseconds kLong = 100'000'000'000;

  const Drive lit_, dark_;
  std::uint8_t digit_ = 0, armed_ = 0;  // armed: a timer runs, so that nothing needs be set anew with each change
  Stamp since_ = 0;                     // when the digit last changed
  std::uint8_t told_ = 0;               // it was wondered at
  Wonder blanked_;                      // numbers since it last showed one
};

// DM74LS47 data sheet: open collectors. 74LS48 data sheet: 2 kOhm inside limit what a segment gets.
constexpr PinLimits kSinks{.sink = 24'000, .sink_at = 500'000, .high = 250};
constexpr PinLimits kPulls{.sink = 6'000, .sink_at = 500'000, .source = 1'300, .source_at = 800'000, .steady = true};
constexpr PinLimits kInputLoad{.low = 400, .high = 20};

ChipType make_type(std::string name, std::string title, std::string summary, PinKind outputs, PinUse use,
                   const PinLimits& limits, Drive lit, Drive dark) {
  const auto segment = [&](std::string_view pin) {
    return PinSpec{.name = pin, .kind = outputs, .use = use, .limits = &limits};
  };
  PinSpec lamp_test = input_pin("LT", true);
  lamp_test.held_low = "all segments are lit, whatever the number";
  ChipType type;
  type.name = std::move(name);
  type.title = std::move(title);
  type.summary = std::move(summary);
  type.pins = decoder_package({input_pin("B"), input_pin("C"), lamp_test, blanking_pin("BI/RBO"),
                               input_pin("RBI", true), input_pin("D"), input_pin("A")},
                              segment);
  for (PinSpec& pin : type.pins) {
    if (pin.kind == PinKind::input) pin.limits = &kInputLoad;
  }
  type.state_version = 2;
  type.make = [lit, dark](Socket& socket, const Parameters&) {
    return std::make_unique<BcdDecoder>(socket, lit, dark);
  };
  return type;
}

}  // namespace

std::vector<ChipType> bcd_decoder() {
  return {make_type("74ls47", "74LS47 BCD to seven-segment decoder",
                    "Shows a decimal digit on a common-anode display; open-collector outputs, low for a lit segment.",
                    PinKind::open_drain, PinUse::lights_low, kSinks, open_low(), release()),
          make_type("74ls48", "74LS48 BCD to seven-segment decoder",
                    "Shows a decimal digit on a common-cathode display; outputs with pull-ups, high for a lit segment.",
                    PinKind::output, PinUse::lights_high, kPulls, kSegmentPull, open_low())};
}

}  // namespace prewire::chips
