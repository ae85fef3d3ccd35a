// A crystal oscillator in a can: a square wave from power-on, high first.
#include <fmt/format.h>

#include "chips.h"

namespace prewire::chips {

namespace {

enum Pin { kOut };
enum Tag : unsigned { kEdge };

class Oscillator final : public Chip {
 public:
  Oscillator(Socket& socket, const Parameters& parameters) : Chip(socket), millihertz_(parameters["frequency"]) {}

  void power_on() override {
    edges_ = 0;
    socket().offer_beat(kOut, {millihertz_, 0});
    socket().drive(kOut, drive_high());
  }

  void start() override {
    ticks_ = false;
    if (!socket().heard(kOut)) return;
    if (millihertz_ > 2 * socket().timebase().millihertz()) {
      socket().finding("clock-too-fast", Weight::stop, kOut,
                       fmt::format("{} at {} changes more often than four times per E cycle, which cannot be followed",
                                   socket().pin_name(kOut), format_quantity(millihertz_, Unit::millihertz)),
                       "use a lower frequency, or run the processor from a faster clock");
      return;
    }
    ticks_ = true;
    next();
  }

  void on_timer(unsigned /*tag*/, Stamp /*when*/) override {
    if (!ticks_) return;
    socket().drive(kOut, drive(edges_ % 2 == 0));
    next();
  }

  void archive(Archive& archive) override {
    archive.within(edges_, 0, Archive::kFar);
    archive.require(!ticks_ || edge(edges_) >= socket().now());  // else it would have much to make up for
  }

 private:
  void next() { socket().timer(kEdge, edge(++edges_)); }

  /// When the n-th edge is due, counted from the rise at 0. Not added up, so that no rounding error grows.
  Stamp edge(std::int64_t n) const {
    __extension__ using Wide = __int128;
    const Wide quarters = 4 * static_cast<Wide>(socket().timebase().millihertz());
    return static_cast<Stamp>((n * quarters + millihertz_) / (2 * static_cast<Wide>(millihertz_)));
  }

  const std::int64_t millihertz_;
  std::int64_t edges_ = 0;  // the one that comes next
  bool ticks_ = false;      // somebody wants the edges; follows from the wiring
};

}  // namespace

ChipType oscillator() {
  ChipType type;
  type.name = "oscillator";
  type.title = "oscillator";
  type.summary = "A square wave of a fixed frequency, high and low for the same time.";
  type.pins = {{.name = "OUT", .kind = PinKind::output}};
  type.parameters = {{.name = "frequency",
                      .unit = Unit::millihertz,
                      .fallback = 1'000'000'000,
                      .minimum = 100,
                      .maximum = 10'000'000'000,
                      .help = "frequency",
                      .required = true}};
  type.make = [](Socket& socket, const Parameters& parameters) {
    return std::make_unique<Oscillator>(socket, parameters);
  };
  return type;
}

}  // namespace prewire::chips
