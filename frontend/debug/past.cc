// Commands that go back in time, or look there.
#include <fmt/format.h>

#include <tuple>

#include "commands.h"
#include "prewire/stimulus.h"
#include "refusal.h"
#include "shared/places.h"
#include "shared/telling.h"
#include "shared/trouble.h"

namespace prewire::front::debug {

namespace {

const std::vector<std::string> kWays = {"cycle", "write", "read", "enter", "net", "to"};

[[noreturn]] void refuse_beginning(Session& session) {
  throw Refusal(fmt::format("the past begins at cycle {}", session.history().begin()));
}

void back_by(Session& session, Words& words, bool (History::*step)()) {
  const int count = words.take_count(1);
  words.end();
  for (int i = 0; i < count && !session.interrupted(); ++i) {
    if (!(session.history().*step)()) {
      if (i == 0) refuse_beginning(session);
      session.say(fmt::format("the past begins here"));
      break;
    }
  }
  session.say_position();
}

void back_to_happening(Session& session, const Wanted& wanted) {
  const auto happening = session.history().back_to(wanted, Session::give_up);
  if (!happening) {
    if (session.interrupted()) return session.say("interrupted");
    const Answer answer{{"", wanted}, std::nullopt, session.history().begin()};
    throw Refusal(tell(session.machine(), answer)[0]);
  }
  for (const std::string& line : tell(session.machine(), *happening)) session.say(line);
  session.say("the machine stands before that cycle");
  session.say_position();
}

Wanted take_wanted(Session& session, Words& words, Wanted::Kind kind) {
  Wanted wanted;
  wanted.kind = kind;
  if (kind == Wanted::Kind::net) {
    wanted.net = words.take("a net");
    need_net(session.machine(), wanted.net);
  } else {
    std::tie(wanted.first, wanted.last) = words.take_range(session.machine());
  }
  words.end();
  return wanted;
}

void back_to_moment(Session& session, Words& words) {
  const std::string text = words.take_rest("a cycle or a time");
  auto moment = parse_moment(text);
  if (!moment) moment = parse_moment(text + "cycles");
  if (!moment)
    throw Refusal("there is no such moment", "a cycle such as 5000, or a time since power-on such as 10ms", text);
  const Cycle cycle = moment->stamp(session.machine().timebase()) / 4;
  const History& history = session.history();
  if (!session.history().go_to(cycle)) {
    throw Refusal("that moment is not known", fmt::format("a cycle from {} to {}", history.begin(), history.end()),
                  fmt::format("cycle {}", cycle));
  }
  session.say_position();
}

void back(Session& session, Words& words) {
  const std::string text = words.peek();
  if (words.take_if("cycle")) return back_by(session, words, &History::back_cycle);
  if (words.take_if("to")) return back_to_moment(session, words);
  for (const auto& [word, kind] : {std::pair("write", Wanted::Kind::write), std::pair("read", Wanted::Kind::read),
                                   std::pair("enter", Wanted::Kind::execute), std::pair("net", Wanted::Kind::net)}) {
    if (!words.take_if(word)) continue;
    return back_to_happening(session, take_wanted(session, words, kind));
  }
  if (!text.empty() && text.find_first_not_of("0123456789") != std::string::npos) {
    throw Refusal("there is no such way back", "a count of instructions, cycle, write, read, enter, net or to", text,
                  meant(text, kWays));
  }
  back_by(session, words, &History::back_instruction);
}

void why(Session& session, Words& words) {
  const std::string text = words.take("an address, a label or a net");
  words.end();
  std::vector<Fault> faults;
  const Question question = parse_question("", text, session.machine(), faults);
  if (!faults.empty()) throw Refusal(faults[0].what, faults[0].expected, "", faults[0].hint);
  const Answer answer{question, session.history().last(question.wanted, Session::give_up), session.history().begin()};
  if (session.interrupted()) return session.say("interrupted");
  for (const std::string& line : tell(session.machine(), answer)) session.say(line);
}

void way(Session& session, Words& words) {
  const int count = words.take_count(10);
  words.end();
  for (const PastInstruction& past : session.machine().way_here(static_cast<std::size_t>(count))) {
    session.say(fmt::format("{:>10}  {:<22} {:<20} {}", past.cycle, place_text(session.machine(), past.pc), past.text,
                            past.registers));
  }
}

void past(Session& session, Words& words) {
  words.end();
  const History& history = session.history();
  session.say(
      fmt::format("known from cycle {} to {}, now {}", history.begin(), history.end(), session.machine().now()));
  session.say(fmt::format("{} kept, {}", counted(history.states(), "state"), counted(history.bytes(), "byte")));
}

}  // namespace

Theme past_theme() {
  return {"Time travel",
          {{"back",
            "b",
            "[COUNT] | cycle [COUNT] | write RANGE | read RANGE | enter PLACE | net NET | to MOMENT",
            "go back in time",
            "By instructions or bus cycles; to before the last write or read of an address, the last entry of a\n"
            "routine, or the last change of a net; or to a moment, which may also lie ahead if it is known. What was\n"
            "done by hand on the way is undone, and done again on the way forward. Something else done by hand makes\n"
            "another future.",
            Takes::net,
            {"cycle", "write", "read", "enter", "net", "to"},
            back},
           {"why",
            "",
            "PLACE | NET",
            "say what last wrote to an address or changed a net",
            "`net:NAME` is a net although an address or label has that name.",
            Takes::net,
            {},
            why},
           {"way",
            "",
            "[COUNT]",
            "the last instructions before now, with the registers before each",
            "",
            Takes::nothing,
            {},
            way},
           {"past", "", "", "how far back it can go", "", Takes::nothing, {}, past}}};
}

}  // namespace prewire::front::debug
