// A toggle switch: a contact that stays as it was put.
#include "contact.h"

#include "chips.h"

namespace prewire::chips {

ChipType toggle_switch() {
  ChipType type;
  type.name = "switch";
  type.title = "toggle switch";
  type.summary = "A contact between two nets that stays open or closed as it was put.";
  type.pins = {{.name = "1"}, {.name = "2"}};
  type.parameters = {
      {.name = "closed", .unit = Unit::flag, .fallback = 0, .minimum = 0, .maximum = 1, .help = "closed at power-on"},
      bounce_parameter(0)};
  type.links = {{0, 1}};
  type.looks = Looks::contact;
  type.input = "open or closed";
  type.events = {"contact"};
  type.make = [](Socket& socket, const Parameters& parameters) {
    return std::make_unique<Contact>(socket, Contact::Words{"open", "closed"}, parameters["closed"] != 0,
                                     parameters["bounce"], parameters["bounce"] / 2);
  };
  return type;
}

}  // namespace prewire::chips
