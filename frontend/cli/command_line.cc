#include "command_line.h"

#include <fmt/format.h>

#include <algorithm>
#include <memory>
#include <vector>

#include "prewire/version.h"
#include "shared/ending.h"
#include "shared/log.h"
#include "shared/trouble.h"

namespace prewire::front::cli {

namespace {

constexpr const char* kProgramPurpose =
    "Tries a 6800-family interfacing lab before the first jumper wire: reads the description of a machine, checks its\n"
    "wiring, runs its program bus cycle by bus cycle, and says what one would see and what would go wrong.\n"
    "\n"
    "Examples:\n"
    "  prewire check gauge.json\n"
    "  prewire run gauge.json --for 200ms --set FLOAT=2.5V@50ms";

constexpr const char* kProgramExitHelp =
    "Exit status; the help of each command tells which it has:\n"
    "  0  all is well           4  machine fault: undefined opcode, finding of weight stop\n"
    "  1  internal error        5  not as expected, or a difference\n"
    "  2  bad usage             6  a limit is reached\n"
    "  3  bad input           130  interrupted by Ctrl-C";

/// Purpose, usage, options by group with limits and the general ones last, notes.
class Help final : public CLI::Formatter {
 public:
  Help() {
    column_width(26);
    label("REQUIRED", "");
    label("Positionals", "Arguments");
  }

  std::string make_help(const CLI::App* app, std::string name, CLI::AppFormatMode mode) const override {
    return make_description(app) + make_usage(app, name) + make_positionals(app) + make_all_groups(app) +
           make_subcommands(app, mode) + "\n" + make_footer(app);
  }

  std::string make_usage(const CLI::App* app, std::string name) const override {
    const bool has_commands = !app->get_subcommands({}).empty();
    std::string usage = "\nUsage: " + name + " [OPTIONS]" + (has_commands ? " COMMAND" : "");
    for (const CLI::Option* option : app->get_options()) {
      if (option->get_positional()) usage += " " + make_option_usage(option);
    }
    return usage + "\n";
  }

  std::string make_option_opts(const CLI::Option* option) const override {
    return option->get_type_size() == 0 || option->get_type_name().empty() ? "" : " " + option->get_type_name();
  }

  /// In one line: its own help says more.
  std::string make_subcommand(const CLI::App* app) const override {
    const std::string text = app->get_description();
    return fmt::format("  {:<11} {}\n", app->get_name(), text.substr(0, text.find('\n')));
  }

 private:
  std::string make_all_groups(const CLI::App* app) const {
    std::vector<std::string> groups = app->get_groups();
    for (const char* last : {kLimitGroup, kGeneral}) {
      const auto group = std::find(groups.begin(), groups.end(), last);
      if (group != groups.end()) std::rotate(group, group + 1, groups.end());
    }
    std::string text;
    for (const std::string& group : groups) {
      const auto in_group = [&](const CLI::Option* option) {
        return option->get_group() == group && option->nonpositional();
      };
      const std::vector<const CLI::Option*> options = app->get_options(in_group);
      if (!options.empty()) text += make_group(group, false, options);
    }
    return text;
  }
};

std::vector<std::string> option_names(const CLI::App& app) {
  std::vector<std::string> names;
  for (const CLI::Option* option : app.get_options()) {
    for (const std::string& name : option->get_lnames()) names.push_back("--" + name);
  }
  return names;
}

std::string help_command(const CLI::App& app) {
  return fmt::format("`{} --help` explains all",
                     app.get_parent() == nullptr ? app.get_name() : "prewire " + app.get_name());
}

std::vector<std::string> command_names(const CLI::App& program) {
  std::vector<std::string> names;
  for (const CLI::App* command : program.get_subcommands({})) names.push_back(command->get_name());
  return names;
}

/// What the command line holds and nobody takes.
void refuse_extras(const CLI::App& app) {
  const std::vector<std::string> extras = app.remaining();
  for (const std::string& extra : extras) {
    if (!extra.starts_with('-')) continue;
    const std::string name = extra.substr(0, extra.find('='));
    throw Trouble(Exit::usage, fmt::format("there is no option {}", name), "", "",
                  meant(name, option_names(app), help_command(app)));
  }
  if (extras.empty()) return;
  if (app.get_parent() != nullptr) {
    throw Trouble(Exit::usage, fmt::format("`{}` has no use for this", app.get_name()), "", extras[0],
                  help_command(app));
  }
  const std::vector<std::string> commands = command_names(app);
  throw Trouble(Exit::usage, "there is no such command", list_of(commands, "or"), extras[0],
                meant(extras[0], commands, help_command(app)));
}

/// Our words for what the parser found.
[[noreturn]] void refuse(const CLI::ParseError& error, const CLI::App& app) {
  std::string what = error.what();
  if (error.get_name() == "RequiredError") {
    const char* needed = app.get_name() == "test"    ? "a check file or a folder"
                         : app.get_name() == "grade" ? "the folder of a lab and that of the submissions"
                                                     : "a machine file";
    what = fmt::format("`{}` needs {}", app.get_name(), needed);
  }
  if (error.get_name() == "ArgumentMismatch") {
    const bool too_many = what.find("At Most") != std::string::npos;
    what = fmt::format("{} {}", what.substr(0, what.find(':')), too_many ? "is given twice" : "needs a value");
  }
  if (error.get_name() == "ConversionError") {
    // Only flags are converted: "Could not convert: --json = perhaps".
    const std::size_t name = what.find("--");
    what = fmt::format("{} takes no value", what.substr(name, what.find(' ', name) - name));
  }
  if (error.get_name() == "ExcludesError") {
    const bool checks = app.get_name() == "test" || app.get_name() == "grade";
    what = checks ? "--tap, --json and --quiet exclude each other" : "--quiet and --json exclude each other";
  }
  throw Trouble(Exit::usage, what, "", "", help_command(app));
}

}  // namespace

Exit run_command_line(int argc, char** argv, std::span<const AddCommand> adders, Output& out) {
  CLI::App program(kProgramPurpose, "prewire");
  program.formatter(std::make_shared<Help>());
  program.set_help_flag("-h,--help", "print this and exit");
  program.set_version_flag("--version", fmt::format("prewire {}\n", kVersion), "print the version and exit");
  program.allow_extras();
  program.footer(kProgramExitHelp);
  program.require_subcommand(0, 1);  // what follows a command is its own, whatever it is called
  std::vector<Command> commands;
  // The options of the others need not be made if the command comes first, as it nearly always does.
  const std::string first = argc > 1 ? argv[1] : "";
  const bool named =
      std::any_of(adders.begin(), adders.end(), [&](const AddCommand& each) { return first == each.name; });
  for (const AddCommand& each : adders) {
    if (!named || first == each.name) commands.push_back(each.add(program));
  }
  for (const Command& command : commands) command.app->group("Commands");

  const CLI::App* chosen = &program;
  const Command* command = nullptr;
  const auto choose = [&] {
    for (const Command& candidate : commands) {
      if (!candidate.app->parsed()) continue;
      chosen = candidate.app;
      command = &candidate;
    }
  };
  try {
    program.parse(argc, argv);
    choose();
  } catch (const CLI::CallForHelp&) {
    out.print(program.help());
    return Exit::ok;
  } catch (const CLI::CallForVersion& version) {
    out.print(version.what());
    return Exit::ok;
  } catch (const CLI::ParseError& error) {
    choose();
    refuse_extras(*chosen);
    refuse(error, *chosen);
  }
  refuse_extras(*chosen);
  refuse_extras(program);
  if (command != nullptr) {
    refuse_empty(*chosen);
    const Limits limits = limits_of(*chosen);
    limit_memory(limits.memory);
    if (!command->minds_wall) limit_wall(limits.wall);
    return command->run(out, limits);
  }
  throw Trouble(Exit::usage, "there is nothing to do", "a command: " + list_of(command_names(program), "or"), "",
                "`prewire --help` explains all");
}

}  // namespace prewire::front::cli
