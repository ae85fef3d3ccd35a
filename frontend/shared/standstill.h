// Whether a program is over.
#pragma once

#include "prewire/machine.h"

namespace prewire::front {

/// Watches for the moment from which nothing will ever change: the processor waits, is halted, is held in reset or
/// jumps to itself, and no chip and no input is due. An undefined opcode is such a moment too.
class Standstill {
 public:
  explicit Standstill(Machine& machine) : machine_(machine) {}

  /// Call it at each look, and at `look_again()`.
  void look();
  /// The cycle at which another look decides; far away if none will.
  Cycle look_again() const;
  bool reached() const { return reached_; }

 private:
  bool resting() const;
  bool only_rested() const;

  Machine& machine_;
  Cycle since_ = -1;  // when it was first seen to rest
  bool reached_ = false;
};

}  // namespace prewire::front
