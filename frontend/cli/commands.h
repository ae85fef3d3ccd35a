// The commands of `prewire`, each in its own source.
#pragma once

#include "shared/command.h"

namespace prewire::front::cli {

Command add_run(CLI::App& program);
Command add_check(CLI::App& program);
Command add_assemble(CLI::App& program);
Command add_disassemble(CLI::App& program);
Command add_image(CLI::App& program);
Command add_handout(CLI::App& program);
Command add_grade(CLI::App& program);
Command add_list(CLI::App& program);
Command add_rules(CLI::App& program);
Command add_schema(CLI::App& program);
Command add_test(CLI::App& program);

}  // namespace prewire::front::cli
