// Gathers what is wrong with one description.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "prewire/error.h"

namespace prewire {

/// Faults of one description. Past `kMost` the input is something else altogether, and nobody reads on.
class FaultList {
 public:
  static constexpr std::size_t kMost = 1000;

  explicit FaultList(std::vector<Fault>& faults) : faults_(faults) {}

  std::size_t count() const { return faults_.size(); }
  bool full() const { return faults_.size() >= kMost; }
  void add(Fault fault) {
    if (!full()) faults_.push_back(std::move(fault));
  }
  void add(std::string id, Weight weight, Place place, std::string what, std::string expected, std::string found,
           std::string hint) {
    add({.id = std::move(id),
         .weight = weight,
         .place = std::move(place),
         .what = std::move(what),
         .expected = std::move(expected),
         .found = std::move(found),
         .hint = std::move(hint)});
  }
  /// Of weight `stop`.
  void add(std::string id, Place place, std::string what, std::string expected, std::string found, std::string hint) {
    add(std::move(id), Weight::stop, std::move(place), std::move(what), std::move(expected), std::move(found),
        std::move(hint));
  }

 private:
  std::vector<Fault>& faults_;
};

}  // namespace prewire
