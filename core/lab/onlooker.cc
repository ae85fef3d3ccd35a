#include "prewire/onlooker.h"

#include <fmt/format.h>

#include <algorithm>
#include <cassert>
#include <iterator>
#include <utility>

namespace prewire {

namespace {

// An LED that is lit for this part of the time is seen to glow.
constexpr double kGlow = 0.02;

bool blank(const std::string& text) { return text.find_first_not_of(' ') == std::string::npos; }

}  // namespace

std::string_view to_string(Onlooker::Event::Kind kind) {
  switch (kind) {
    case Onlooker::Event::Kind::input: return "input";
    case Onlooker::Event::Kind::display: return "display";
    case Onlooker::Event::Kind::led: return "led";
    case Onlooker::Event::Kind::finding: return "finding";
  }
  return "";
}

Onlooker::Onlooker(Machine& machine, std::vector<TimedInput> inputs)
    : machine_(machine), inputs_(std::move(inputs)), eye_(machine) {
  std::stable_sort(inputs_.begin(), inputs_.end(),
                   [](const TimedInput& a, const TimedInput& b) { return a.when < b.when; });
  for (const std::string& group : machine.displays()) add({.kind = Event::Kind::display, .name = group});
  const std::vector<ChipView> chips = machine.chips();
  for (std::size_t chip = 0; chip < chips.size(); ++chip) {
    if (chips[chip].type->looks != Looks::led) continue;
    const std::size_t lamps = chips[chip].lamps.size();
    for (std::size_t lamp = 0; lamp < lamps; ++lamp) {
      std::string name(chips[chip].name);
      if (lamps > 1) name += fmt::format(".{}", lamp);
      add({.kind = Event::Kind::led, .name = std::move(name), .chip = chip, .lamp = lamp});
    }
  }
  // What was found while power came on.
  for (std::size_t i = 0; i < machine.findings().size(); ++i) take_in(machine.findings()[i], i);
  machine_.watch(*this);
}

void Onlooker::add(Sight sight) {
  sight.now = show(sight);
  sights_.push_back(std::move(sight));
}

void Onlooker::on_finding(const Finding& finding) {
  // Whoever was told before may have found more.
  const std::vector<Finding>& all = machine_.findings();
  std::size_t number = all.size();
  while (number > 0 && (all[number - 1].id != finding.id || all[number - 1].message != finding.message)) --number;
  if (number > 0) take_in(finding, number - 1);
}

void Onlooker::take_in(const Finding& finding, std::size_t number) {
  if (!finding.leads) return;
  events_.push_back({Event::Kind::finding, before_ + stamp_of(finding.first), finding.id, finding.message,
                     finding.weight, finding.hint, finding.pc, number});
}

/// One cause, one message: what follows from something else is counted and not told, unless it stops the machine.
void Onlooker::drop_consequences() {
  const std::vector<Finding>& findings = machine_.findings();
  std::erase_if(events_, [&](const Event& event) {
    return event.kind == Event::Kind::finding && event.weight != Weight::stop && event.finding < findings.size() &&
           event.when >= before_ && findings[event.finding].follows >= 0;
  });
}

std::string Onlooker::show(const Sight& sight) const {
  if (sight.kind == Event::Kind::display) return eye_.display(sight.name);
  return eye_.brightness(sight.chip, sight.lamp) >= kGlow ? "on" : "off";
}

void Onlooker::look() {
  eye_.look();
  const Stamp moment = this->moment();
  const bool still = eye_.still();
  for (Sight& sight : sights_) {
    if (!still) {
      std::string now = show(sight);
      if (now != sight.now) {
        sight.now = std::move(now);
        sight.since = moment;
      }
    }
    if (moment - sight.since < machine_.timebase().stamps(kSteady)) continue;
    const bool dark_from_the_start = !sight.known && (blank(sight.now) || sight.now == "off");
    const bool changed = !sight.known || sight.now != sight.steady;
    sight.known = true;
    sight.steady = sight.now;
    if (changed && !dark_from_the_start) {
      events_.push_back({.kind = sight.kind, .when = sight.since, .subject = sight.name, .text = sight.now});
    }
  }
}

std::vector<Onlooker::Event> Onlooker::take() { return take_until(moment() - machine_.timebase().stamps(kSteady)); }

std::vector<Onlooker::Event> Onlooker::take_rest() { return take_until(moment()); }

void Onlooker::power_cycle(std::uint64_t seed) {
  drop_consequences();
  before_ = stamp_of(cycle_from(moment()));  // in whole cycles, as everything that is done at a moment
  machine_.power_cycle(seed);
  eye_.blink();
  for (Sight& sight : sights_) {
    sight.now = show(sight);
    sight.since = before_;
  }
}

std::vector<Onlooker::Event> Onlooker::take_until(Stamp end) {
  drop_consequences();
  for (; told_ < inputs_.size() && inputs_[told_].when <= end; ++told_) {
    const TimedInput& input = inputs_[told_];
    events_.push_back({.kind = Event::Kind::input, .when = input.when, .subject = input.part, .text = input.value});
  }
  // Of one moment, what a person does comes first.
  std::stable_sort(events_.begin(), events_.end(), [](const Event& a, const Event& b) {
    return std::pair(a.when, a.kind) < std::pair(b.when, b.kind);
  });
  const auto later = std::find_if(events_.begin(), events_.end(), [&](const Event& event) { return event.when > end; });
  std::vector<Event> events(std::make_move_iterator(events_.begin()), std::make_move_iterator(later));
  events_.erase(events_.begin(), later);
  return events;
}

std::size_t Onlooker::inputs_to_come() const {
  const Stamp moment = this->moment();
  return static_cast<std::size_t>(
      std::count_if(inputs_.begin(), inputs_.end(), [&](const TimedInput& input) { return input.when > moment; }));
}

const Onlooker::Sight& Onlooker::find(std::string_view group) const {
  const auto sight = std::find_if(sights_.begin(), sights_.end(), [&](const Sight& candidate) {
    return candidate.kind == Event::Kind::display && candidate.name == group;
  });
  assert(sight != sights_.end());
  return *sight;
}

std::vector<Onlooker::Lit> Onlooker::leds() const {
  std::vector<Lit> leds;
  for (const Sight& sight : sights_) {
    if (sight.kind == Event::Kind::led) leds.push_back({sight.name, sight.shown() == "on"});
  }
  return leds;
}

}  // namespace prewire
