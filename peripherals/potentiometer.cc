// A potentiometer: two resistances with a sum that stays. Turning it clockwise brings the wiper nearer to pin 3.
#include <algorithm>

#include "chips.h"

namespace prewire::chips {

namespace {

constexpr std::int64_t kFullTurn = 1'000'000;
enum Pin { kLeft, kWiper, kRight };
enum Link { kLeftPart, kRightPart };

class Potentiometer final : public Chip {
 public:
  Potentiometer(Socket& socket, const Parameters& parameters)
      : Chip(socket), ohms_(parameters["ohms"]), at_first_(parameters["position"]) {}

  void power_on() override { input(at_first_); }

  std::optional<std::int64_t> parse_input(std::string_view text) const override {
    std::optional<std::int64_t> position = parse_quantity(text, Unit::millionths);
    if (const auto microvolts = parse_quantity(text, Unit::microvolts)) position = position_for(*microvolts);
    if (!position || *position < 0 || *position > kFullTurn) return std::nullopt;
    return position;
  }

  void input(std::int64_t position) override {
    position = std::clamp<std::int64_t>(position, 0, kFullTurn);
    // The wiper never quite reaches the end of the track.
    const std::int64_t left = std::clamp<std::int64_t>((ohms_ * position + kFullTurn / 2) / kFullTurn, 1, ohms_ - 1);
    socket().link(kLeftPart, static_cast<std::int32_t>(left));
    socket().link(kRightPart, static_cast<std::int32_t>(ohms_ - left));
  }

 private:
  /// Where the wiper has to be for a voltage between those at the ends, if they are known and differ.
  std::optional<std::int64_t> position_for(std::int64_t microvolts) const {
    const NetState& left = socket().look(kLeft);
    const NetState& right = socket().look(kRight);
    if (left.strength == Strength::none || right.strength == Strength::none) return std::nullopt;
    const std::int64_t span = std::int64_t{right.microvolts} - left.microvolts;
    if (span == 0) return std::nullopt;
    const auto [low, high] = std::minmax(left.microvolts, right.microvolts);
    if (microvolts < low || microvolts > high) return std::nullopt;
    const std::int64_t part = microvolts - left.microvolts;
    return (2 * part * kFullTurn + span) / (2 * span);
  }

  const std::int64_t ohms_;
  const std::int64_t at_first_;
};

}  // namespace

ChipType potentiometer() {
  ChipType type;
  type.name = "potentiometer";
  type.title = "potentiometer";
  type.summary =
      "A resistance track with a wiper on it. With its ends on two voltages the wiper has any voltage in between.";
  type.pins = {{.name = "1"}, {.name = "wiper"}, {.name = "3"}};
  type.parameters = {{.name = "ohms",
                      .unit = Unit::ohms,
                      .fallback = 10'000,
                      .minimum = 100,
                      .maximum = 10'000'000,
                      .help = "resistance of the whole track"},
                     {.name = "position",
                      .unit = Unit::millionths,
                      .fallback = kFullTurn / 2,
                      .minimum = 0,
                      .maximum = kFullTurn,
                      .help = "at power-on: 0 with the wiper at pin 1, 1 at pin 3"}};
  type.links = {{kLeft, kWiper}, {kWiper, kRight}};
  type.looks = Looks::knob;
  type.input = "a position such as \"25 %\" or 0.25, or a voltage between those at its ends such as \"2.5 V\"";
  type.make = [](Socket& socket, const Parameters& parameters) {
    return std::make_unique<Potentiometer>(socket, parameters);
  };
  return type;
}

}  // namespace prewire::chips
