#include "command.h"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <system_error>
#include <vector>

#include "log.h"
#include "trouble.h"

namespace prewire::front {

CLI::App* add_command(CLI::App& program, const std::string& name, const std::string& purpose,
                      const std::string& examples) {
  CLI::App* app = program.add_subcommand(name, fmt::format("{}\n\nExamples:\n{}", purpose, examples));
  app->set_help_flag("-h,--help", "print this and exit")->group(kGeneral);
  app->allow_extras();
  add_limit_options(*app);
  add_log_option(*app);
  app->footer(kExitHelp);
  return app;
}

void refuse_empty(const CLI::App& app) {
  for (const CLI::Option* option : app.get_options()) {
    if (option->get_type_size() == 0 || option->count() == 0) continue;
    const std::vector<std::string>& texts = option->results();
    if (std::find(texts.begin(), texts.end(), "") == texts.end()) continue;
    const std::string name = option->get_positional() ? option->get_name() : "--" + option->get_lnames().front();
    throw Trouble(Exit::usage, fmt::format("{} is given an empty text", name), "", "",
                  fmt::format("leave it out, or name a {}", option->get_type_name().empty() ? "file" : "value"));
  }
}

void add_root_option(CLI::App& app, LoadOptions& options, const char* usual) {
  const auto set = [&options](const std::string& folder) {
    if (folder.empty()) return;  // `refuse_empty` will
    std::error_code error;
    if (!std::filesystem::is_directory(folder, error)) {
      throw Trouble(Exit::input, "--root names no folder", "an existing folder", folder, "check the path");
    }
    options.root = folder;
  };
  app.add_option_function<std::string>(
         "--root", set, fmt::format("folder under which program images must lie; if not given,\n{}", usual))
      ->type_name("FOLDER");
}

}  // namespace prewire::front
