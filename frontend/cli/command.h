// What the commands have in common.
#pragma once

#include <CLI/CLI.hpp>
#include <functional>
#include <string>

#include "exit.h"
#include "output.h"
#include "prewire/machine.h"

namespace prewire::cli {

/// One command, made by the functions below, each in its own source.
struct Command {
  CLI::App* app;
  std::function<Exit(Output&)> run;  ///< after the command line has been parsed
};

Command add_run(CLI::App& program);
Command add_check(CLI::App& program);
Command add_assemble(CLI::App& program);
Command add_disassemble(CLI::App& program);
Command add_image(CLI::App& program);
Command add_handout(CLI::App& program);
Command add_list(CLI::App& program);
Command add_rules(CLI::App& program);
Command add_schema(CLI::App& program);
Command add_test(CLI::App& program);

/// A command with its purpose and examples.
CLI::App* add_command(CLI::App& program, const std::string& name, const std::string& purpose,
                      const std::string& examples);

/// Adds `--root` and checks what it names.
void add_root_option(CLI::App& app, LoadOptions& options);

/// Adds `--rule`; `parse_rules` reads the texts.
void add_rule_option(CLI::App& app, std::vector<std::string>& texts);

/// Reads the command line and runs what it asks for.
Exit run_command_line(int argc, char** argv, Output& out);

}  // namespace prewire::cli
