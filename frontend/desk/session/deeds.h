// All that is done to a machine from power-on: what is planned, and what a person does.
#pragma once

#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "deed.h"
#include "parts.h"
#include "prewire/stimulus.h"

namespace prewire::front::desk {

class Deeds {
 public:
  /// In place of what was planned. It is the machine that does it.
  void plan(std::vector<TimedInput> inputs) { planned_ = std::move(inputs); }
  const std::vector<TimedInput>& planned() const { return planned_; }
  /// Whether it is planned to move the part.
  bool plans(std::string_view part) const;

  /// The person has done it. What was done later than that is forgotten.
  void add(Deed deed);
  void forget() { done_.clear(); }
  void forget_after(Cycle now);
  /// What the person had done by then, oldest first.
  std::vector<Deed> until(Cycle now) const;
  /// To what the person had last set each part by then.
  std::map<std::string, std::string> settings(Cycle now) const;

  /// Where a part of the machine stands: as it was last set, by plan or person, or as it was made.
  bool closed(const Machine& machine, const ContactPart& part) const;
  std::int64_t position(const Machine& machine, const KnobPart& part) const;

 private:
  std::vector<TimedInput> planned_;
  std::vector<Deed> done_;  // oldest first; those after now, when a person has gone back, would be done again
};

}  // namespace prewire::front::desk
