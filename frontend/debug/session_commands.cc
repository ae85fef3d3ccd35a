// Commands about the session itself, and the states that it keeps.
#include <fmt/format.h>

#include "commands.h"
#include "refusal.h"
#include "shared/trouble.h"

namespace prewire::front::debug {

namespace {

void save(Session& session, Words& words) {
  const std::string name = words.take("a name");
  words.end();
  session.states()[name] = {session.machine().now(), session.machine().save()};
  session.say(fmt::format("cycle {} kept as {}", session.machine().now(), name));
}

void load(Session& session, Words& words) {
  const std::string name = words.take("a name");
  words.end();
  const auto state = session.states().find(name);
  if (state == session.states().end()) {
    std::vector<std::string> names;
    for (const auto& [known, bytes] : session.states()) names.push_back(known);
    throw Refusal("no state was kept under that name", list_of(names, "or"), name, meant(name, names));
  }
  session.machine().restore(state->second.snapshot);
  session.say("the past begins here");
  session.say_position();
}

void states(Session& session, Words& words) {
  words.end();
  if (session.states().empty()) session.say("no state has been kept");
  for (const auto& [name, state] : session.states()) session.say(fmt::format("{:<12} cycle {}", name, state.cycle));
}

void expect(Session& session, Words& words) {
  const Test test(session.machine(), words);
  if (test.holds(session.machine(), session.shown())) return;
  throw Refusal("an expectation is not met", test.text(), test.found_instead(session.machine(), session.shown()), "",
                Exit::expectation);
}

void explain(Session& session, Words& words) {
  std::string text = help();
  if (!words.empty()) text = help(find_command(words.take("a command")));
  words.end();
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t end = text.find('\n', at);
    session.say(std::string_view(text).substr(at, end - at));
    at = end + 1;
  }
}

void quit(Session& session, Words& words) {
  words.end();
  session.quit();
}

}  // namespace

Theme session_theme() {
  return {"Session",
          {{"save", "", "NAME", "keep the state of the machine in memory", "", Takes::state, {}, save},
           {"load",
            "",
            "NAME",
            "go on from a state that was kept",
            "The past is forgotten. Stops stay.",
            Takes::state,
            {},
            load},
           {"states", "", "", "list the states that were kept", "", Takes::nothing, {}, states},
           {"expect",
            "",
            "TEST",
            "end a script with status 5 unless this holds",
            "`help run` says what a TEST is.",
            Takes::place,
            {},
            expect},
           {"help", "?", "[COMMAND]", "explain one command, or list all", "", Takes::command, {}, explain},
           {"quit", "q", "", "leave", "", Takes::nothing, {}, quit}}};
}

}  // namespace prewire::front::debug
