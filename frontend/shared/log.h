// Diagnostic logging of the program itself, off unless asked for.
#pragma once

#include <CLI/CLI.hpp>

namespace prewire::front {

/// Group of the options that every command has, in its help.
inline constexpr const char* kGeneral = "General";

/// Adds `--log LEVEL` to a command.
void add_log_option(CLI::App& app);

}  // namespace prewire::front
