#include "description/lamps.h"

namespace prewire {

namespace {

/// What a part says, or the usual value of its colour; one without a colour counts as red, as most digits are.
std::int32_t forward_of(const Circuit& circuit, int chip) {
  const ChipType& type = circuit.type(chip);
  const Parameters& parameters = circuit.spec().chips[static_cast<std::size_t>(chip)].parameters;
  if (type.has_parameter("forward") && parameters.given("forward")) {
    return static_cast<std::int32_t>(parameters["forward"]);
  }
  const auto color = type.has_parameter("color") ? static_cast<std::size_t>(parameters["color"]) : 0;
  return color < kLedForward.size() ? kLedForward[color] : kLedForward[0];
}

}  // namespace

bool common_anode(const Circuit& circuit, int chip) {
  return circuit.type(chip).has_parameter("common") &&
         circuit.spec().chips[static_cast<std::size_t>(chip)].parameters["common"] != 0;
}

std::vector<Diode> diodes_of(const Circuit& circuit, int chip) {
  const std::int32_t forward = forward_of(circuit, chip);
  const auto net = [&](int pin) { return circuit.nets().index_at({chip, pin}); };
  if (circuit.type(chip).looks == Looks::led) return {{0, net(0), net(1), forward, false}};
  std::vector<Diode> diodes;
  const auto last = static_cast<int>(circuit.type(chip).pins.size()) - 1;  // COM
  const bool anode = common_anode(circuit, chip);
  for (int pin = 0; pin < last; ++pin) {
    const bool optional = circuit.pin({chip, pin}).optional;
    diodes.push_back({pin, anode ? net(last) : net(pin), anode ? net(pin) : net(last), forward, optional});
  }
  return diodes;
}

}  // namespace prewire
