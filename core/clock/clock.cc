#include "clock/clock.h"

#include <algorithm>

namespace prewire {

namespace {

bool later(const Timer& a, const Timer& b) { return a.when != b.when ? a.when > b.when : a.order > b.order; }

}  // namespace

void Clock::steal(Cycle cycles) {
  now += cycles;
  stolen_ += cycles;
  virtual_horizon_ = horizon_ - stolen_;
}

bool Clock::stretch_on() {
  if (long_ != e_cycle()) {
    long_ = e_cycle();
    by_ = 0;
  }
  ++by_;
  ++stretched;
  bool moved = false;
  for (Timer& timer : timers_) {
    if (!timer.by_e()) continue;
    ++timer.when;
    moved = true;
  }
  if (moved) {
    std::sort(timers_.begin(), timers_.end(), later);
    note_timers();
  }
  if (late() != 0) return false;
  steal(1);
  return true;
}

void Clock::set(std::int32_t owner, std::uint32_t tag, Stamp when, bool by_e) {
  cancel(owner, tag);
  const Timer timer{when, 2 * orders_++ + (by_e ? 1 : 0), owner, tag};
  timers_.insert(std::lower_bound(timers_.begin(), timers_.end(), timer, later), timer);
  note_timers();
  lower(cycle_at(when));
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

void Clock::archive(Archive& archive, std::int32_t first_owner, std::int32_t owners) {
  archive.within(now, 0, Archive::kFar / 4);
  archive.within(stretched, 0, 4 * now + 3);
  archive(held);
  archive.number(long_);
  archive.within(by_, 0, stretched);
  archive.within(stolen_, 0, now);
  archive.within(orders_, 0, Archive::kFar);
  std::uint64_t count = timers_.size();
  archive.count(count, sizeof(Timer));
  timers_.resize(count);
  archive.bytes(timers_.data(), count * sizeof(Timer));
  if (!archive.loading()) return;
  archive.require(std::is_sorted(timers_.begin(), timers_.end(), later));
  // One that was due long ago would make its chip catch up with all that time at once.
  const Stamp past = stamp_of(now) - 8;
  for (const Timer& timer : timers_) {
    archive.require(timer.when >= past && timer.when <= 2 * Archive::kFar && timer.order < 2 * orders_ &&
                    timer.owner >= first_owner && timer.owner < owners);
  }
  note_timers();
  moment = present();
  set_horizon(now);
}

}  // namespace prewire
