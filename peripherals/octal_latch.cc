// Eight bits of memory for pins: 74LS373, 74LS374, 74LS273 (TI, The TTL Data Book, function tables).
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <vector>

#include "chips.h"
#include "input_watch.h"
#include "ls_limits.h"
#include "report.h"
#include "wonder.h"

namespace prewire::chips {

namespace {

using namespace std::string_view_literals;

// All three have the same package; these are pin numbers less one.
constexpr int kOE = 0;       // CLR of the 74LS273
constexpr int kStrobe = 10;  // LE of the 74LS373, CLK of the others
constexpr std::array<int, 8> kD{2, 3, 6, 7, 12, 13, 16, 17};
constexpr std::array<int, 8> kQ{1, 4, 5, 8, 11, 14, 15, 18};

// So many changes of D, and for so long, before a strobe that does not come is wondered at.
constexpr std::int64_t kMoves = 4;
constexpr Picoseconds kLong = 50'000'000'000;

struct Variant {
  bool transparent;  // follows D while the strobe is high; else takes D when it rises
  bool clears;       // pin 1 is CLR and the outputs always drive; else it is OE
};

class OctalLatch final : public Chip {
 public:
  OctalLatch(Socket& socket, Variant variant) : Chip(socket), variant_(variant) {}

  void power_on() override {
    bits_ = static_cast<std::uint8_t>(socket().seed());  // flip-flops wake up either way
    strobe_ = on_bus_ = false;
    moved_ = -1;
    used_ = 0;
    waits_ = {};
    show();
  }

  void start() override {
    on_bus_ = socket().on_bus();
    strobe_ = !on_bus_ && reads_one(kStrobe);
    if (clearing()) bits_ = 0;
    if (follows()) bits_ = inputs();
    seen_ = inputs();
    show();
    for (const int pin : {kOE, kStrobe}) watch_input(socket(), pin, socket().level(pin));
  }

  void write(unsigned /*reg*/, std::uint8_t value) override {
    if (clearing()) return;
    bits_ = value;
    show();
  }

  void on_edge(int pin, Level level, Stamp when) override {
    if (pin == kStrobe) {
      watch_input(socket(), kStrobe, level);
      const bool high = level != Level::low;
      if (high == strobe_) return;
      strobe_ = high;
      const bool stores = high != variant_.transparent;
      if (stores) used_ = 1;
      if (stores) note_inputs();
      if (stores && (moved_ == when || seen_ != inputs())) report_setup();
      if (high && !clearing()) bits_ = inputs();
    } else if (pin == kOE) {
      watch_input(socket(), kOE, level);
      if (clearing()) bits_ = 0;
    } else {
      seen_ = inputs();
      moved_ = when;
      if (!used_) wonder(when);
      // When LE falls in the same moment, the latch keeps what it had.
      if (!follows() || !reads_one(kStrobe)) return;
      bits_ = inputs();
    }
    show();
  }

  void on_timer(unsigned tag, Stamp /*when*/) override { report_watched(socket(), tag); }

  Blocked why_not(int pin) const override {
    const auto bit = static_cast<std::size_t>(std::find(kQ.begin(), kQ.end(), pin) - kQ.begin());
    if (bit == kQ.size()) return {};
    if (on_bus_) return {.why = fmt::format("only the program moves {}", socket().pin_name(pin))};
    return {.waits_for = follows() ? std::vector<int>{kD[bit]} : std::vector<int>{kStrobe}};
  }

  void archive(Archive& archive) override {
    archive(bits_);
    archive(strobe_);
    archive(on_bus_);
    archive(seen_);
    archive.number(moved_);
    archive.within(used_, 0, 1);
    waits_.archive(archive);
  }

 private:
  /// A TTL input that nobody drives reads as one.
  bool reads_one(int pin) const { return socket().level(pin) != Level::low; }
  bool clearing() const { return variant_.clears && !reads_one(kOE); }
  bool follows() const { return variant_.transparent && strobe_; }

  std::uint8_t inputs() const {
    unsigned value = 0;
    for (std::size_t bit = 0; bit < 8; ++bit) value |= unsigned{reads_one(kD[bit])} << bit;
    return static_cast<std::uint8_t>(value);
  }

  void show() {
    const bool on = variant_.clears || !reads_one(kOE);
    for (std::size_t bit = 0; bit < 8; ++bit) {
      socket().drive(kQ[bit], on ? drive((bits_ >> bit & 1) != 0) : release());
    }
  }

  /// TI, The TTL Data Book: D has to be at rest 20 ns before it is taken.
  void report_setup() {
    report(socket(), "latch-setup", Weight::warn, 0, [&] {
      return std::pair(
          fmt::format("D of {} changes in the moment in which {} takes it: the latch may keep the old value or "
                      "the new one, bit by bit",
                      socket().name(), socket().pin_name(kStrobe)),
          "put the data out first and give the strobe with a store of its own");
    });
  }

  /// Data that come for long, and never the strobe. On lines that several chips share it may be meant so.
  void wonder(Stamp when) {
    if (!reads_one(kOE) && variant_.clears) return;
    if (!waits_.at(socket(), when, kMoves, kLong)) return;
    used_ = 1;
    report(socket(), "latch-never-clocked", Weight::hint, 0, [&] {
      return std::pair(
          fmt::format("{} stays {}: D of {} has changed {} times and was never taken", socket().pin_name(kStrobe),
                      socket().level(kStrobe) == Level::low ? "low" : "high", socket().name(), waits_.moves),
          fmt::format("follow the wire from {} to the output that should move it, and what the program does "
                      "with that output",
                      socket().pin_name(kStrobe)));
    });
  }

  /// D is judged when it is stored: before that it may still be on its way to sure levels.
  void note_inputs() {
    for (int pin : kD) note(pin);
    note(kStrobe);
  }
  void note(int pin) {
    const Level level = socket().level(pin);
    if (!is_sure(level)) report_unsure(socket(), pin, true);
  }

  Variant variant_;
  std::uint8_t bits_ = 0;
  bool strobe_ = false;
  bool on_bus_ = false;
  std::uint8_t seen_ = 0;  // D as it last was, and...
  Stamp moved_ = -1;       // ...when it changed
  // Until the strobe first moves.
  std::uint8_t used_ = 0;
  Wonder waits_;  // changes of D
};

ChipType make_type(std::string_view name, std::string_view title, std::string_view summary, Variant variant) {
  ChipType type;
  type.name = name;
  type.title = title;
  type.summary = summary;
  const std::string_view first = variant.clears ? "CLR" : "OE", strobe = variant.transparent ? "LE" : "CLK";
  for (const std::string_view pin_name :
       {first,  "1Q"sv, "1D"sv, "2D"sv, "2Q"sv, "3Q"sv, "3D"sv, "4D"sv, "4Q"sv, "GND"sv,
        strobe, "5Q"sv, "5D"sv, "6D"sv, "6Q"sv, "7Q"sv, "7D"sv, "8D"sv, "8Q"sv, "VCC"sv}) {
    PinSpec pin;
    pin.name = pin_name;
    pin.number = static_cast<std::uint8_t>(type.pins.size() + 1);
    if (pin_name == "GND" || pin_name == "VCC") {
      pin.kind = PinKind::supply;
      pin.microvolts = pin_name == "VCC" ? kLogicHigh : 0;
    } else if (pin_name.ends_with('Q')) {
      pin.kind = variant.clears ? PinKind::output : PinKind::three_state;
      pin.limits = variant.clears ? &kLsOutput : &kLsThreeState;
    } else {
      pin.kind = PinKind::input;
      pin.implied = pin_name == first ? Implied::nothing : Implied::bus;
      pin.listens = true;
      pin.limits = &kLsInput;
      if (pin_name == "OE") pin.held_high = "its outputs stay off";
      if (pin_name == "CLR") pin.held_low = "its outputs stay low";
      if (pin_name == "CLK") pin.held_low = pin.held_high = "it never takes its data";
      if (pin_name == "LE") pin.held_low = "it never takes its data";
      if (pin_name == "LE") pin.use = PinUse::open_at_high;
      if (pin_name == "LE") pin.role = BusRole::write_high;
      if (pin_name == "CLK") pin.role = BusRole::write_rise;
      if (pin_name.ends_with('D')) {
        pin.use = PinUse::latch_data;
        pin.role = BusRole::data;
        pin.bit = static_cast<std::uint8_t>(pin_name[0] - '1');
      }
    }
    type.pins.push_back(pin);
  }
  type.bus = BusSpec{.size = 1, .reads = false, .required = false};
  type.state_version = 2;
  type.make = [variant](Socket& socket, const Parameters&) { return std::make_unique<OctalLatch>(socket, variant); };
  return type;
}

}  // namespace

std::vector<ChipType> octal_latch() {
  return {
      make_type("74ls373", "74LS373 octal transparent latch",
                "Q follows D while LE is high and keeps it when LE falls; OE low lets Q drive.",
                {.transparent = true, .clears = false}),
      make_type("74ls374", "74LS374 octal flip-flop with three-state outputs",
                "Takes D when CLK rises; OE low lets Q drive.", {.transparent = false, .clears = false}),
      make_type("74ls273", "74LS273 octal flip-flop with clear", "Takes D when CLK rises; CLR low makes all Q low.",
                {.transparent = false, .clears = true}),
  };
}

}  // namespace prewire::chips
