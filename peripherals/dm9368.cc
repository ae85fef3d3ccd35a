// DM9368: a hex digit in, seven segments out, with a latch in between. Fairchild DM9368 data sheet; the package and the
// shapes of the digits are from memory.
#include <fmt/format.h>

#include <array>

#include "chips.h"
#include "input_watch.h"
#include "pins.h"

namespace prewire::chips {

namespace {

// In the order of the package.
enum Pin { kA1, kA2, kLe, kRbo, kRbi, kA3, kA0, kGnd, kE, kD, kC, kB, kA, kG, kF, kVcc };
constexpr std::array kSegments = {kA, kB, kC, kD, kE, kF, kG};

constexpr std::array<std::uint8_t, 16> kShapes = {0x3F, 0x06, 0x5B, 0x4F, 0x66, 0x6D, 0x7D, 0x07,
                                                  0x7F, 0x6F, 0x77, 0x7C, 0x39, 0x5E, 0x79, 0x71};

// Holds RBO high while nothing pulls it low (from memory).
constexpr Drive kRboPull = pull(kLogicHigh, 20'000);

class Dm9368 final : public Chip {
 public:
  using Chip::Chip;

  void power_on() override {
    latch_ = static_cast<std::uint8_t>(socket().seed() & 0xF);
    lit_ = 0;
    moved_ = shut_ = -1;
    socket().drive(kRbo, kRboPull);
  }

  void start() override {
    for (const int pin : {kA0, kA1, kA2, kA3, kLe, kRbi}) watch_input(socket(), pin, socket().level(pin));
    open_ = !high(kLe);
    socket().shut_latch(false);
    update();
  }

  void on_edge(int pin, Level level, Stamp when) override {
    if (pin != kRbo) watch_input(socket(), pin, level);
    switch (pin) {
      case kLe: return latch(level == Level::low, when);
      case kA0:
      case kA1:
      case kA2:
      case kA3: return data(when);
      default: update();
    }
  }

  void on_timer(unsigned tag, Stamp /*when*/) override { report_watched(socket(), tag); }

  void archive(Archive& archive) override {
    archive.within(latch_, 0, 15);
    archive(lit_);
    archive.number(moved_);
    archive.number(shut_);
    archive(open_);
  }

 private:
  /// An open TTL input reads 1.
  bool high(int pin) const { return socket().high(pin, true); }

  void latch(bool open, Stamp when) {
    if (open_ && !open) shut_ = when;
    open_ = open;
    check_setup(when);
    if (!open) return;  // it keeps what it shows
    socket().shut_latch(false);
    update();
  }

  void data(Stamp when) {
    moved_ = when;
    check_setup(when);
    if (open_) return update();
    if (shut_ != when) socket().shut_latch(true);  // not before: in the moment in which it shuts, data still matter
  }

  void update() {
    if (!high(kLe)) {
      latch_ = static_cast<std::uint8_t>(high(kA0) | high(kA1) << 1 | high(kA2) << 2 | high(kA3) << 3);
    }
    const bool suppressed = latch_ == 0 && !high(kRbi);
    socket().drive(kRbo, suppressed ? open_low() : kRboPull);
    // RBO is an input as well: held low from outside it blanks the digit.
    const bool dark = suppressed || !high(kRbo);
    const std::uint8_t shape = dark ? 0 : kShapes[latch_];
    if (shape == lit_) return;
    lit_ = shape;
    for (std::size_t segment = 0; segment < kSegments.size(); ++segment) {
      // A current source: what it does not feed it lets go of.
      socket().drive(kSegments[segment], (shape >> segment & 1) != 0 ? drive_high() : release());
    }
  }

  /// Fairchild DM9368 data sheet: data have to be at rest before LE rises.
  void check_setup(Stamp when) {
    if (moved_ != when || shut_ != when) return;
    report(socket(), "latch-setup", Weight::warn, 0, [&] {
      return std::pair(
          fmt::format("A0 to A3 of {} change in the moment in which LE shuts the latch: it may keep the old "
                      "digit, the new one, or a third",
                      socket().name()),
          "put the digit out while LE is low and let it rise with a store of its own");
    });
  }

  std::uint8_t latch_ = 0;
  std::uint8_t lit_ = 0;          // segments that it feeds
  Stamp moved_ = -1, shut_ = -1;  // when data last changed, and when LE last shut the latch
  bool open_ = false;             // LE is low
};

PinSpec data_pin(std::string_view name) {
  PinSpec pin = input_pin(name);
  pin.latched = true;
  pin.use = PinUse::latch_data;
  return pin;
}

PinSpec latch_enable() {
  PinSpec pin = input_pin("LE");
  pin.use = PinUse::open_at_low;
  pin.held_high = "the latch never takes a number";
  return pin;
}

constexpr PinLimits kCurrentSource{.source = 22'000, .source_at = 1'700'000, .steady = true};

PinSpec segment(std::string_view name) {
  return {.name = name, .kind = PinKind::three_state, .use = PinUse::lights_high, .limits = &kCurrentSource};
}

}  // namespace

ChipType dm9368() {
  ChipType type;
  type.name = "dm9368";
  type.title = "DM9368 seven-segment decoder, driver and latch";
  type.summary = "Shows a hex digit on a common-cathode display. The outputs are current sources: no series resistors.";
  type.pins = decoder_package({data_pin("A1"), data_pin("A2"), latch_enable(), blanking_pin("RBO"),
                               input_pin("RBI", true), data_pin("A3"), data_pin("A0")},
                              segment);
  type.make = [](Socket& socket, const Parameters&) { return std::make_unique<Dm9368>(socket); };
  return type;
}

}  // namespace prewire::chips
