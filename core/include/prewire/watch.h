// Observers see what a machine does and cannot change it; findings say what is wrong with it.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "prewire/address_range.h"
#include "prewire/bus.h"
#include "prewire/clock.h"
#include "prewire/error.h"
#include "prewire/wire.h"

namespace prewire {

class Cpu;

/// What `on_instruction` tells in place of an opcode: what the processor does at an instruction boundary instead of the
/// next instruction.
enum class Entry : int { reset = -1, nmi = -2, irq = -3, firq = -4 };

/// "reset", "NMI", "IRQ" or "FIRQ".
std::string_view to_string(Entry entry);

/// Something that the simulated machine does and should not. Findings with equal `id` and subject are counted, not
/// repeated; those with equal `id` and `cause` are one case (prewire/cases.h).
struct Finding {
  std::string id;  ///< stable name, such as `bus-contention`; explained in docs
  Weight weight = Weight::warn;
  Cycle first = 0;       ///< cycle of the first occurrence
  std::uint16_t pc = 0;  ///< address of the instruction that was running then
  std::uint64_t count = 1;
  std::string message{};  ///< what, and where: chips and pins
  std::string hint{};     ///< one next step
  std::string source{};   ///< of `pc`: "gauge.asm:42", or empty

  std::uint64_t cause = 0;         ///< a number for what it is grouped by: a chip, a net, a jump, a part of the map
  bool leads = true;               ///< the first of its case
  std::uint64_t subjects = 1;      ///< different ones: more than 1 where those of a case are no longer kept apart
  std::vector<AddressRange> at{};  ///< where the subjects are addresses: those that `subjects` counts, the first some
  std::int64_t follows = -1;       ///< the finding, counted in `Machine::findings`, that this is a consequence of
};

/// What tells a finding from others of its id, for whoever reports it.
struct Occurrence {
  std::uint64_t subject = 0;  ///< occurrences with another one are findings of their own
  std::uint64_t cause = 0;    ///< and with the same one of this they are one case
  bool address = false;       ///< `subject` is an address
  std::int64_t follows = -1;  ///< as in `Finding`
  Cycle since = -1;           ///< when it began, if it has been noticed only now
  std::int32_t pc = -1;       ///< where the program was then
};

/// Base of everything that watches. Override what you need and say so in `wants()`.
///
/// Callbacks come in the order of events and cannot change the machine: calls that would throw `std::logic_error`. A
/// cycle is reported after its nets have settled; a net change carries the stamp at which it happened. What a callback
/// throws comes out of the call on the machine that led to it, which is done then: see `Machine`.
class Observer {
 public:
  enum Wants : unsigned {
    kCycles = 1,        ///< `on_cycle` for each bus cycle; runs the machine at a fraction of its speed
    kInstructions = 2,  ///< `on_instruction` before each instruction or interrupt entry
    kNets = 4,          ///< `on_net` for each change of a net
    kEvents = 8,        ///< `on_event` for each named event of a chip
    kFindings = 16,     ///< `on_finding` for the first occurrence of each finding
    /// As `kInstructions`, but an instruction that was spared (`Machine::spare`) may be left out; and `on_moment`.
    kNewInstructions = 32,
  };

  virtual ~Observer() = default;
  virtual unsigned wants() const = 0;

  virtual void on_cycle(const BusCycle& /*cycle*/) {}
  /// `opcode` is the byte just fetched; for an interrupt or reset entry it is an `Entry`, below 0, and the
  /// registers are as stacked.
  virtual void on_instruction(const Cpu& /*cpu*/, std::uint16_t /*pc*/, int /*opcode*/, Cycle /*cycle*/) {}
  /// `net` names the net by its label or its first pin.
  virtual void on_net(std::string_view /*net*/, const NetState& /*state*/, Stamp /*when*/) {}
  /// `chip` is the name in the machine file, `event` a name from the chip's doc page, `value` its detail or 0.
  virtual void on_event(std::string_view /*chip*/, std::string_view /*event*/, std::int64_t /*value*/, Stamp /*when*/) {
  }
  virtual void on_finding(const Finding& /*finding*/) {}
  /// Every `kMoment` cycles, between two cycles: for those that look at what takes time.
  virtual void on_moment(const Cpu& /*cpu*/, Cycle /*cycle*/) {}
  static constexpr Cycle kMoment = 16'384;
};

}  // namespace prewire
