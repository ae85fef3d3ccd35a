// What a person does to a machine, and when: stimulus files. docs/command-line.md describes the format.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "prewire/clock.h"
#include "prewire/error.h"

namespace prewire {

class Machine;

/// A moment since power-on, or a span of time, in the unit in which a person named it.
struct Moment {
  std::int64_t count = 0;  ///< picoseconds, or cycles
  bool in_cycles = false;

  /// The nearest quarter cycle.
  Stamp stamp(const Timebase& timebase) const;
  /// The last quarter cycle that is not after it, and the first one that is not before it: for comparisons, which must
  /// not round.
  Stamp stamp_before(const Timebase& timebase) const;
  Stamp stamp_after(const Timebase& timebase) const;
};

/// Reads "10 ms" or "1200 cycles"; empty for anything else, a negative number for example.
std::optional<Moment> parse_moment(std::string_view text);

/// One thing that a person does, as `Machine::schedule` takes it.
struct Stimulus {
  Moment at;
  std::string part;
  std::string value;
  Place part_place, value_place;  ///< for faults that only a machine can find
};

/// Reads the text of a stimulus file; `name` stands for it in messages. Throws `InputError` with all faults.
std::vector<Stimulus> read_stimulus(std::string_view json, const std::string& name);

/// Reads a file in the same way; one that cannot be read is a fault too.
std::vector<Stimulus> read_stimulus_file(const std::filesystem::path& file);

/// An input with its moment on one machine.
struct TimedInput {
  Stamp when = 0;
  std::string part;
  std::string value;
  Place part_place{}, value_place{};
};

std::vector<TimedInput> timed(const std::vector<Stimulus>& stimuli, const Timebase& timebase);

/// Gives all of them to a machine that is at its start, which is `start` quarter cycles after the time from which they
/// count. Of one moment, those that come first are done first; those before `start` are left out. Adds what the machine
/// does not take to `faults`.
void schedule(Machine& machine, const std::vector<TimedInput>& inputs, Stamp start, std::vector<Fault>& faults);

}  // namespace prewire
