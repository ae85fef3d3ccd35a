// The way back: saved states, and what a person did between them.
#pragma once

#include <cstddef>
#include <vector>

#include "deed.h"
#include "prewire/machine.h"

namespace prewire::desk {

class Past {
 public:
  /// A state to go back to.
  struct Mark {
    Cycle cycle = 0;
    std::size_t deeds = 0;  ///< that were done before
    Snapshot state;
  };

  /// The machine is at its start.
  void begin(const Machine& machine);
  /// Keeps the present state, unless it is kept already.
  void remember(const Machine& machine);
  /// Something was done just now. What was to come after it will come no more.
  void add(Deed deed);

  /// The last mark at or before `cycle`; there always is one.
  const Mark& before(Cycle cycle) const;
  /// The machine has been restored from a mark.
  void return_to(const Mark& mark) { next_ = mark.deeds; }
  /// How many deeds lie behind, for a short trip into the past and back.
  std::size_t place() const { return next_; }
  void return_to(std::size_t place) { next_ = place; }
  /// The next deed to do again, if it is due by `cycle`. Take it by `pass`.
  const Deed* due(Cycle cycle) const;
  void pass() { ++next_; }
  Cycle next_due(Cycle otherwise) const { return next_ < deeds_.size() ? deeds_[next_].when : otherwise; }

  const std::vector<Mark>& marks() const { return marks_; }
  /// Deeds up to the present, oldest first.
  std::vector<Deed> done() const;

 private:
  static constexpr std::size_t kMarks = 512;

  std::vector<Mark> marks_;  // by cycle
  std::vector<Deed> deeds_;
  std::size_t next_ = 0;  // of `deeds_`: those from here on lie in the future
};

}  // namespace prewire::desk
