// A resistor: a fixed resistance between two nets. Pull-ups, dividers and series resistors are made of these.
#include "chips.h"
#include "pins.h"

namespace prewire::chips {

namespace {

class Resistor final : public Chip {
 public:
  Resistor(Socket& socket, const Parameters& parameters)
      : Chip(socket), ohms_(static_cast<std::int32_t>(parameters["ohms"])) {}

  void power_on() override { socket().link(0, ohms_); }

 private:
  const std::int32_t ohms_;
};

}  // namespace

ChipType resistor() {
  ChipType type;
  type.name = "resistor";
  type.title = "resistor";
  type.summary = "A fixed resistance between two nets: a pull-up, half a divider, the series resistor of an LED.";
  type.pins = {{.name = "1"}, {.name = "2"}};
  type.parameters = {resistance("resistance")};
  type.links = {{0, 1}};
  type.make = [](Socket& socket, const Parameters& parameters) {
    return std::make_unique<Resistor>(socket, parameters);
  };
  return type;
}

}  // namespace prewire::chips
