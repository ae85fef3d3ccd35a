#include "deeds.h"

#include <algorithm>
#include <iterator>

namespace prewire::front::desk {

bool Deeds::plans(std::string_view part) const {
  return std::any_of(planned_.begin(), planned_.end(), [&](const TimedInput& input) { return input.part == part; });
}

void Deeds::add(Deed deed) {
  forget_after(deed.when);
  done_.push_back(std::move(deed));
}

void Deeds::forget_after(Cycle now) {
  std::erase_if(done_, [&](const Deed& deed) { return deed.when > now; });
}

std::vector<Deed> Deeds::until(Cycle now) const {
  std::vector<Deed> done;
  std::copy_if(done_.begin(), done_.end(), std::back_inserter(done),
               [&](const Deed& deed) { return deed.when <= now; });
  return done;
}

std::map<std::string, std::string> Deeds::settings(Cycle now) const {
  std::map<std::string, std::string> last;
  for (const Deed& deed : done_) {
    if (deed.when <= now && deed.kind == Deed::Kind::input && deed.part != "RESET") last[deed.part] = deed.value;
  }
  return last;
}

bool Deeds::closed(const Machine& machine, const ContactPart& part) const {
  bool closed = part.closed_at_first;
  Stamp at = -1;
  for (const TimedInput& input : planned_) {
    if (input.part == part.name && input.when <= machine.moment() && input.when >= at) {
      closed = input.value == part.closed;
      at = input.when;
    }
  }
  for (const Deed& deed : done_) {
    if (deed.kind == Deed::Kind::input && deed.part == part.name && deed.when <= machine.now() && deed.moment >= at) {
      closed = deed.value == part.closed;
    }
  }
  return closed;
}

std::int64_t Deeds::position(const Machine& machine, const KnobPart& part) const {
  std::int64_t position = part.at_first;
  Stamp at = -1;
  const auto take = [&](const std::string& value, Stamp when) {
    if (when < at) return;
    at = when;
    if (const auto own = parse_quantity(value, part.unit)) {
      position = *own;
    } else if (const auto microvolts = parse_quantity(value, Unit::microvolts)) {
      // A voltage between the ends: near enough for a drawing, since most are between GND and +5V.
      position = std::clamp<std::int64_t>(*microvolts * part.most / kLogicHigh, part.least, part.most);
    }
  };
  for (const TimedInput& input : planned_) {
    if (input.part == part.name && input.when <= machine.moment()) take(input.value, input.when);
  }
  for (const Deed& deed : done_) {
    if (deed.kind == Deed::Kind::input && deed.part == part.name && deed.when <= machine.now()) {
      take(deed.value, deed.moment);
    }
  }
  return position;
}

}  // namespace prewire::front::desk
