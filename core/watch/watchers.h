// The observers of a machine, and what they want together.
#pragma once

#include <algorithm>
#include <cstddef>
#include <exception>
#include <functional>
#include <utility>
#include <vector>

#include "prewire/watch.h"

namespace prewire {

/// Observers may come and go at any time, and throw: what one throws waits for `rethrow`, and the others are told of
/// the same all the same. While they are being told, one that goes hears nothing more, and one that comes waits for
/// `tidy`.
class Watchers {
 public:
  /// Called when an observer has thrown.
  void on_throw(std::function<void()> call) { thrown_by_ = std::move(call); }

  void add(Observer& observer) {
    list_.push_back({&observer, observer.wants()});
    gather();
  }
  void remove(Observer& observer) {
    std::erase_if(list_, [&](const Entry& entry) { return entry.observer == &observer; });
    gather();
  }
  void add_later(Observer& observer) { comers_.push_back({&observer, observer.wants()}); }
  void remove_later(Observer& observer) {
    goers_.push_back(&observer);
    std::erase_if(comers_, [&](const Entry& entry) { return entry.observer == &observer; });
    silence(observer);
  }
  /// Nobody is being told anything.
  void tidy() {
    if (comers_.empty() && goers_.empty()) return;
    for (const Observer* gone : goers_) {
      std::erase_if(list_, [&](const Entry& entry) { return entry.observer == gone; });
    }
    std::erase_if(list_, [](const Entry& entry) { return entry.observer == &deaf(); });
    list_.insert(list_.end(), comers_.begin(), comers_.end());
    goers_.clear();
    comers_.clear();
    gather();
  }

  /// Whether anybody wants one of these.
  bool want(unsigned what) const { return (wanted_ & what) != 0; }
  /// Exchanges all observers, for a time in which the past is run again.
  void swap(Watchers& other) {
    list_.swap(other.list_);
    of_cycles_.swap(other.of_cycles_);
    of_instructions_.swap(other.of_instructions_);
    std::swap(wanted_, other.wanted_);
  }

  template <class Tell>
  void tell(unsigned what, Tell&& tell) const {
    if (!want(what)) return;
    each(list_, [&](const Entry& entry) {
      if (entry.wants & what) tell(*entry.observer);
    });
  }
  /// Only while the machine does something: then the list stays where it is.
  void tell_cycle(const BusCycle& cycle) const {
    Observer* const* next = of_cycles_.data();
    for (Observer* const* const end = next + of_cycles_.size(); next != end;) {
      try {
        while (next != end) (*next++)->on_cycle(cycle);
      } catch (...) {
        keep(std::current_exception());
      }
    }
  }

  /// The same for instructions: called for each of them.
  void tell_instruction(const Cpu& cpu, std::uint16_t pc, int opcode, Cycle cycle) const {
    Observer* const* next = of_instructions_.data();
    for (Observer* const* const end = next + of_instructions_.size(); next != end;) {
      try {
        while (next != end) (*next++)->on_instruction(cpu, pc, opcode, cycle);
      } catch (...) {
        keep(std::current_exception());
      }
    }
  }

  bool thrown() const { return thrown_ != nullptr; }
  /// Nobody wants to know any more.
  void forget_thrown() { thrown_ = nullptr; }
  /// What the first one has thrown since the last call, if any has.
  void rethrow() {
    if (thrown_ != nullptr) std::rethrow_exception(std::exchange(thrown_, nullptr));
  }

 private:
  struct Entry {
    Observer* observer;
    unsigned wants;
  };
  /// Stands where one has gone.
  static Observer& deaf() {
    struct Deaf final : Observer {
      unsigned wants() const override { return 0; }
    };
    static Deaf nobody;
    return nobody;
  }
  template <class List, class Tell>
  void each(const List& list, Tell&& tell) const {
    for (std::size_t next = 0; next < list.size();) {
      try {
        while (next < list.size()) tell(list[next++]);
      } catch (...) {
        keep(std::current_exception());
      }
    }
  }
  void keep(std::exception_ptr thrown) const {
    if (thrown_ == nullptr) thrown_ = std::move(thrown);
    if (thrown_by_) thrown_by_();
  }
  void silence(Observer& observer) {
    for (Entry& entry : list_) {
      if (entry.observer == &observer) entry.observer = &deaf();
    }
    std::replace(of_cycles_.begin(), of_cycles_.end(), &observer, &deaf());
    std::replace(of_instructions_.begin(), of_instructions_.end(), &observer, &deaf());
  }
  void gather() {
    wanted_ = 0;
    of_cycles_.clear();
    of_instructions_.clear();
    for (const Entry& entry : list_) {
      wanted_ |= entry.wants;
      if (entry.wants & Observer::kCycles) of_cycles_.push_back(entry.observer);
      if (entry.wants & (Observer::kInstructions | Observer::kNewInstructions)) {
        of_instructions_.push_back(entry.observer);
      }
    }
  }

  std::vector<Entry> list_;
  std::vector<Observer*> of_cycles_, of_instructions_;
  unsigned wanted_ = 0;
  std::vector<Entry> comers_;
  std::vector<Observer*> goers_;
  std::function<void()> thrown_by_;
  mutable std::exception_ptr thrown_;
};

}  // namespace prewire
