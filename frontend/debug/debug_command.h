// `prewire debug`: the console.
#pragma once

#include "cli/command.h"

namespace prewire::debug {

cli::Command add_debug(CLI::App& program);

}  // namespace prewire::debug
