// What a person does to the machine during a run: from `--set` and from stimulus files.
#pragma once

#include <string>
#include <vector>

#include "prewire/machine.h"
#include "prewire/stimulus.h"

namespace prewire::cli {

/// One `--set NAME=VALUE@MOMENT`. Throws `Trouble` for a text that is none.
Stimulus parse_set(const std::string& text);

/// An input with its moment on this machine.
struct TimedInput {
  Stamp when = 0;
  std::string part;
  std::string value;
};

/// Gives all of them to the machine, which must be at its start. Returns them in order of time; adds what the machine
/// does not take to `faults`.
std::vector<TimedInput> schedule(Machine& machine, const std::vector<Stimulus>& stimuli, std::vector<Fault>& faults);

}  // namespace prewire::cli
