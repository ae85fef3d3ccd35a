// The circuit of a description as the checks of the wiring look at it: nets, what they can reach, and where the file
// says so.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "description/address_map.h"
#include "description/fault_list.h"
#include "description/json_text.h"
#include "description/nets.h"
#include "description/spec.h"

namespace prewire {

/// Voltages that a net can have while chips drive what they like and people move what they like, in microvolts.
struct Span {
  std::int32_t lowest = kLogicHigh, highest = 0;

  bool any() const { return lowest <= highest; }
  void take(std::int32_t microvolts) {
    lowest = std::min(lowest, microvolts);
    highest = std::max(highest, microvolts);
  }
  bool take(const Span& other) {
    const Span before = *this;
    lowest = std::min(lowest, other.lowest);
    highest = std::max(highest, other.highest);
    return lowest != before.lowest || highest != before.highest;
  }
  bool always_low() const { return any() && highest <= kInputLow; }
  bool always_high() const { return any() && lowest >= kInputHigh; }
};

/// A way from a net to another one: a resistor, a contact, a part of a track.
struct Way {
  int net = -1;  ///< where it leads; -1: its other end is open
  PinRef from, to;
};

class Circuit {
 public:
  Circuit(const MachineSpec& spec, const JsonText& places);

  const MachineSpec& spec() const { return spec_; }
  const Nets& nets() const { return nets_; }
  const NetSpec& net(int index) const { return nets_.all()[static_cast<std::size_t>(index)]; }
  int count() const { return static_cast<int>(nets_.all().size()); }
  /// Those of a known type, the processor first.
  const std::vector<int>& chips() const { return chips_; }

  const PinSpec& pin(PinRef ref) const { return spec_.pins_of(ref.chip)[static_cast<std::size_t>(ref.pin)]; }
  const ChipType& type(int chip) const;
  bool on_bus(int chip) const;
  bool is_contact(int chip) const { return type(chip).looks == Looks::contact; }
  bool is_knob(int chip) const { return type(chip).looks == Looks::knob; }
  bool is_lamp(int chip) const { return type(chip).looks == Looks::led || type(chip).looks == Looks::digit; }
  /// Of a resistor, and only of one.
  std::optional<std::int64_t> ohms(int chip) const;

  /// Whether something that no wire shows holds the pin: the bus or the reset line.
  bool held(PinRef ref) const { return pin(ref).implied != Implied::nothing && on_bus(ref.chip); }
  /// The line that the machine's own reset circuit drives.
  bool is_reset(PinRef ref) const { return ref.chip < 0 && pin(ref).implied == Implied::reset_line; }
  /// An end of a source: passive, no link, no lamp.
  bool is_source(PinRef ref) const;
  /// Nothing else is at the pin: no wire, or one that leads nowhere.
  bool open(PinRef ref) const;
  bool wired(int chip) const;
  /// The package that it is a part of, or null.
  const PackageSpec* package(int chip) const;
  /// Whether something beside its own package is at a pin of the chip: spare parts of a package are no mistake.
  bool in_use(int chip) const;
  /// Whether anything hangs on what the input decides.
  bool matters(PinRef input) const;

  /// Of a rail, or where a supply pin is.
  std::optional<std::int32_t> rail(int index) const;
  const Span& span(int index) const { return spans_[static_cast<std::size_t>(index)]; }
  /// The way between two pins of a link, on from each of them.
  std::vector<Way> ways(int index) const;

  std::string name(PinRef ref) const { return spec_.pin_name(ref); }
  std::vector<std::string> names(const NetSpec& net, PinKind kind) const;
  /// "+5V" or "GND", or what a wire calls the net, or its first pin.
  std::string name(int index) const;

  Place place(const std::string& pointer) const;
  Place place(const NetSpec& net) const {
    return place(spec_.wires[static_cast<std::size_t>(net.wires.front())].pointer);
  }
  Place chip_place(int chip) const {
    return place(chip < 0 ? "/cpu" : spec_.chips[static_cast<std::size_t>(chip)].pointer);
  }

 private:
  void find_spans();

  const MachineSpec& spec_;
  const JsonText& places_;
  Nets nets_;
  std::vector<int> chips_;
  std::vector<Span> spans_;  // by net
};

// The rules, by theme.

/// Chips that wires put on the bus: logic that is none, selects that never come or come too often, at the wrong time,
/// or two at a time, and data lines that go astray.
void check_selects(const Circuit& circuit, const std::vector<Window>& windows, FaultList& faults);

/// Parts with an end that hangs in the air, contacts and knobs that change nothing.
void check_ends(const Circuit& circuit, FaultList& faults);
/// Inputs that never change, and requests for an interrupt that go wrong.
void check_inputs(const Circuit& circuit, FaultList& faults);
/// Outputs of a chip of pure logic that never change, and its inputs that are open. Returns open inputs of which no
/// more needs to be said.
std::vector<int> check_logic(const Circuit& circuit, int chip, FaultList& faults);
/// LEDs and digits that can never be lit, or that nothing protects.
void check_lamps(const Circuit& circuit, FaultList& faults);
/// Outputs that are asked for more than they give.
void check_loads(const Circuit& circuit, FaultList& faults);

}  // namespace prewire
