// What a person does to the machine during a run, from `--set`.
#pragma once

#include <string>

#include "prewire/stimulus.h"

namespace prewire::front {

/// One `--set NAME=VALUE@MOMENT`. Throws `Trouble` for a text that is none.
Stimulus parse_set(const std::string& text);

}  // namespace prewire::front
