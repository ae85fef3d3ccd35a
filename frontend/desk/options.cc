#include "options.h"

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <cstdio>
#include <filesystem>

#include "prewire/version.h"
#include "shared/command.h"
#include "shared/file_kinds.h"
#include "shared/inputs.h"
#include "shared/known_chips.h"
#include "shared/trouble.h"

namespace prewire::front::desk {

namespace {

constexpr const char* kPurpose =
    "A window on a machine: its digits, lamps, switches and knobs, its registers, program, memory and bus.\n"
    "F1 in the window lists the keys. With --shot it draws one picture without a window.\n"
    "\n"
    "Examples:\n"
    "  prewire-desk gauge.json\n"
    "  prewire-desk gauge.json --stimulus evening.json --view lecture --run\n"
    "  prewire-desk gauge-session-1.check.json --run\n"
    "  prewire-desk gauge.json --set FLOAT=2.5V --at 50ms --shot gauge.png";
constexpr const char* kExits =
    "Exit status: 0 all is well, 1 internal error, 2 bad usage, 3 bad input, no screen, no place to write";

template <class Value>
Value word(const std::string& option, const std::string& text,
           std::initializer_list<std::pair<const char*, Value>> words) {
  std::vector<std::string> names;
  for (const auto& [name, value] : words) {
    if (text == name) return value;
    names.emplace_back(name);
  }
  throw Trouble(Exit::usage, fmt::format("{} cannot be set to that", option), list_of(names, "or"), text,
                meant(text, names));
}

Size parse_size(const std::string& text) {
  Size size;
  char rest = 0;
  if (std::sscanf(text.c_str(), "%4dx%4d%c", &size.w, &size.h, &rest) == 2 && size.w >= 640 && size.h >= 480 &&
      size.w <= 7680 && size.h <= 4320) {
    return size;
  }
  throw Trouble(Exit::usage, "--size cannot be set to that", "width x height, 640x480 to 7680x4320, such as 1280x720",
                text);
}

[[noreturn]] void refuse(const CLI::ParseError& error) {
  std::string what = error.what();
  if (error.get_name() == "ArgumentMismatch") {
    const bool too_many = what.find("At Most") != std::string::npos;
    what = fmt::format("{} {}", what.substr(0, what.find(':')), too_many ? "is given twice" : "needs a value");
  }
  throw Trouble(Exit::usage, what, "", "", "`prewire-desk --help` explains all");
}

}  // namespace

std::optional<Options> parse_options(int argc, char** argv, Output& out) {
  Options options;
  std::string view, theme, tab, size, scale, at, root;
  std::vector<std::string> sets, boards;
  CLI::App app(kPurpose, "prewire-desk");
  app.set_help_flag("-h,--help", "print this and exit");
  app.set_version_flag("--version", fmt::format("prewire-desk {}\n", kVersion), "print the version and exit");
  app.footer(kExits);
  app.allow_extras();
  app.get_formatter()->column_width(28);
  app.add_option("MACHINE", options.machine,
                 "machine file, or check file to play; one can be dropped on the window, too")
      ->type_name("");
  app.add_option("--root", root,
                 "folder under which program images must lie; if not given, that of the machine or check file")
      ->type_name("FOLDER");
  app.add_option("--boards", boards, "one more folder with boards that a machine file may take in (repeatable)")
      ->type_name("FOLDER");
  add_chips_option(app);
  app.add_option("--check", options.check, "the check of a check file to play; its first one if not given")
      ->type_name("NAME");
  app.add_option("--stimulus", options.stimulus_files, "inputs of a stimulus file, from power-on (repeatable)")
      ->type_name("FILE");
  app.add_option("--set", sets, "an input, NAME=VALUE or NAME=VALUE@MOMENT (repeatable)")->type_name("INPUT");
  app.add_flag("--run", options.run, "run at once");
  app.add_option("--view", view, "full, lecture or wiring")->type_name("VIEW");
  app.add_option("--theme", theme, "dark or light")->type_name("THEME");
  app.add_option("--tab", tab, "memory, findings or stops")->type_name("TAB");
  app.add_option("--size", size, "of window or picture, 1280x720 if not given")->type_name("WxH");
  app.add_option("--scale", scale, "of everything in it, 0.75 to 1.25")->type_name("FACTOR");
  app.add_option("--net", options.net, "net or pin to trace in the wiring view")->type_name("NET");
  app.add_option("--shot", options.shot, "draw a PNG picture without a window, and exit")->type_name("FILE");
  app.add_option("--at", at, "moment of the picture since power-on, such as 50ms or 1200cycles; 0 if not given")
      ->type_name("MOMENT");
  app.add_flag("--help-shown", options.help_shown, "with the help over it");
  try {
    app.parse(argc, argv);
  } catch (const CLI::CallForHelp&) {
    out.print(app.help());
    return std::nullopt;
  } catch (const CLI::CallForVersion&) {
    out.print(fmt::format("prewire-desk {}\n", kVersion));
    return std::nullopt;
  } catch (const CLI::ParseError& error) {
    refuse(error);
  }
  for (const std::string& extra : app.remaining()) {
    std::vector<std::string> names;
    for (const CLI::Option* option : app.get_options()) {
      for (const std::string& name : option->get_lnames()) names.push_back("--" + name);
    }
    if (extra.starts_with('-')) {
      const std::string name = extra.substr(0, extra.find('='));
      throw Trouble(Exit::usage, fmt::format("there is no option {}", name), "", "",
                    meant(name, names, "`prewire-desk --help` explains all"));
    }
    throw Trouble(Exit::usage, "there is one machine on the desk", "one machine file", extra);
  }
  refuse_empty(app);
  for (const std::string& set : sets) options.sets.push_back(parse_set(set));
  if (!view.empty()) {
    options.look =
        word<Look>("--view", view, {{"full", Look::full}, {"lecture", Look::lecture}, {"wiring", Look::wiring}});
  }
  if (!theme.empty()) {
    options.theme = word<ThemeName>("--theme", theme, {{"dark", ThemeName::dark}, {"light", ThemeName::light}});
  }
  if (!tab.empty()) {
    options.tab =
        word<Tab>("--tab", tab, {{"memory", Tab::memory}, {"findings", Tab::findings}, {"stops", Tab::stops}});
  }
  if (!size.empty()) options.size = parse_size(size);
  if (!scale.empty()) {
    const auto factor = parse_quantity(scale, Unit::millionths);
    if (!factor || *factor < 750'000 || *factor > 1'250'000) {
      throw Trouble(Exit::usage, "--scale cannot be set to that", "a factor from 0.75 to 1.25", scale);
    }
    options.scale = static_cast<double>(*factor) / 1e6;
  }
  if (!at.empty()) {
    const auto moment = parse_moment(at);
    if (!moment)
      throw Trouble(Exit::usage, "--at names no moment", "a time such as 50ms, or a count of cycles such as 1200cycles",
                    at);
    if (options.shot.empty())
      throw Trouble(Exit::usage, "--at needs --shot", "--shot FILE", "", "F5 runs the machine in the window");
    options.at = *moment;
  }
  refuse_other_kind("--shot", options.shot, {".png"});
  if (!options.shot.empty() && options.run) {
    throw Trouble(Exit::usage, "--run and --shot exclude each other", "--at for the moment of a picture", "");
  }
  if (!options.check.empty() && options.machine.empty()) {
    throw Trouble(Exit::usage, "--check needs a check file", "a check file", "");
  }
  if (!options.shot.empty() && options.machine.empty()) {
    throw Trouble(Exit::usage, "--shot needs a machine", "a machine file", "");
  }
  std::error_code none;
  if (!root.empty() && !std::filesystem::is_directory(root, none)) {
    throw Trouble(Exit::input, "--root names no folder", "an existing folder", root, "check the path");
  }
  options.load.root = root;
  options.load.boards = installed_boards();
  for (const std::string& folder : boards) add_board_folder(folder, options.load);
  return options;
}

}  // namespace prewire::front::desk
