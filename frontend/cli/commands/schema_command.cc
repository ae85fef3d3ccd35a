// `prewire schema`: the JSON Schemas of machine files and of check files.
#include <memory>

#include "cli/commands.h"
#include "prewire/lab_check.h"
#include "shared/known_chips.h"
#include "shared/trouble.h"

namespace prewire::front::cli {

Command add_schema(CLI::App& program) {
  CLI::App* app =
      add_command(program, "schema", "Prints the JSON Schema (draft 2020-12) of machine files or check files.",
                  "  prewire schema > machine.schema.json\n"
                  "  prewire schema check > check.schema.json");
  const auto kind = std::make_shared<std::string>("machine");
  app->add_option("KIND", *kind, "machine, if not given, or check")->type_name("");
  add_chips_option(*app);
  return {app, [kind](Output& out, const Limits&) {
            if (*kind != "machine" && *kind != "check") {
              throw Trouble(Exit::usage, "there is no such schema", "machine or check", *kind,
                            meant(*kind, {"machine", "check"}));
            }
            out.print(*kind == "check" ? check_schema() : machine_schema(known_chips()));
            return Exit::ok;
          }};
}

}  // namespace prewire::front::cli
