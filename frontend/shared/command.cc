#include "command.h"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <system_error>
#include <vector>

#include "log.h"
#include "shared/known_chips.h"
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

std::vector<std::filesystem::path> installed_boards() {
  std::error_code none;
  const std::filesystem::path self = std::filesystem::read_symlink("/proc/self/exe", none);
  if (none) return {};
  // The window is a folder deeper in a build tree.
  std::filesystem::path above = self.parent_path();
  for (int level = 0; level < 2; ++level) {
    above = above.parent_path();
    const std::filesystem::path folder = above / "share" / "prewire" / "boards";
    if (std::filesystem::is_directory(folder, none)) return {folder};
  }
  return {};
}

void add_board_folder(const std::string& folder, LoadOptions& options) {
  std::error_code none;
  if (!std::filesystem::is_directory(folder, none)) {
    throw Trouble(Exit::input, "--boards names no folder", "an existing folder", folder, "check the path");
  }
  options.boards.emplace_back(folder);
}

void add_boards_option(CLI::App& app, LoadOptions& options) {
  options.boards = installed_boards();
  const auto add = [&options](const std::vector<std::string>& folders) {
    for (const std::string& folder : folders) {
      if (!folder.empty()) add_board_folder(folder, options);  // `refuse_empty` will
    }
  };
  app.add_option_function<std::vector<std::string>>(
         "--boards", add, "one more folder with boards that a machine file may take in;\nmay be given again")
      ->type_name("FOLDER")
      ->allow_extra_args(false);
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
  add_boards_option(app, options);
  add_chips_option(app);
}

}  // namespace prewire::front
