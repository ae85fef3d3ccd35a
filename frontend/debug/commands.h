// The commands of the console: one table, from which come help, completion and the check of the docs.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "session.h"
#include "words.h"

namespace prewire::front::debug {

/// What the words after a command name; for completion.
enum class Takes : std::uint8_t { nothing, place, reg, net, part, chip, state, command };

struct Command {
  std::string_view name;
  std::string_view shorter;  ///< may be empty
  std::string_view usage;    ///< what follows the name
  std::string_view brief;    ///< one line
  std::string_view more;     ///< the rest of its help, lines of text; may be empty
  Takes takes;
  std::vector<std::string_view> options;  ///< fixed words that may follow
  void (*run)(Session&, Words&);
};

/// One group of commands, as help shows them.
struct Theme {
  std::string_view title;
  std::vector<Command> commands;
};

// One source each.
Theme running_theme();
Theme past_theme();
Theme halts_theme();
Theme memory_theme();
Theme board_theme();
Theme session_theme();

const std::vector<Theme>& themes();

/// By its name, its short name, or a beginning that only it has. Throws `Refusal`.
const Command& find_command(const std::string& word);

/// All of them in one table.
std::string help();
std::string help(const Command& command);

/// Carries out one line; an empty one does nothing. Throws `Refusal`, `Trouble` or `InputError`.
void carry_out(Session& session, std::string_view line);

/// What the last word of a line, which may be empty, can become.
std::vector<std::string> complete(const Machine& machine, const std::vector<std::string>& states,
                                  std::string_view line);

}  // namespace prewire::front::debug
