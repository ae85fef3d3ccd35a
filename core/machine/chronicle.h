// Who remembers what a machine goes through, as the machine sees it.
#pragma once

#include <cstdint>
#include <memory>

#include "machine/input.h"
#include "prewire/clock.h"
#include "prewire/machine.h"

namespace prewire {

/// Something done to a machine from outside, between two bus cycles.
struct Deed {
  enum class Kind : std::uint8_t { input, schedule, poke, set_register, reset };
  Kind kind = Kind::reset;
  std::uint16_t where = 0;  ///< address, or index of a register
  std::uint16_t value = 0;
  bool between = false;  ///< two instructions, not within one
  Cycle cycle = 0;       ///< that many were over
  Stamp moment = 0;
  Input input{};
};

class Chronicle {
 public:
  virtual ~Chronicle() = default;

  /// The past begins now.
  virtual void forget() = 0;
  /// Before a run.
  virtual void begin_run() = 0;
  /// How far a run may go before it must call `reached`.
  virtual Cycle next_stop() const = 0;
  /// Keeps a state if it is time; does what is known to have been done at this moment.
  virtual void reached() = 0;
  /// It has been done. What was known of the future is void.
  virtual void done(Deed deed) = 0;
  /// Nothing is being done any more: the time for what had to wait.
  virtual void at_rest() noexcept = 0;
};

/// For a machine that is being made, by the room of history.
std::unique_ptr<Chronicle> make_chronicle(Machine::Impl& machine);

}  // namespace prewire
