#include "condition.h"

#include <fmt/format.h>

#include <algorithm>

#include "trouble.h"

namespace prewire::front {

namespace {

constexpr const char* kForms = "display=TEXT, display:GROUP=TEXT, address=0xC012, net:PIN=LEVEL or stop";

std::string_view trim(std::string_view text) {
  const std::size_t first = text.find_first_not_of(' ');
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(' ') - first + 1);
}

bool at_address(const Machine& machine, std::uint16_t address) {
  const Cpu& cpu = machine.cpu();
  return cpu.pc() == address && cpu.cycles_into_instruction() == 0 && cpu.state() == CpuState::running;
}

}  // namespace

Condition parse_condition(const std::string& option, const std::string& text) {
  const auto refuse = [&](const std::string& expected, const std::string& hint) {
    return Trouble(Exit::usage, fmt::format("{} has no such condition", option), expected, text, hint);
  };
  Condition condition;
  condition.option = option;
  condition.text = text;
  if (text == "stop") return condition;
  const std::size_t equals = text.find('=');
  const std::string left = text.substr(0, equals);
  const std::string word = left.substr(0, left.find(':'));
  const std::vector<std::string> words = {"display", "address", "net", "stop"};
  if (std::find(words.begin(), words.end(), word) == words.end()) throw refuse(kForms, meant(word, words));
  if (equals == std::string::npos || word == "stop") throw refuse(kForms, "");
  const bool named = word.size() < left.size();
  if (named) condition.name = left.substr(word.size() + 1);
  condition.wanted = text.substr(equals + 1);
  if (word == "display") {
    if (named && condition.name.empty()) throw refuse("display:GROUP=TEXT", "name the group, or leave the colon out");
    condition.kind = Condition::Kind::display;
    condition.wanted = trim(condition.wanted);
  } else if (word == "address") {
    const auto address = parse_address(condition.wanted);
    if (named || !address) {
      throw refuse("address=0xC012 or 'address=$C012'",
                   "one to four hex digits after 0x or $; a shell takes $ for its own unless it is in single quotes");
    }
    condition.kind = Condition::Kind::address;
    condition.address = *address;
  } else {
    if (condition.name.empty()) throw refuse("net:PIN=LEVEL, such as net:PIA.CA2=high", "name the net");
    condition.kind = Condition::Kind::net;
    for (const Level level : {Level::low, Level::high, Level::floating, Level::unknown}) {
      if (to_string(level) != condition.wanted) continue;
      condition.level = level;
      return condition;
    }
    throw refuse("low, high, floating or unknown after the '='",
                 meant(condition.wanted, {"low", "high", "floating", "unknown"}));
  }
  return condition;
}

void check_condition(const Condition& condition, const Machine& machine, std::vector<Fault>& faults) {
  Fault fault;
  fault.place.file = fmt::format("{} {}", condition.option, condition.text);
  if (condition.kind == Condition::Kind::display) {
    const std::vector<std::string> groups = machine.displays();
    if (condition.name.empty() ? !groups.empty() : std::count(groups.begin(), groups.end(), condition.name) > 0) return;
    fault.id = "unknown-display";
    fault.what =
        groups.empty() ? "this machine has no digits" : fmt::format("there is no group of digits {}", condition.name);
    fault.expected = fmt::format("{}", fmt::join(groups, ", "));
    fault.hint = meant(condition.name, groups);
  } else if (condition.kind == Condition::Kind::net) {
    if (machine.net(condition.name)) return;
    fault.id = "unknown-net";
    fault.what = fmt::format("there is no net {}", condition.name);
    fault.expected = "a pin of this machine, or the label of a net";
    fault.hint = machine.net_trouble(condition.name);
  } else {
    return;
  }
  faults.push_back(std::move(fault));
}

bool shows(const Machine& machine, const Onlooker& onlooker, const std::string& group, const std::string& text,
           bool steadily) {
  const std::vector<std::string> groups = machine.displays();
  return std::any_of(groups.begin(), groups.end(), [&](const std::string& name) {
    return (group.empty() || group == name) && (!steadily || onlooker.steady(name)) &&
           trim(onlooker.text(name)) == text;
  });
}

bool holds(const Condition& condition, const Sighting& sighting) {
  switch (condition.kind) {
    case Condition::Kind::display:
      return shows(sighting.machine, sighting.onlooker, condition.name, condition.wanted, !sighting.over);
    case Condition::Kind::address: return at_address(sighting.machine, condition.address);
    case Condition::Kind::net: return sighting.machine.net(condition.name)->level == condition.level;
    case Condition::Kind::stop: return sighting.standstill.reached();
  }
  return false;
}

std::string found_instead(const Condition& condition, const Sighting& sighting) {
  switch (condition.kind) {
    case Condition::Kind::display: {
      std::string text;
      for (const std::string& group : sighting.machine.displays()) {
        if (!condition.name.empty() && condition.name != group) continue;
        text += fmt::format("{}{} shows \"{}\"", text.empty() ? "" : ", ", group, sighting.onlooker.text(group));
      }
      return text;
    }
    case Condition::Kind::address:
    case Condition::Kind::stop:
      return fmt::format("{} at ${:04X}", to_string(sighting.machine.cpu().state()), sighting.machine.cpu().pc());
    case Condition::Kind::net: {
      const NetState state = *sighting.machine.net(condition.name);
      return fmt::format("{} is {}", condition.name, to_string(state.level));
    }
  }
  return "";
}

}  // namespace prewire::front
