// A command of a program, whoever has it.
#pragma once

#include <CLI/CLI.hpp>
#include <functional>
#include <string>

#include "exit.h"
#include "output.h"
#include "prewire/machine.h"

namespace prewire::front {

struct Command {
  CLI::App* app;
  std::function<Exit(Output&)> run;  ///< after the command line has been parsed
};

/// Adds one command to a program.
using AddCommand = Command (*)(CLI::App& program);

/// A command with its purpose and examples.
CLI::App* add_command(CLI::App& program, const std::string& name, const std::string& purpose,
                      const std::string& examples);

/// Adds `--root` and checks what it names.
void add_root_option(CLI::App& app, LoadOptions& options);

}  // namespace prewire::front
