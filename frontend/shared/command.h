// A command of a program, whoever has it.
#pragma once

#include <CLI/CLI.hpp>
#include <filesystem>
#include <functional>
#include <string>
#include <vector>

#include "exit.h"
#include "limits.h"
#include "output.h"
#include "prewire/machine.h"

namespace prewire::front {

struct Command {
  CLI::App* app;
  std::function<Exit(Output&, const Limits&)> run;  ///< after the command line has been parsed
  bool minds_wall = false;  ///< it works in parts, and minds the limit of real time for each; else that is set for all
};

/// What adds one command to a program, and the name that it adds.
struct AddCommand {
  const char* name;
  Command (*add)(CLI::App& program);
};

/// A command with its purpose and examples, and with the options that all have: limits, log, help.
CLI::App* add_command(CLI::App& program, const std::string& name, const std::string& purpose,
                      const std::string& examples);

/// Throws `Trouble` if one of the options that were given has an empty text, which means nothing to any of them.
void refuse_empty(const CLI::App& app);

/// The folders of the boards that were installed with the program, beside its own.
std::vector<std::filesystem::path> installed_boards();
/// Looks at what `--boards` names. Throws `Trouble`.
void add_board_folder(const std::string& folder, LoadOptions& options);

/// Adds `--boards`; those that were installed are there without it.
void add_boards_option(CLI::App& app, LoadOptions& options);
/// Adds `--root`, checks what it names, `--boards` and `--chips`.
void add_root_option(CLI::App& app, LoadOptions& options, const char* usual = "that of the machine file");

}  // namespace prewire::front
