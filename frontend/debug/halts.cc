// Commands for breakpoints and watchpoints.

#include <tuple>

#include "commands.h"
#include "refusal.h"
#include "shared/trouble.h"

namespace prewire::front::debug {

namespace {

void add(Session& session, Words& words, Halt halt) {
  if (words.take_if("if")) halt.test.emplace(session.machine(), words);
  words.end();
  if (halt.test && halt.test->of_displays()) {
    throw Refusal("a stop cannot depend on digits", "registers, memory or nets", "",
                  "`run until display=TEXT` looks at digits");
  }
  session.say(to_string(session.machine(), session.halts().add(std::move(halt))));
}

void add_break(Session& session, Words& words) {
  Halt halt;
  std::tie(halt.first, halt.last) = words.take_range(session.machine());
  add(session, words, std::move(halt));
}

void add_watch(Session& session, Words& words) {
  const std::string what = words.take("read, write, access or net");
  Halt halt;
  if (what == "net") {
    const std::string name = words.take("a net");
    const NetView net = need_net(session.machine(), name);
    halt.kind = Halt::Kind::net;
    halt.net = net.name.empty() ? name : std::string(net.name);
    if (words.take_if("rise")) {
      halt.edge = Halt::Edge::rise;
    } else if (words.take_if("fall")) {
      halt.edge = Halt::Edge::fall;
    } else if (!words.empty() && words.peek() != "if") {
      throw Refusal("there is no such edge", "rise, fall, or nothing for any change", words.peek(),
                    meant(words.peek(), {"rise", "fall"}));
    }
  } else {
    if (what == "read") {
      halt.kind = Halt::Kind::read;
    } else if (what == "write") {
      halt.kind = Halt::Kind::write;
    } else if (what == "access") {
      halt.kind = Halt::Kind::access;
    } else {
      throw Refusal("that cannot be watched", "read, write, access or net", what,
                    meant(what, {"read", "write", "access", "net"}));
    }
    std::tie(halt.first, halt.last) = words.take_range(session.machine());
  }
  add(session, words, std::move(halt));
}

void list(Session& session, Words& words) {
  words.end();
  if (session.halts().list().empty()) session.say("there are no stops");
  for (const Halt& halt : session.halts().list()) session.say(to_string(session.machine(), halt));
}

void remove(Session& session, Words& words) {
  if (words.take_if("all")) {
    words.end();
    return session.halts().clear();
  }
  if (words.empty()) throw Refusal("the number of a stop is missing", "a number that `stops` shows, or all");
  const int number = words.take_count(1);
  words.end();
  if (!session.halts().remove(number)) {
    throw Refusal("there is no such stop", "a number that `stops` shows, or all", std::to_string(number));
  }
}

}  // namespace

Theme halts_theme() {
  return {
      "Stops",
      {{"break",
        "",
        "RANGE [if TEST]",
        "stop before the instruction at an address is executed",
        "A RANGE is a place, or two of them: show, $F800-$F820. `help run` says what a TEST is.",
        Takes::place,
        {"if"},
        add_break},
       {"watch",
        "w",
        "read|write|access RANGE [if TEST] | net NET [rise|fall] [if TEST]",
        "stop after the cycle of an access, or in which a net changes",
        "The cycle may lie within an instruction: `step` then goes to its end. Registers in a TEST are those\n"
        "before the instruction.",
        Takes::net,
        {"read", "write", "access", "net", "rise", "fall", "if"},
        add_watch},
       {"stops", "", "", "list breakpoints and watchpoints, and how often they were met", "", Takes::nothing, {}, list},
       {"delete", "", "NUMBER | all", "take a stop away", "", Takes::nothing, {"all"}, remove}}};
}

}  // namespace prewire::front::debug
