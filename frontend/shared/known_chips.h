// The chips that machine files may name: those that come with the program, and those of `--chips`.
#pragma once

#include <CLI/CLI.hpp>

#include <string>

#include "prewire/chip.h"

namespace prewire::front {

/// Stays until the end; the command line alone adds to it.
const Registry& known_chips();

/// Loads a library of chips (prewire/chip_library.h). Throws `Trouble` if it is none, or does not fit.
void load_chips(const std::string& file);

/// Adds `--chips`, which may be given several times. No machine file can do that: a library may do anything.
void add_chips_option(CLI::App& app);

}  // namespace prewire::front
