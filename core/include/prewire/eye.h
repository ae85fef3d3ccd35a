// What a person sees on a machine's lamps and digits: light averaged over the time in which the eye does.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "prewire/clock.h"
#include "prewire/machine.h"

namespace prewire {

/// Looks at a machine from time to time. Segments of a multiplexed digit that are lit in turn look lit at once, and the
/// microseconds in which a program writes one digit after the other do not show.
class Eye {
 public:
  /// Light within this span runs together (from memory: a display looks steady from 50 refreshes a second on).
  static constexpr Picoseconds kPersistence = 20'000'000'000;
  /// How often to look.
  static constexpr Picoseconds kGlance = 5'000'000'000;

  /// The machine must outlive the eye.
  explicit Eye(const Machine& machine);

  /// Runs the machine, which is the one that it looks at, and looks on the way. Ends as `Machine::run_for` does.
  Stop run_for(Machine& machine, Cycle cycles);
  /// Takes in what was lit since the last look. Call it every `kGlance`; after a restore of the machine call `blink`.
  void look();
  /// Forgets what was seen.
  void blink();
  /// At this look and at the one before, no lamp had changed for as long as the eye remembers: it sees what it saw.
  bool still() const { return still_ && was_still_; }

  /// The text on a group of digits, as in `Machine::display`.
  std::string display(std::string_view group) const;
  /// How bright a lamp looks, from 0 to 1. `chip` counts in `Machine::chips()`.
  double brightness(std::size_t chip, std::size_t lamp) const;

 private:
  /// Lit time of every lamp at one moment.
  struct Glance {
    Stamp when = 0;
    std::vector<Stamp> lit;
  };

  double brightness_since(const Glance& past, std::size_t index) const;

  const Machine& machine_;
  std::vector<std::size_t> first_;  // index of each chip's first lamp
  std::vector<Glance> glances_;     // oldest first, as far back as the eye remembers
  bool still_ = false, was_still_ = false;
};

}  // namespace prewire
