// A light-emitting diode, which wants a resistor in series.
#include <fmt/format.h>

#include "chips.h"
#include "lamp_current.h"
#include "report.h"

namespace prewire::chips {

namespace {

enum Pin { kAnode, kCathode };

class Led final : public Chip {
 public:
  Led(Socket& socket, const Parameters& parameters)
      : Chip(socket),
        forward_(parameters.given("forward") ? static_cast<std::int32_t>(parameters["forward"])
                                             : kLedForward[static_cast<std::size_t>(parameters["color"])]) {}

  void power_on() override { lamp_ = {}; }
  void start() override { on_edge(kAnode, socket().level(kAnode), socket().now()); }

  void on_edge(int /*pin*/, Level /*level*/, Stamp when) override {
    const NetState& anode = socket().look(kAnode);
    const NetState& cathode = socket().look(kCathode);
    lamp_.set(lights(socket(), kAnode, kCathode, forward_), when);
    const bool stiff = anode.strength != Strength::pulled && cathode.strength != Strength::pulled;
    if (!lamp_.lit() || !stiff) return;
    report(socket(), "led-no-resistor", Weight::warn, 0, [&] {
      return std::pair(
          fmt::format("nothing limits the current through {}", socket().name()),
          "put a resistor in series: for a red LED at 5 V 910 Ohm or more at a port, 270 to 330 Ohm at a driver");
    });
  }

  std::span<const Lamp> lamps() const override { return {&lamp_, 1}; }
  std::string reads(unsigned lit) const override { return lit != 0 ? "*" : "."; }
  void archive(Archive& archive) override { archive(lamp_); }

 private:
  const std::int32_t forward_;
  Lamp lamp_;
};

}  // namespace

ChipType led() {
  ChipType type;
  type.name = "led";
  type.title = "light-emitting diode";
  type.summary = "Lit while its anode is far enough above its cathode.";
  type.pins = {{.name = "A", .listens = true}, {.name = "K", .listens = true}};
  type.parameters = {{.name = "forward",
                      .unit = Unit::microvolts,
                      .fallback = kLedForward[0],
                      .minimum = 1'000'000,
                      .maximum = 4'000'000,
                      .help = "forward voltage; if not given, that of the colour"},
                     {.name = "color",
                      .unit = Unit::choice,
                      .fallback = 0,
                      .minimum = 0,
                      .maximum = kLedForward.size() - 1,
                      .help = "colour, with a forward voltage of 1.8, 2.0, 2.1, 3.0 or 3.0 V",
                      .choices = {"red", "yellow", "green", "blue", "white"}}};
  type.looks = Looks::led;
  type.make = [](Socket& socket, const Parameters& parameters) { return std::make_unique<Led>(socket, parameters); };
  return type;
}

}  // namespace prewire::chips
