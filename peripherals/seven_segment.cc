// A seven-segment digit with a decimal point: eight LEDs that share one side. It also tells what a person would notice
// about its wiring and its refreshing.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <bit>
#include <utility>

#include "chips.h"
#include "lamp_current.h"
#include "report.h"
#include "wonder.h"

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

constexpr std::array<char, 128> kReads = [] {
  std::array<char, 128> reads{};
  reads.fill('?');
  for (const auto& [pattern, character] : kCharacters) reads[pattern] = character;
  return reads;
}();

constexpr char character_of(unsigned pattern) { return kReads[pattern & 0x7F]; }

enum Timer : unsigned { kSettled, kStuck };
constexpr Picoseconds kMillisecond = 1'000'000'000;
constexpr Picoseconds kSteady = 40 * kMillisecond;     // long enough to be read
constexpr Picoseconds kFlicker = 20 * kMillisecond;    // common practice: below 50 Hz the eye sees flicker
constexpr Picoseconds kBlinking = 100 * kMillisecond;  // slower than this is meant to be seen
constexpr std::uint16_t kSame = 8;                     // turns of a scanned digit in a row
// So many changes of segments, and for so long, before a digit that stays dark is wondered at.
constexpr std::int64_t kMoves = 64;
constexpr std::int64_t kTurns = 2;  // one may belong to setting up
constexpr Picoseconds kLong = 100 * kMillisecond;
constexpr std::int64_t kRefreshes = 8;

class SevenSegment final : public Chip {
 public:
  SevenSegment(Socket& socket, const Parameters& parameters)
      : Chip(socket), anode_(parameters["common"] != 0), decimal_(parameters["reads"] != 0) {}

  void power_on() override {
    lamps_ = {};
    doubts_ = {};
    scan_ = {};
  }
  void start() override {
    on_edge(kCom, socket().level(kCom), socket().now());
    scan_.begun = -1;
  }

  void on_edge(int pin, Level level, Stamp when) override {
    if (pin == kCom) {
      if (lit() != 0) scan_.seen = 1;
      if (!on(level) && lit() != 0) note_turn(lit());
      for (int segment = kA; segment < kSegments; ++segment) light(segment, when);
      if (on(level) && scan_.chosen < kTurns) ++scan_.chosen;
      refresh(on(level), when);
    } else {
      light(pin, when);
      if (scan_.chosen < kTurns) wonder(level, when);
    }
    if (doubts_.armed == 0 && doubtful(lit())) arm(when + socket().timebase().stamps(kSteady));
  }

  void on_timer(unsigned tag, Stamp when) override {
    if (tag == kStuck) return report_stuck();
    doubts_.armed = 0;
    if (!doubtful(lit())) return;
    Stamp since = 0;
    for (const Lamp& lamp : lamps_) since = std::max(since, lamp.since());
    since += socket().timebase().stamps(kSteady);
    if (since > when) return arm(since);
    note(lit());
  }

  std::span<const Lamp> lamps() const override { return lamps_; }

  std::string reads(unsigned lit) const override {
    const unsigned pattern = lit & ~kPoint;
    char character = character_of(pattern);
    if (decimal_ && pattern == kTaillessSix) character = '6';
    return (lit & kPoint) != 0 ? std::string{character, '.'} : std::string{character};
  }

  void archive(Archive& archive) override {
    archive(lamps_);
    archive(doubts_);
    for (std::int64_t* number : {&scan_.begun, &scan_.length, &scan_.scanned, &scan_.slow, &scan_.seen}) {
      archive.number(*number);
    }
    archive.within(scan_.chosen, 0, kTurns);
    scan_.waits.archive(archive);
  }

 private:
  void light(int segment, Stamp when) {
    const bool lit = anode_ ? lights(socket(), kCom, segment, kForward) : lights(socket(), segment, kCom, kForward);
    lamps_[static_cast<std::size_t>(segment)].set(lit, when);
  }

  unsigned lit() const {
    unsigned lit = 0;
    for (std::size_t i = 0; i < lamps_.size(); ++i) lit |= (lamps_[i].lit() ? 1U : 0U) << i;
    return lit;
  }

  // A pattern that is no character ---------------------------------------------------------------------------------

  static bool strange(unsigned pattern) { return character_of(pattern & ~kPoint) == '?'; }
  /// Patterns are only kept from the first one on that is no character: most displays never show one.
  bool doubtful(unsigned pattern) const { return pattern != 0 && (strange(pattern) || doubts_.any != 0); }

  void arm(Stamp due) {
    doubts_.armed = 1;
    socket().timer(kSettled, due);
  }

  /// A scanned digit goes dark again.
  void note_turn(unsigned pattern) {
    if (!doubtful(pattern)) return;
    doubts_.run = pattern == doubts_.last ? static_cast<std::uint16_t>(doubts_.run + 1) : std::uint16_t{1};
    doubts_.last = static_cast<std::uint16_t>(pattern);
    if (doubts_.run != kSame) return;
    doubts_.run = 0;
    note(pattern);
  }

  /// A pattern has been there long enough to be read.
  void note(unsigned pattern) {
    doubts_.any = 1;
    socket().event("pattern", pattern | (strange(pattern) ? 0x100U : 0U));
  }

  bool on(Level common) const { return common == (anode_ ? Level::high : Level::low); }

  /// The segments move as those of a scanned display do, and this digit never gets its turn.
  void wonder(Level level, Stamp when) {
    if (!is_sure(level) || on(socket().level(kCom))) return;
    if (!scan_.waits.at(socket(), when, kMoves, kLong)) return;
    scan_.chosen = kTurns;
    report(socket(), "digit-never-lit", Weight::hint, 0, [&] {
      return std::pair(
          fmt::format("{} is never lit: its segments have changed {} times, and {} has stayed {}", socket().name(),
                      scan_.waits.moves, socket().pin_name(kCom), to_string(socket().level(kCom))),
          fmt::format("follow the wire from {} to what should select the digit", socket().pin_name(kCom)));
    });
  }

  // Refreshing -------------------------------------------------------------------------------------------------------

  /// The common pin switches the digit on or off: a multiplexed display does so all the time.
  void refresh(bool on, Stamp when) {
    const Timebase& timebase = socket().timebase();
    if (!on) {
      socket().cancel(kStuck);
      scan_.length = when - scan_.begun;
      return;
    }
    const Stamp period = when - scan_.begun;
    const bool shown = scan_.begun >= 0 && scan_.seen != 0 && 2 * scan_.length <= period;
    const bool scanned = shown && period <= timebase.stamps(kBlinking);
    const bool slow = scanned && period > timebase.stamps(kFlicker);
    scan_.scanned = scanned ? scan_.scanned + 1 : 0;
    scan_.slow = slow ? scan_.slow + 1 : 0;
    scan_.begun = when;
    scan_.seen = 0;
    if (scan_.slow >= kRefreshes) report_flicker(period);
    if (scan_.scanned >= kRefreshes) socket().timer(kStuck, when + timebase.stamps(kBlinking));
  }

  void report_flicker(Stamp period) {
    report(socket(), "display-flicker", Weight::warn, 0, [&] {
      const Picoseconds span = socket().timebase().span_of_stamp(period);
      return std::pair(fmt::format("{} is lit anew every {} ms, {} times a second: below 50 the eye sees it flicker",
                                   socket().name(), span / kMillisecond, 1000 * kMillisecond / span),
                       "go round all digits at least 50 times a second, better 100");
    });
  }

  void report_stuck() {
    if (lit() == 0) return;
    report(socket(), "scan-stopped", Weight::hint, 0, [&] {
      return std::pair(
          fmt::format("{} was one of several digits lit in turn and now stays on: the scan has stopped, and "
                      "a display that is driven hard for its short turn gets too much",
                      socket().name()),
          "let a timer's interrupt do the scan, so that no long routine holds it up");
    });
  }

  const bool anode_;
  const bool decimal_;
  std::array<Lamp, kSegments> lamps_;
  struct Doubts {
    std::uint16_t any = 0;            // some pattern was no character
    std::uint16_t last = 0, run = 0;  // that of the turn before, and for how many turns
    std::uint16_t armed = 0;          // a timer runs, so that nothing needs be set anew with each change
  } doubts_;
  struct Scan {
    Stamp begun = -1;          // when the digit was last switched on
    Stamp length = 0;          // how long it was on before
    std::int64_t scanned = 0;  // turns in a row that look like multiplexing
    std::int64_t slow = 0;     // those that come too seldom
    std::int64_t seen = 0;     // something was lit since
    // Until the digit has been switched on `kTurns` times.
    std::int64_t chosen = 0;
    Wonder waits{};  // changes of segments
  } scan_;
};

}  // namespace

ChipType seven_segment() {
  ChipType type;
  type.name = "seven_segment";
  type.title = "seven-segment display";
  type.summary = "One digit of seven LED segments and a decimal point, with a common cathode or a common anode.";
  for (const std::string_view name : {"a", "b", "c", "d", "e", "f", "g", "dp", "COM"}) {
    type.pins.push_back({.name = name, .listens = true, .optional = name == "dp"});
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
  type.events = {"pattern"};
  type.state_version = 3;
  type.make = [](Socket& socket, const Parameters& parameters) {
    return std::make_unique<SevenSegment>(socket, parameters);
  };
  return type;
}

}  // namespace prewire::chips
