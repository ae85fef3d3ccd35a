// A push button: a contact that is closed while somebody presses it, and bounces as real ones do.
#include "contact.h"

#include "chips.h"

namespace prewire::chips {

namespace {

constexpr Picoseconds kUsualBounce = 3'000'000'000;  // common practice: averages of 1.5 ms, the worst common ones 6 ms

}  // namespace

ChipType push_button() {
  ChipType type;
  type.name = "button";
  type.title = "push button";
  type.summary = "A contact between two nets that is closed while the button is pressed. It bounces.";
  type.pins = {{.name = "1"}, {.name = "2"}};
  type.parameters = {bounce_parameter(kUsualBounce)};
  type.links = {{0, 1}};
  type.looks = Looks::contact;
  type.input = "pressed or released";
  type.events = {"contact"};
  type.make = [](Socket& socket, const Parameters& parameters) {
    return std::make_unique<Contact>(socket, Contact::Words{"released", "pressed"}, false, parameters["bounce"],
                                     parameters["bounce"] / 2);
  };
  return type;
}

}  // namespace prewire::chips
