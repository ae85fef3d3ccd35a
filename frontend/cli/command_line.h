// The command line of `prewire`: which command it asks for, and help in our words.
#pragma once

#include <span>

#include "shared/command.h"

namespace prewire::front::cli {

/// Reads the command line and runs what it asks for. The help lists the commands in the order of `adders`.
Exit run_command_line(int argc, char** argv, std::span<const AddCommand> adders, Output& out);

}  // namespace prewire::front::cli
