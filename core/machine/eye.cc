#include "prewire/eye.h"

#include <algorithm>

#include "machine/inside.h"

namespace prewire {

namespace {

// A segment shows when it is at least this bright, and at least half as bright as the brightest one of its digit: a
// digit that has just changed shows what it shows most of the time.
constexpr double kDark = 0.02;
constexpr double kShare = 0.5;
// A digit with a segment that is on this much is not multiplexed, and the latest glance is enough to read it.
constexpr double kSteady = 0.9;

}  // namespace

Eye::Eye(const Machine& machine) : machine_(machine) {
  std::size_t lamps = 0;
  for (const auto& seat : Inside::of(machine).seats) {
    first_.push_back(lamps);
    lamps += seat->chip->lamps().size();
  }
  look();
}

Stop Eye::run_for(Machine& machine, Cycle cycles) {
  const Cycle glance = std::max<Cycle>(1, machine.timebase().cycles(kGlance));
  for (;;) {
    const Cycle leg = std::min(cycles, glance);
    const Cycle before = machine.now();
    const Stop stop = machine.run_for(leg);
    look();
    cycles -= leg;
    if (stop.reason != StopReason::limit || cycles <= 0 || machine.now() == before) return stop;
  }
}

void Eye::blink() {
  glances_.clear();
  still_ = false;
  look();
}

void Eye::look() {
  const Stamp now = machine_.moment();
  const Stamp forgotten = now - machine_.timebase().stamps(kPersistence);
  Glance glance;  // takes over the memory of one that is forgotten
  while (glances_.size() > 1 && glances_[1].when <= forgotten) {
    glance = std::move(glances_.front());
    glances_.erase(glances_.begin());
  }
  glance.when = now;
  glance.lit.clear();
  for (const auto& seat : Inside::of(machine_).seats) {
    for (const Lamp& lamp : seat->chip->lamps()) glance.lit.push_back(lamp.lit_stamps(now));
  }
  // Each lamp was lit all the time since the oldest look, or not at all.
  was_still_ = still_;
  still_ = !glances_.empty();
  if (still_) {
    const Glance& past = glances_.front();
    const Stamp span = now - past.when;
    for (std::size_t i = 0; i < glance.lit.size() && still_; ++i) {
      const Stamp lit = glance.lit[i] - past.lit[i];
      still_ = lit == 0 || lit == span;
    }
  }
  glances_.push_back(std::move(glance));
}

double Eye::brightness(std::size_t chip, std::size_t lamp) const {
  return brightness_since(glances_.front(), first_[chip] + lamp);
}

double Eye::brightness_since(const Glance& past, std::size_t index) const {
  const Glance& now = glances_.back();
  return now.when > past.when
             ? static_cast<double>(now.lit[index] - past.lit[index]) / static_cast<double>(now.when - past.when)
             : 0;
}

std::string Eye::display(std::string_view group) const {
  const Machine::Impl& inside = Inside::of(machine_);
  if (glances_.size() < 2) return machine_.display(group);
  std::string text;
  for (const DisplaySpec& display : inside.spec.displays) {
    if (display.name != group) continue;
    for (int number : display.chips) {
      const auto chip = static_cast<std::size_t>(number);
      const Chip& digit = *inside.seats[chip]->chip;
      const std::size_t lamps = digit.lamps().size();
      const auto brightest = [&](const Glance& since) {
        double light = 0;
        for (std::size_t i = 0; i < lamps; ++i) light = std::max(light, brightness_since(since, first_[chip] + i));
        return light;
      };
      const Glance& latest = glances_[glances_.size() - 2];
      const Glance& since = brightest(latest) >= kSteady ? latest : glances_.front();
      const double threshold = std::max(kDark, kShare * brightest(since));
      unsigned lit = 0;
      for (std::size_t i = 0; i < lamps; ++i) {
        if (brightness_since(since, first_[chip] + i) >= threshold) lit |= 1U << i;
      }
      text += digit.reads(lit);
    }
  }
  return text;
}

}  // namespace prewire
