// A voltage source against ground that nothing on its net can bend: a bench supply, a sensor with a strong output.
#include <algorithm>

#include "chips.h"

namespace prewire::chips {

namespace {

constexpr std::int64_t kMost = 15'000'000;
enum Pin { kOut };

class VoltageSource final : public Chip {
 public:
  VoltageSource(Socket& socket, const Parameters& parameters)
      : Chip(socket), at_first_(static_cast<std::int32_t>(parameters["volts"])) {}

  void power_on() override { input(at_first_); }

  std::optional<std::int64_t> parse_input(std::string_view text) const override {
    const auto microvolts = parse_quantity(text, Unit::microvolts);
    if (!microvolts || *microvolts < -kMost || *microvolts > kMost) return std::nullopt;
    return microvolts;
  }

  // What it gives is the board's to save: the drive on its pin.
  void input(std::int64_t microvolts) override {
    socket().drive(kOut, volts(static_cast<std::int32_t>(std::clamp(microvolts, -kMost, kMost))));
  }

 private:
  const std::int32_t at_first_;
};

}  // namespace

ChipType voltage_source() {
  ChipType type;
  type.name = "voltage_source";
  type.title = "voltage source";
  type.summary = "Holds its net at a voltage against GND, whatever else is on it.";
  type.pins = {{.name = "OUT"}};
  type.parameters = {{.name = "volts",
                      .unit = Unit::microvolts,
                      .fallback = 0,
                      .minimum = -kMost,
                      .maximum = kMost,
                      .help = "voltage at power-on"}};
  type.looks = Looks::knob;
  type.input = "a voltage from -15 V to 15 V, such as \"2.5 V\"";
  type.make = [](Socket& socket, const Parameters& parameters) {
    return std::make_unique<VoltageSource>(socket, parameters);
  };
  return type;
}

}  // namespace prewire::chips
