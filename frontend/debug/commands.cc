#include "commands.h"

#include <fmt/format.h>

#include <algorithm>

#include "refusal.h"
#include "shared/nets.h"
#include "shared/places.h"
#include "shared/trouble.h"

namespace prewire::front::debug {

const std::vector<Theme>& themes() {
  static const std::vector<Theme> kThemes = {running_theme(), past_theme(),  halts_theme(),
                                             memory_theme(),  board_theme(), session_theme()};
  return kThemes;
}

const Command& find_command(const std::string& word) {
  std::vector<const Command*> begun;
  std::vector<std::string> names;
  for (const Theme& theme : themes()) {
    for (const Command& command : theme.commands) {
      if (command.name == word || (!command.shorter.empty() && command.shorter == word)) return command;
      if (command.name.starts_with(word)) begun.push_back(&command);
      names.emplace_back(command.name);
    }
  }
  if (begun.size() == 1) return *begun[0];
  if (begun.size() > 1) {
    std::vector<std::string> candidates;
    for (const Command* command : begun) candidates.emplace_back(command->name);
    throw Refusal("this could be several commands", list_of(candidates, "or"), word);
  }
  throw Refusal("there is no such command", "", word, meant(word, names, "`help` lists them"));
}

std::string help() {
  std::string text;
  for (const Theme& theme : themes()) {
    text += fmt::format("{}\n", theme.title);
    for (const Command& command : theme.commands) {
      std::string call = fmt::format("{} {}", command.name, command.usage);
      call.erase(call.find_last_not_of(' ') + 1);
      if (call.size() > 32) {
        text += fmt::format("  {}\n  {:<32}  {}\n", call, "", command.brief);
      } else {
        text += fmt::format("  {:<32}  {}\n", call, command.brief);
      }
    }
  }
  return text + "`help COMMAND` says more. The beginning of a name will do where it is the only one.\n";
}

std::string help(const Command& command) {
  std::string text = fmt::format("{} {}", command.name, command.usage);
  text.erase(text.find_last_not_of(' ') + 1);
  if (!command.shorter.empty()) text += fmt::format("   or {}", command.shorter);
  text += fmt::format("\n  {}\n", command.brief);
  std::string_view more = command.more;
  while (!more.empty()) {
    const std::size_t end = std::min(more.find('\n'), more.size());
    text += fmt::format("  {}\n", more.substr(0, end));
    more.remove_prefix(std::min(end + 1, more.size()));
  }
  return text;
}

void carry_out(Session& session, std::string_view line) {
  std::vector<std::string> words = split(line);
  if (words.empty()) return;
  const Command& command = find_command(words[0]);
  words.erase(words.begin());
  Words rest(std::move(words));
  command.run(session, rest);
}

std::vector<std::string> complete(const Machine& machine, const std::vector<std::string>& states,
                                  std::string_view line) {
  const std::size_t blank = line.find_last_of(" \t");
  const std::string_view begun = blank == std::string_view::npos ? line : line.substr(blank + 1);
  std::vector<std::string> candidates;
  const auto commands = [&] {
    for (const Theme& theme : themes()) {
      for (const Command& command : theme.commands) candidates.emplace_back(command.name);
    }
  };
  const std::size_t first = line.find_first_not_of(" \t");
  if (first == std::string_view::npos || blank == std::string_view::npos || blank < first) {
    commands();
  } else {
    const Command* command = nullptr;
    try {
      command = &find_command(std::string(line.substr(first, line.find_first_of(" \t", first) - first)));
    } catch (const Refusal&) {
      return {};
    }
    for (const std::string_view option : command->options) candidates.emplace_back(option);
    const auto add = [&](const std::vector<std::string>& names) {
      candidates.insert(candidates.end(), names.begin(), names.end());
    };
    const auto nets = [&] {
      const std::vector<ChipView> chips = machine.chips();
      for (const NetView& net : machine.nets()) {
        candidates.emplace_back(net.name);
        for (const NetView::Pin& pin : net.pins) candidates.push_back(pin_name(machine, chips, pin));
      }
    };
    switch (command->takes) {
      case Takes::nothing: break;
      case Takes::place: add(label_names(machine)); break;
      case Takes::reg:
        for (const RegisterInfo& info : machine.cpu().registers()) candidates.emplace_back(info.name);
        break;
      case Takes::net:
        add(label_names(machine));
        nets();
        break;
      case Takes::part:
        for (const ChipView& chip : machine.chips()) {
          if (!chip.type->input.empty()) candidates.emplace_back(chip.name);
        }
        candidates.emplace_back("RESET");
        break;
      case Takes::chip:
        for (const ChipView& chip : machine.chips()) candidates.emplace_back(chip.name);
        candidates.emplace_back("CPU");
        break;
      case Takes::state: add(states); break;
      case Takes::command: commands(); break;
    }
  }
  std::erase_if(candidates, [&](const std::string& candidate) { return !candidate.starts_with(begun); });
  std::sort(candidates.begin(), candidates.end());
  candidates.erase(std::unique(candidates.begin(), candidates.end()), candidates.end());
  return candidates;
}

}  // namespace prewire::front::debug
