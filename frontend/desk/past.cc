#include "past.h"

#include <algorithm>

namespace prewire::desk {

void Past::begin(const Machine& machine) {
  marks_.clear();
  deeds_.clear();
  next_ = 0;
  remember(machine);
}

void Past::remember(const Machine& machine) {
  const Cycle now = machine.now();
  const auto at =
      std::lower_bound(marks_.begin(), marks_.end(), now, [](const Mark& m, Cycle c) { return m.cycle < c; });
  if (at != marks_.end() && at->cycle == now) return;
  marks_.insert(at, {now, next_, machine.save()});
  if (marks_.size() <= kMarks) return;
  // The older half gets coarser; the start stays.
  std::vector<Mark> kept;
  for (std::size_t i = 0; i < marks_.size(); ++i) {
    if (i % 2 == 0 || i > kMarks / 2) kept.push_back(std::move(marks_[i]));
  }
  marks_ = std::move(kept);
}

void Past::add(Deed deed) {
  deeds_.resize(next_);
  // A mark of this very moment is still true: it counts the deeds before it.
  std::erase_if(marks_, [&](const Mark& mark) { return mark.cycle > deed.when; });
  deeds_.push_back(std::move(deed));
  next_ = deeds_.size();
}

const Past::Mark& Past::before(Cycle cycle) const {
  const auto after =
      std::upper_bound(marks_.begin(), marks_.end(), cycle, [](Cycle c, const Mark& m) { return c < m.cycle; });
  return after == marks_.begin() ? marks_.front() : *(after - 1);
}

const Deed* Past::due(Cycle cycle) const {
  return next_ < deeds_.size() && deeds_[next_].when <= cycle ? &deeds_[next_] : nullptr;
}

std::vector<Deed> Past::done() const { return {deeds_.begin(), deeds_.begin() + static_cast<std::ptrdiff_t>(next_)}; }

}  // namespace prewire::desk
