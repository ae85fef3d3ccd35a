// Looks through gates: which chips the wires put on the bus, and at which addresses. Static; whoever runs a machine
// says how the lines stand that only change now and then.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "bus/bus_map.h"
#include "description/nets.h"
#include "description/spec.h"

namespace prewire {

/// Whether wires, and no `at`, put a chip on the system bus: one that works there only and has a bus pin on some wire,
/// or one whose data pins are on data lines of the processor.
bool wired_to_bus(const MachineSpec& spec, const Nets& nets, int chip);

class SelectLogic {
 public:
  /// A line that changes now and then: what a latch, a port or a switch does.
  struct Slow {
    int net = -1;              ///< its level; `off` where nobody drives it
    int chip = -1, link = -1;  ///< or, without a net, a contact: high while it is closed
    friend bool operator==(const Slow&, const Slow&) = default;
  };
  /// A bus pin behind which no logic can be found.
  struct Refusal {
    PinRef pin;                 ///< of the chip that is selected
    std::vector<PinRef> chain;  ///< outputs from there on, the last one is that which is no logic
    std::string why;            ///< "FF keeps its state"
  };

  /// Both must live on.
  SelectLogic(const MachineSpec& spec, const Nets& nets);

  /// Chips that wires put on the bus, by index.
  const std::vector<int>& chips() const { return chips_; }
  /// Whether the level of the net follows the processor's lines from cycle to cycle.
  bool fast(int net) const { return net >= 0 && fast_[static_cast<std::size_t>(net)]; }
  const std::vector<Slow>& slow() const { return slow_; }
  const std::vector<Refusal>& refusals() const { return refusals_; }
  /// Outputs of logic between the processor and a chip, in the order of the chain, each once.
  std::vector<PinRef> gates(int chip) const;

  /// The inputs that decide on an output of logic.
  std::vector<int> inputs_of(PinRef output) const;

  /// What each of `chips` does where. `slow` says how the lines of `slow()` stand, none is unknown. A refused chip does
  /// nothing.
  std::vector<WiredPlace> places(std::span<const Logic> slow) const;

  /// States of `slow()` to look at before anything runs: all, where there are few; the first one has all lines low.
  std::vector<std::vector<Logic>> states() const;

  /// The levels that a bus pin ever has while E is high, or low, over all addresses, reads and writes.
  struct Seen {
    PinRef pin;
    bool low = false, high = false;
  };
  std::vector<Seen> levels(int chip, std::span<const Logic> slow, bool e = true) const;
  /// The data line of the processor that is at a pin, or -1.
  int data_line(PinRef ref) const;

 private:
  class Walk;
  class Evaluation;
  friend class Walk;
  friend class Evaluation;

  /// Where a pin of the processor stands in the tables of a cycle.
  struct Line {
    enum class Kind : std::uint8_t { address, rw, vma, e, q, ba, bs };
    Kind kind = Kind::address;
    int bit = 0;
  };

  void find_fast();
  void walk();
  std::vector<int> joined(int net) const;
  /// Whether something that is no logic brings what the processor does from cycle to cycle onto a net.
  std::optional<std::pair<PinRef, std::string>> carried_by(int net) const;
  const PinSpec& pin(PinRef ref) const { return spec_.pins_of(ref.chip)[static_cast<std::size_t>(ref.pin)]; }
  const ChipType& type(int chip) const;
  bool contact(int chip) const;
  std::optional<Line> line_of(PinRef ref) const;
  std::optional<std::int32_t> rail(int net) const;
  /// What an input that is open, or nobody drives, reads as.
  Logic open_level(PinRef ref) const;

  const MachineSpec& spec_;
  const Nets& nets_;
  std::vector<int> chips_;
  std::vector<char> fast_;
  std::vector<Slow> slow_;
  std::vector<Refusal> refusals_;
  std::vector<std::vector<PinRef>> gates_;  // by place in `chips_`
  std::vector<char> refused_;               // the same
};

}  // namespace prewire
