// `prewire debug`: the console.
#pragma once

#include "shared/command.h"

namespace prewire::front::debug {

front::Command add_debug(CLI::App& program);

}  // namespace prewire::front::debug
