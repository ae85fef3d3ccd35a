// Everything that is known of a kind of chip before one is made: pins, parameters, its place on the bus.
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "prewire/logic.h"
#include "prewire/quantity.h"
#include "prewire/rule.h"

namespace prewire {

/// What a pin can do electrically; the static check and the handout work from this.
enum class PinKind : std::uint8_t {
  input,        ///< needs a driver or a pull-up
  output,       ///< totem-pole: always drives
  three_state,  ///< drives or lets go; also input/output pins
  open_drain,   ///< sinks or lets go; needs a pull-up
  passive,      ///< end of a resistor, contact, LED or source
  analog_in,    ///< reads volts; loads the net with nothing
  supply,       ///< VCC, GND and the like; connected without being wired
  none,         ///< not connected inside
};

std::string_view to_string(PinKind kind);
/// Whether such a pin moves its net, always or now and then.
constexpr bool drives(PinKind kind) {
  return kind == PinKind::output || kind == PinKind::three_state || kind == PinKind::open_drain;
}

/// What a pin is joined to when the machine file does not wire it.
enum class Implied : std::uint8_t {
  nothing,     ///< an unwired input is a fault
  bus,         ///< the system bus, by the chip's `at`; such a pin cannot be wired while the chip has one, and without
               ///< it wires do what its `role` says
  reset_line,  ///< the machine's RESET line, for chips placed by `at`
};

/// What a check has to know of a pin beyond what it is electrically.
enum class PinUse : std::uint8_t {
  plain,
  request,       ///< low asks for an interrupt: an output of a chip, or an input of the processor
  edge_request,  ///< its fall asks for one: NMI
  control,       ///< an input that may stay open as long as nobody makes use of it
  latch_data,    ///< an input that a latch keeps
  open_at_low,   ///< an input that lets its latch follow the data while it is low…
  open_at_high,  ///< …or high
  lights_low,    ///< an output made to light a segment by a low…
  lights_high,   ///< …or by a high
  spare,         ///< an input of a gate: while it is open it is high, as if it were not there
};

/// What a bus pin is for its chip where wires select it, in place of an `at`.
enum class BusRole : std::uint8_t {
  none,
  data,         ///< data line `bit` of the chip
  address,      ///< address line, or register select, `bit`
  select_high,  ///< the chip takes part only while it is high…
  select_low,   ///< …or low
  read_write,   ///< high: the chip is read; low: it is written
  enable,       ///< E: the chip takes part while it is high, and does so as it falls
  read_low,     ///< low: the data pins of its `group` drive
  write_low,    ///< low: the chip is written, and does not drive
  write_high,   ///< high: it is written, and keeps what was there as it falls
  write_rise,   ///< it takes its data as this rises
};

/// What an output is good for and what an input takes, by the data sheet: magnitudes in microamperes and microvolts,
/// worst case over 0 to 70 degrees if not called typical. 0: not known, and what is not known is not judged.
struct PinLimits {
  std::int32_t sink = 0, sink_at = 0;      ///< into a low, and up to which voltage it is then still low
  std::int32_t source = 0, source_at = 0;  ///< out of a high, and down to which voltage it is then still high
  std::int32_t source_typical = 0;         ///< what usual parts give out of a high at most
  std::int32_t high_typical = 0;           ///< a high with no load, where it is not the supply
  std::int32_t low = 0, low_typical = 0;   ///< what comes out of an input that is low
  std::int32_t high = 0;                   ///< what goes into an input that is high, or an output that is off
  /// Into a low that nothing has to read: lamps and relays; 0: as `sink`.
  std::int32_t lamp_sink = 0, lamp_sink_at = 0;
  bool steady = false;  ///< an output that itself limits what it gives to an LED
};

struct PinSpec {
  std::string_view name;  ///< as in the data sheet, active-low pins without a bar: "CS"
  PinKind kind = PinKind::passive;
  std::uint8_t number = 0;  ///< package pin, 0 where the part has no package
  Implied implied = Implied::nothing;
  bool listens = false;         ///< what happens at the pin matters to the chip, which wants `on_edge` for it
  bool silent = false;          ///< of a listening pin: no `on_edge`; the chip looks at the level when it needs it
  bool latched = false;         ///< of a listening pin: data for a latch, see `Socket::shut_latch`
  bool optional = false;        ///< an input that may stay unwired: it has an internal pull-up or default
  std::int32_t microvolts = 0;  ///< `supply` only: its nominal voltage
  bool takes_beat = false;      ///< a listening input that needs no edges where a beat is offered
  PinUse use = PinUse::plain;
  std::string_view held_low{};        ///< what is wrong while it is low for ever; empty: that may be meant
  std::string_view held_high{};       ///< the same of high
  std::uint8_t group = 0;             ///< of outputs and of the input that holds them; 0: of all
  std::int32_t pull_up = 0;           ///< ohms to the supply inside; 0: none
  const PinLimits* limits = nullptr;  ///< null: nothing is known
  bool volts = false;                 ///< of a listening input: it wants `on_edge` for another voltage, too
  std::int8_t ended_by = -1;          ///< of a request: the register whose read ends it
  BusRole role = BusRole::none;       ///< of a pin that is `Implied::bus`
  std::uint8_t bit = 0;               ///< of a data or address pin
};

struct ParameterSpec {
  std::string_view name;
  Unit unit = Unit::count;
  std::int64_t fallback = 0;  ///< used when the machine file does not give it
  std::int64_t minimum = 0;
  std::int64_t maximum = 0;
  std::string_view help;                    ///< one line
  std::vector<std::string_view> choices{};  ///< `Unit::choice` only
  bool required = false;
};

/// The values of one chip's parameters, complete and in range.
class Parameters {
 public:
  void set(std::string_view name, std::int64_t value, bool given);
  /// The name must be one of the chip's parameters.
  std::int64_t operator[](std::string_view name) const;
  /// Whether the machine file gave it.
  bool given(std::string_view name) const;

 private:
  struct Entry {
    std::string name;
    std::int64_t value;
    bool given;
  };
  std::vector<Entry> entries_;
};

/// How a chip sits on the system bus.
struct BusSpec {
  enum class Kind : std::uint8_t { registers, ram, rom };
  Kind kind = Kind::registers;
  std::uint32_t size = 1;         ///< addresses that the chip tells apart: a power of two
  std::uint8_t data_mask = 0xFF;  ///< data lines it is wired to
  bool reads = true;
  bool writes = true;
  bool required = true;  ///< the chip makes no sense without `at`
  /// Names in the data sheet, by register; those that share an address with a blank between them. May be empty.
  std::vector<std::string_view> registers{};
};

/// A two-pin connection inside the part whose resistance can change: a resistor, a contact, half a potentiometer.
struct LinkSpec {
  int pin_a = 0;  ///< index into `pins`
  int pin_b = 0;
};

/// A part of a package that holds several.
struct UnitSpec {
  std::string_view type;  ///< in the same registry
  std::vector<int> pins;  ///< its pins, as pins of the package; several units may have one in common
};

/// What a person sees of a part; decides how front ends show it.
enum class Looks : std::uint8_t { none, led, digit, contact, knob };

/// Forward voltages of LEDs at some 10 mA, in microvolts: red, yellow, green, blue, white (common practice).
inline constexpr std::array<std::int32_t, 5> kLedForward = {1'800'000, 2'000'000, 2'100'000, 3'000'000, 3'000'000};

class Chip;
class Socket;

/// Everything that is known of a kind of chip before one is made.
struct ChipType {
  std::string name;     ///< in machine files: a part number or trade word in lower case, such as "mc6821"
  std::string title;    ///< "MC6821 peripheral interface adapter"
  std::string summary;  ///< one or two sentences
  std::vector<PinSpec> pins;
  std::vector<ParameterSpec> parameters;
  std::optional<BusSpec> bus;
  std::vector<LinkSpec> links;
  Looks looks = Looks::none;
  std::string input;  ///< what `--set NAME=…` takes, as in "a position such as 25 %"; empty: takes none
  std::vector<std::string_view> events;  ///< names that the chip passes to `Socket::event`
  /// Raised whenever `Chip::archive` saves something else: states of another version are refused.
  unsigned state_version = 1;
  /// Of a part that is pure logic: reads its inputs and writes its outputs, all by index into `pins`, whatever the
  /// order. Empty: the part has state, timing or analog pins. By it the machine looks through gates to find its address
  /// map, so it must say the same as the chip does. Called while a machine is built and from then on, never by two
  /// threads.
  std::function<void(std::span<Logic> pins)> logic;
  /// Of a package of several parts: a machine has these in its place, "BAR-1", "BAR-2" and so on for a package "BAR",
  /// each with the parameters that it has by the same name. Such a type has no `make`, `bus` or `links`.
  std::vector<UnitSpec> units;
  /// Other parameters of a unit, which counts from 0. May be empty.
  std::function<void(const Parameters& package, int unit, Parameters& of_unit)> share;
  /// Adapts `bus` to the parameters (a RAM wired to half the data lines). May be empty.
  std::function<void(const Parameters&, BusSpec&)> adapt;
  /// Empty, or returning null: no machine with such a chip can be made, which `std::logic_error` says.
  std::function<std::unique_ptr<Chip>(Socket&, const Parameters&)> make;

  /// Index of a pin, or -1.
  int pin(std::string_view pin_name) const;
  /// Whether a person moves its pins: a contact, a knob, a source.
  bool by_hand() const { return looks == Looks::contact || !input.empty(); }
  bool has_parameter(std::string_view parameter_name) const;
};

/// The kinds of chip that a machine file may name.
class Registry {
 public:
  /// A name that is taken already is a broken contract.
  void add(ChipType type);
  const ChipType* find(std::string_view name) const;
  /// In the order in which they were added.
  const std::vector<std::shared_ptr<const ChipType>>& types() const { return types_; }

  /// Rules by which chips find fault: a row for each id that one of them passes to `Socket::finding`. Their texts must
  /// live on.
  void add_rules(std::span<const Rule> more) { rules_.insert(rules_.end(), more.begin(), more.end()); }
  const std::vector<Rule>& rules() const { return rules_; }

 private:
  std::vector<std::shared_ptr<const ChipType>> types_;  // shared with the machines that were built from them
  std::vector<Rule> rules_;
};

}  // namespace prewire
