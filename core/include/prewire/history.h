// Time travel: back to any bus cycle since recording began, and the last time that something happened.
#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "prewire/clock.h"
#include "prewire/machine.h"
#include "prewire/wire.h"

namespace prewire {

/// What to look for in the past.
struct Wanted {
  enum class Kind : std::uint8_t {
    write,    ///< of an address of the range, or `Machine::poke` there
    read,     ///< of one as data, operand or opcode
    execute,  ///< of an instruction that begins at one
    net,      ///< a change of the net's state
  };
  Kind kind = Kind::write;
  std::uint16_t first = 0, last = 0;  ///< both ends are included
  std::string net{};                  ///< a pin or a label, as `Machine::net` takes it
};

/// Why a net changed, one step: a pin that changed, and what made it.
struct NetStep {
  enum class Why : std::uint8_t {
    access,     ///< the processor has written to the pin's chip or read from it
    processor,  ///< it is an output of the processor
    input,      ///< a person has moved the part
    net,        ///< the chip has heard another net change, which is the next step
    time,       ///< of the chip's own accord: a time was over
  };
  std::string net;
  NetState before, after;
  Stamp when = 0;
  std::string pin;  ///< that drives it otherwise than before; empty if it is joined to a net that changed
  std::string chip;
  Why why = Why::time;
  std::string event;          ///< what the chip published at that moment, if anything
  std::uint16_t address = 0;  ///< of an access
  std::uint8_t data = 0;      ///< of an access
  bool write = false;         ///< of an access
};

std::string_view to_string(NetStep::Why why);

/// Something that happened.
struct Happening {
  Wanted::Kind kind = Wanted::Kind::write;
  Cycle cycle = 0;               ///< the bus cycle in which it happened
  Stamp when = 0;                ///< the moment: the E fall of an access, or when the net changed
  bool by_hand = false;          ///< from outside the machine: `Machine::poke`, or a part that a person has moved
  std::uint16_t pc = 0;          ///< of the instruction that was running
  std::optional<Entry> entry{};  ///< what the processor was doing instead of an instruction
  std::string instruction{};     ///< disassembled
  std::string registers{};       ///< before it
  std::uint16_t address = 0;     ///< of an access
  std::uint8_t data = 0;         ///< what the bus carried
  std::uint8_t before = 0;       ///< what `Machine::peek` gave before an access
  std::uint8_t after = 0;        ///< and after it
  std::vector<NetStep> steps{};  ///< of a net: how it came, the last step first
};

/// Records what a machine does, in states that it keeps on the way; the rest comes from running on from there, which
/// gives the same cycles. What was done from outside is done again at the same moment: `Machine::set`, `schedule`,
/// `poke`, `reset` and changes of registers. `power_cycle` and `restore` begin the past anew.
///
/// After going back, running on gives what had been; something else done from outside makes another future, and the
/// old one is forgotten.
///
/// Going back and looking back run the past again: observers see nothing of that, and findings are afterwards those of
/// the moment at which the machine stands. An exception out of a chip, an observer or `give_up` leaves the machine
/// where it is. From within an observer or a chip all of this throws `std::logic_error`, but for what only tells.
class History {
 public:
  static constexpr std::size_t kUsualBudget = std::size_t{64} << 20;

  /// Records from now on, in `budget` bytes: the less there are, the fewer states of the far past are kept, and the
  /// longer it takes to get there. Two states and what was last done from outside, 64 times, are kept in any case. Half
  /// of the budget is for what was done from outside; what is more is forgotten with all that lies before it, even if
  /// that is all of the past. The machine must outlive its history. It has one at a time, else `std::logic_error`.
  explicit History(Machine& machine, std::size_t budget = kUsualBudget);
  ~History();
  History(const History&) = delete;
  History& operator=(const History&) = delete;

  /// The earliest moment to which it reaches: when recording began, or later if more was done from outside than the
  /// budget holds.
  Cycle begin() const;
  /// The latest moment that is known: now, or where the machine was before it went back.
  Cycle end() const;
  /// That the kept states take, and how many there are.
  std::size_t bytes() const;
  std::size_t states() const;

  /// To where `cycle` cycles are over, with all that was done from outside at that moment. False, and nothing happens,
  /// unless it lies within `begin()` and `end()`; nor if the flag that the machine heeds goes up on the way.
  bool go_to(Cycle cycle);
  bool back_cycle() { return go_to(now() - 1); }
  /// The inverse of `Machine::step_instruction`: to the beginning of the current instruction, or of the one before.
  bool back_instruction();

  /// The last time before now. Empty if there was none since `begin()`, if `give_up`, called now and then, says so, or
  /// if the flag that the machine heeds goes up.
  std::optional<Happening> last(const Wanted& wanted, const std::function<bool()>& give_up = {});
  /// The same, and goes there: the machine stands before the bus cycle in which it happens. Before a change from
  /// outside it stands before the cycle that came last.
  std::optional<Happening> back_to(const Wanted& wanted, const std::function<bool()>& give_up = {});

  /// Shows an observer all that happened from `from`, within `begin()` and now, up to now: what it would have seen. The
  /// machine is left where it is. False if `give_up` has said so, or the flag that the machine heeds has gone up.
  /// Throws `std::logic_error` for another `from`.
  bool show_again(Observer& observer, Cycle from, const std::function<bool()>& give_up = {});

 private:
  Cycle now() const;

  Machine& machine_;
};

}  // namespace prewire
