// The observers of a machine, and what they want together.
#pragma once

#include <utility>
#include <vector>

#include "prewire/watch.h"

namespace prewire {

class Watchers {
 public:
  void add(Observer& observer) {
    list_.push_back({&observer, observer.wants()});
    gather();
  }
  void remove(Observer& observer) {
    std::erase_if(list_, [&](const Entry& entry) { return entry.observer == &observer; });
    gather();
  }
  /// Whether anybody wants one of these.
  bool want(unsigned what) const { return (wanted_ & what) != 0; }
  /// Exchanges all observers, for a time in which the past is run again.
  void swap(Watchers& other) {
    list_.swap(other.list_);
    of_cycles_.swap(other.of_cycles_);
    std::swap(wanted_, other.wanted_);
  }

  template <class Tell>
  void tell(unsigned what, Tell&& tell) const {
    if (!want(what)) return;
    for (const Entry& entry : list_) {
      if (entry.wants & what) tell(*entry.observer);
    }
  }
  void tell_cycle(const BusCycle& cycle) const {
    for (Observer* observer : of_cycles_) observer->on_cycle(cycle);
  }

 private:
  struct Entry {
    Observer* observer;
    unsigned wants;
  };
  void gather() {
    wanted_ = 0;
    of_cycles_.clear();
    for (const Entry& entry : list_) {
      wanted_ |= entry.wants;
      if (entry.wants & Observer::kCycles) of_cycles_.push_back(entry.observer);
    }
  }

  std::vector<Entry> list_;
  std::vector<Observer*> of_cycles_;
  unsigned wanted_ = 0;
};

}  // namespace prewire
