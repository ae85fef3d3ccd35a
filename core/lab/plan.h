// A check file after reading: what it says, with the place of each part for messages. No machine exists yet.
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "description/json_text.h"
#include "prewire/lab_check.h"
#include "prewire/quantity.h"
#include "prewire/stimulus.h"
#include "prewire/wire.h"

namespace prewire {

/// Text that names something of the machine, and where it stands.
struct Named {
  std::string text;
  Place place;
};

/// What something is compared with, in its own unit; either end may be open.
struct Bounds {
  std::optional<std::int64_t> least, most;
  bool hold(std::int64_t value) const { return hold(value, 1); }
  /// Exactly, without dividing. `denominator` is above 0.
  __extension__ using Wide = __int128;
  bool hold(Wide numerator, Wide denominator) const {
    return (!least || numerator >= *least * denominator) && (!most || numerator <= *most * denominator);
  }
};

/// Spans as a person named them: on another machine they are another number of cycles.
struct SpanBounds {
  std::optional<Moment> least, most;
};

struct ExpectationPlan {
  enum class Kind : std::uint8_t {
    display,
    led,
    net,
    memory,
    reg,
    stack,
    reached,
    frequency,
    pulse,
    duty,
    cycles,
    latency,
    finding,
    ends,
  };
  Kind kind = Kind::display;
  Place place;                      ///< of the object
  Named subject;                    ///< group, LED, net, address, register, place in the program, rule of a finding
  Named other;                      ///< `cycles` and `latency`: where they end; `stack`: address of an empty one
  std::string shows{};              ///< `display`, blanks at the ends removed
  bool on = false;                  ///< `led`; `finding`: must occur; `latency`: of a rising edge
  Level level = Level::low;         ///< `net`, and `pulse`
  std::vector<std::uint8_t> bytes;  ///< `memory`, if more than one
  Bounds bounds;                    ///< `memory`, `reg`, `stack`, `reached`; `frequency` and `duty` in their units
  SpanBounds spans;                 ///< `pulse`, `cycles`, `latency`

  bool never = false;
  std::optional<Moment> at, from, to, within, held;
  Named at_place;  ///< in the program; empty if there is none

  /// Judged by its value, not by a measurement.
  bool is_state() const { return kind <= Kind::reached; }
};

struct PowerCycle {
  Moment at;
  std::optional<std::uint64_t> seed;
  Place place;
};

struct BouncePlan {
  Named part;
  Picoseconds length = 0;
};

/// A ramp, or noise: a part is set again and again.
struct Sweep {
  Moment at, over;
  Named part;
  Unit unit = Unit::microvolts;
  std::int64_t first = 0, last = 0;  ///< of noise: the lowest and the highest value
  std::int64_t steps = 1;
  bool noise = false;
  std::uint64_t seed = 1;
};

/// Wires that are pulled or plugged in at a moment, and perhaps put back.
struct WireMove {
  Moment at;
  std::optional<Moment> held;
  bool remove = false;  ///< pulled; else plugged in
  JsonValue ends;       ///< a list of pins, or a list of wires
  std::string part;     ///< that stands for them on the board: "the wire at ADC.INTR"
};

/// What a person does at a moment, or so much later.
struct TimedStimulus : Stimulus {
  std::optional<Moment> later{};
};

/// A rule that has another weight in the check; empty: it says nothing.
struct RulePlan {
  Named rule;
  std::optional<Weight> weight;
};

struct LabCheck::Plan {
  std::shared_ptr<const JsonText> text;  ///< that `wiring` looks at
  std::string file;                      ///< name for messages
  std::string name;
  std::string title;  ///< `name` without the machine
  std::int64_t points = 1;
  std::vector<std::string> tags;
  std::string machine;  ///< as written
  Place machine_place;
  Place place;
  CheckLimits limits;
  std::optional<Moment> length;
  std::optional<std::uint64_t> seed;
  std::optional<JsonValue> remove, shorts;
  std::vector<TimedStimulus> stimuli;
  std::vector<Sweep> sweeps;
  std::vector<BouncePlan> bounces;
  std::vector<PowerCycle> power_cycles;
  std::vector<WireMove> wire_moves;
  std::vector<ExpectationPlan> expectations;
  std::vector<RulePlan> rules;  ///< a later one counts
  std::optional<bool> partner;  ///< whether the lab partner watches; else if a rule of it is named
};

/// What is expected, in words: `LEVEL shows "125" at 200 ms`.
std::string describe(const ExpectationPlan& plan);
/// "10 ms" or "1200 cycles".
std::string to_string(const Moment& moment);

}  // namespace prewire
