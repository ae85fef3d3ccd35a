// What a person has done to a machine, and when: enough to do it again.
#pragma once

#include <cstdint>
#include <string>

#include "prewire/machine.h"

namespace prewire::front::desk {

struct Deed {
  enum class Kind : std::uint8_t { input, reset, poke, change_register };
  static constexpr Cycle kResetCycles = 8;  ///< for which `Machine::reset` holds RESET low
  Cycle when = 0;                           ///< cycles that were over
  Kind kind = Kind::input;
  std::string part;  ///< of an input
  std::string value;
  std::uint16_t address = 0;  ///< of a poke; the index of a register
  std::uint16_t number = 0;   ///< what it becomes
  Stamp moment = 0;           ///< when, exactly
};

/// False if the machine does not let it be done. Throws `InputError` for an input that makes no sense.
bool apply(Machine& machine, const Deed& deed);

}  // namespace prewire::front::desk
