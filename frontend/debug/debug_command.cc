#include "debug_command.h"

#include <fmt/format.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <iostream>
#include <memory>
#include <system_error>

#include "commands.h"
#include "prewire/text.h"
#include "refusal.h"
#include "shared/caution.h"
#include "shared/ending.h"
#include "shared/inputs.h"
#include "shared/known_chips.h"
#include "shared/limits.h"
#include "shared/trouble.h"
#include "terminal.h"

namespace prewire::front::debug {

namespace {

constexpr const char* kPurpose =
    "Opens a console at a machine: run, step, go back in time, look and change.\n"
    "Commands come from the terminal, with completion by Tab; from --script; or from standard input. There they are\n"
    "repeated in the output, and the first one that cannot be carried out ends the session. `help` lists them.\n"
    "It is no safety check of real wiring: supply off before you rewire a board.";
constexpr const char* kExamples =
    "  prewire debug gauge.json\n"
    "  prewire debug gauge.json --script evening.dbg\n"
    "  echo 'run until display=125' | prewire debug gauge.json --set FLOAT=2.5V";
constexpr const char* kDebugExitHelp =
    "Exit status:\n"
    "  0  all is well           3  bad input, or a command of a script that cannot be carried out\n"
    "  1  internal error        5  an `expect` of a script does not hold\n"
    "  2  bad usage             6  a run of a script comes to no end, or the memory is used up\n"
    "                         130  interrupted by Ctrl-C";
constexpr const char* kPrompt = "prewire> ";

struct DebugOptions {
  std::string machine;
  LoadOptions load;
  std::string script;
  std::vector<std::string> sets;
  std::string max_cycles, history;
};

/// Lines of a script; an empty name stands for standard input.
class Script {
 public:
  explicit Script(const std::string& name) : name_(name.empty() ? "standard input" : name) {
    if (name.empty()) return;
    std::error_code error;
    const std::filesystem::file_status status = std::filesystem::status(name, error);
    const bool no_file = std::filesystem::exists(status) && !std::filesystem::is_regular_file(status);
    if (!no_file) file_.open(name);
    if (no_file || !file_) {
      throw Trouble(Exit::input, "the script cannot be read", "a file of commands, one in a line", name,
                    no_file ? "it is no file; commands may come on standard input, too" : "check the path");
    }
  }
  std::optional<std::string> line() {
    std::string line;
    std::istream& in = file_.is_open() ? file_ : std::cin;
    if (!std::getline(in, line)) {
      if (in.bad()) throw Trouble(Exit::input, fmt::format("{} cannot be read to its end", name_));
      return std::nullopt;
    }
    ++number_;
    return line;
  }
  std::string place() const { return fmt::format("{}:{}", name_, number_); }

 private:
  const std::string name_;
  std::ifstream file_;
  int number_ = 0;
};

/// A message as the command line's, less its own prefix.
std::string bare(std::string text) {
  constexpr std::string_view kPrefix = "prewire: ";
  if (text.starts_with(kPrefix)) text.erase(0, kPrefix.size());
  while (text.ends_with('\n')) text.pop_back();
  return text;
}

/// One line. Meanwhile a signal ends the command; at other times, waiting for the next line, the program.
void carry_out(Session& session, std::string_view line, Picoseconds wall) {
  struct Limited {
    explicit Limited(Picoseconds span) { limit_wall(span); }
    ~Limited() { limit_wall(0); }
  };
  const MindsEnding minds;
  const Limited limited(wall);
  carry_out(session, line);
  if (wall_over()) throw Refusal(wall_text(wall), "", "", "", Exit::limit);
}

void run_script(Session& session, Script& script, Picoseconds wall, Output& out) {
  while (!session.over()) {
    const auto line = script.line();
    if (!line) return;
    const std::size_t first = line->find_first_not_of(" \t\r");
    if (first == std::string::npos) continue;
    out.print(fmt::format("{}{}\n", kPrompt, printable(*line)));
    out.flush();
    try {
      carry_out(session, *line, wall);
    } catch (const Refusal& refusal) {
      out.flush();
      throw Trouble(refusal.exit, fmt::format("{}: {}", script.place(), refusal.what), refusal.expected, refusal.found,
                    refusal.hint);
    } catch (const Trouble& trouble) {
      if (trouble.exit() == Exit::broken_pipe) throw;
      out.flush();
      throw trouble.at(script.place(), Exit::input);
    }
    out.flush();
    if (session.interrupted()) throw Trouble(Exit::interrupted, script.place() + ": interrupted");
  }
}

void run_terminal(Session& session, Picoseconds wall, Output& out) {
  Terminal terminal(kPrompt, [&](std::string_view line) {
    std::vector<std::string> states;
    for (const auto& [name, state] : session.states()) states.push_back(name);
    return complete(session.machine(), states, line);
  });
  session.say("`help` lists the commands, Tab completes, `quit` or Ctrl-D leaves");
  session.say_position();
  out.flush();
  while (!session.over()) {
    const auto line = terminal.line();
    if (!line) return;
    forget_ending();
    try {
      carry_out(session, *line, wall);
    } catch (const Refusal& refusal) {
      out.flush();
      message(bare(Trouble(refusal.exit, refusal.what, refusal.expected, refusal.found, refusal.hint).what()) + "\n");
    } catch (const Trouble& trouble) {
      if (trouble.exit() == Exit::broken_pipe) throw;
      out.flush();
      message(bare(trouble.what()) + "\n");
    }
    out.flush();
  }
}

Exit debug(const DebugOptions& options, Limits limits, Output& out) {
  std::size_t history = History::kUsualBudget;
  if (!options.history.empty()) history = parse_size("--history", options.history);
  if (!options.max_cycles.empty()) limits.cycles = parse_cycles("--max-cycles", options.max_cycles);
  std::vector<Stimulus> stimuli;
  for (const std::string& set : options.sets) stimuli.push_back(parse_set(set));
  const bool terminal = options.script.empty() && isatty(STDIN_FILENO) != 0 && isatty(STDOUT_FILENO) != 0;
  std::optional<Script> script;
  if (!terminal) script.emplace(options.script);

  limit_wall(limits.wall);
  const Registry& registry = known_chips();
  Machine machine = Machine::from_file(options.machine, registry, options.load);
  Session session(machine, out, limits.cycles, history);
  std::vector<Fault> faults;
  schedule(machine, timed(stimuli, machine.timebase()), 0, faults);
  if (!faults.empty()) throw InputError(std::move(faults));
  limit_wall(0);
  session.say(fmt::format("{} ({}, {})", machine.title(), std::as_const(machine).cpu().type(),
                          format_quantity(machine.timebase().millihertz(), Unit::millihertz)));
  if (script) {
    run_script(session, *script, limits.wall, out);
  } else {
    run_terminal(session, limits.wall, out);
  }
  session.say(kCaution);
  return Exit::ok;
}

}  // namespace

front::Command add_debug(CLI::App& program) {
  CLI::App* app = add_command(program, "debug", kPurpose, kExamples);
  app->footer(kDebugExitHelp);
  const auto options = std::make_shared<DebugOptions>();
  app->add_option("MACHINE", options->machine, "machine file (JSON; `prewire schema` describes it)")
      ->type_name("")
      ->required();
  app->add_option("--script", options->script, "commands, one in a line; # begins a comment")->type_name("FILE");
  app->add_option("--set", options->sets,
                  "do to a part what a person would, at the start or at a moment:\n"
                  "FLOAT=2.5V@10ms, RESET=pressed; may be given several times")
      ->type_name("NAME=VALUE[@MOMENT]")
      ->allow_extra_args(false);
  add_root_option(*app, options->load);
  app->add_flag("--run-faulty", options->load.run_faulty, "open it although the wiring has faults of weight stop");
  app->add_option("--history", options->history, "memory for the past; 64 MiB if not given")->type_name("SIZE");
  app->add_option("--max-cycles", options->max_cycles,
                  "end a run that nothing stops after so many cycles; 1000000000\nif not given")
      ->type_name("COUNT")
      ->group(kLimitGroup);
  app->get_option("--max-wall")->description("real time for a command of the console; 60 s if not given");
  return {app, [options](Output& out, const Limits& limits) { return debug(*options, limits, out); }, true};
}

}  // namespace prewire::front::debug
