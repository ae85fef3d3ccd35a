// `prewire schema`: the JSON Schema of machine files.
#include "command.h"
#include "prewire/chips.h"

namespace prewire::cli {

Command add_schema(CLI::App& program) {
  CLI::App* app = add_command(program, "schema", "Prints the JSON Schema (draft 2020-12) of machine files.",
                              "  prewire schema > machine.schema.json");
  return {app, [](Output& out) {
            out.print(machine_schema(standard_chips()));
            return Exit::ok;
          }};
}

}  // namespace prewire::cli
