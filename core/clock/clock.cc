#include "clock/clock.h"

#include <algorithm>
#include <tuple>

namespace prewire {

void Clock::steal(Cycle cycles) {
  now += cycles;
  stolen_ += cycles;
  virtual_horizon_ = horizon_ - stolen_;
}

void Clock::set(std::int32_t owner, std::uint32_t tag, Stamp when) {
  cancel(owner, tag);
  const Timer timer{when, orders_++, owner, tag};
  const auto later = [](const Timer& a, const Timer& b) {
    return std::tie(a.when, a.order) > std::tie(b.when, b.order);
  };
  timers_.insert(std::lower_bound(timers_.begin(), timers_.end(), timer, later), timer);
  note_timers();
  lower(cycle_of(when));
}

void Clock::remove(std::int32_t owner, std::uint32_t tag) {
  const auto place = std::find_if(timers_.begin(), timers_.end(),
                                  [&](const Timer& timer) { return timer.owner == owner && timer.tag == tag; });
  if (place == timers_.end()) return;
  timers_.erase(place);
  note_timers();
}

void Clock::note_timers() {
  next_ = timers_.empty() ? kNever : timers_.back().when;
  owners_ = 0;
  for (const Timer& timer : timers_) owners_ |= bit(timer.owner);
}

bool Clock::take(Stamp end, Timer& timer) {
  if (timers_.empty() || timers_.back().when >= end) return false;
  timer = timers_.back();
  timers_.pop_back();
  note_timers();
  return true;
}

void Clock::archive(Archive& archive) {
  archive(now);
  archive(stolen_);
  archive(orders_);
  std::uint64_t count = timers_.size();
  archive(count);
  timers_.resize(count);
  archive.bytes(timers_.data(), count * sizeof(Timer));
  if (!archive.loading()) return;
  note_timers();
  moment = stamp_of(now);
  set_horizon(now);
}

}  // namespace prewire
