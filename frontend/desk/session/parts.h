// What of a machine a person sees and touches, sorted by its looks.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "prewire/machine.h"

namespace prewire::front::desk {

/// Digits that are read together.
struct DigitGroup {
  std::string name;
  std::vector<std::size_t> chips;  ///< from left to right
};

struct LedPart {
  std::string name;
  std::size_t chip = 0;
  int colour = 0;  ///< 0 to 4: red, yellow, green, blue, white
};

/// A switch or a button.
struct ContactPart {
  std::string name;
  std::string open, closed;  ///< what `Machine::set` takes
  bool springs = false;      ///< a button: open again when nobody presses it
  bool closed_at_first = false;
};

/// Something to turn, or a voltage to dial.
struct KnobPart {
  std::string name;
  Unit unit = Unit::millionths;  ///< of what it is set to
  std::int64_t least = 0, most = 0, at_first = 0, step = 0;
  std::string net;  ///< a pin whose voltage it decides
};

struct Parts {
  std::vector<DigitGroup> digits;
  std::vector<LedPart> leds;
  std::vector<ContactPart> contacts;
  std::vector<KnobPart> knobs;

  const ContactPart* contact(std::string_view name) const;
  const KnobPart* knob(std::string_view name) const;
};

Parts parts_of(const Machine& machine);

}  // namespace prewire::front::desk
