// Commands that make the machine run.
#include <fmt/format.h>

#include "commands.h"
#include "prewire/stimulus.h"
#include "refusal.h"
#include "shared/places.h"

namespace prewire::front::debug {

namespace {

Goal until_stopped(Session& session) {
  Goal goal;
  goal.cycles = session.machine().now() + session.most();
  return goal;
}

/// Says where it stands; a run that was cut off by nobody's wish ends a script.
void finish(Session& session, bool whole) {
  session.say_position();
  if (!whole && !session.interrupted()) {
    throw Refusal("the run has come to no end", "", "", "set a stop, or say for how long: `run 10ms`", Exit::limit);
  }
}

void run(Session& session, Words& words) {
  Goal goal = until_stopped(session);
  std::optional<Test> test;
  if (words.take_if("until")) {
    const std::string next = words.peek();
    if (const auto place = parse_place(session.machine(), next)) {
      words.take("a place");
      if (!words.empty()) throw Refusal("after a place nothing more is expected", "", words.peek());
      goal.place = place;
    } else {
      if (next.find_first_of("=<>") == std::string::npos && !next.empty()) need_place(session.machine(), next);
      test.emplace(session.machine(), words);
      goal.test = &*test;
    }
  } else if (!words.empty()) {
    const std::string text = words.take_rest("a time");
    const auto span = parse_moment(text);
    if (!span || span->count <= 0) {
      throw Refusal("it cannot run for that", "a time such as 10ms, a count such as 500cycles, or `until` and a place",
                    text);
    }
    goal.cycles = session.machine().now() + cycle_from(span->stamp(session.machine().timebase()));
    goal.limited = true;
  }
  words.end();
  finish(session, session.go(goal));
}

void step(Session& session, Words& words) {
  const int count = words.take_count(1);
  words.end();
  for (int i = 0; i < count && !session.interrupted(); ++i) {
    if (!session.step()) {
      session.say("the processor has met an undefined opcode: only a reset helps");
      break;
    }
  }
  session.say_position();
}

void cycle(Session& session, Words& words) {
  const int count = words.take_count(1);
  words.end();
  struct Log final : Observer {
    explicit Log(Session& s) : session(s) {}
    unsigned wants() const override { return kCycles; }
    void on_cycle(const BusCycle& c) override {
      session.say(fmt::format("{:>10}  ${:04X}  ${:02X}  {}{}{}", c.cycle, c.address, c.data,
                              !c.vma || c.ba ? "-"
                              : c.rw         ? "R"
                                             : "W",
                              c.fetch ? " fetch" : "", c.ba ? " BA" : ""));
    }
    Session& session;
  } log(session);
  session.machine().watch(log);
  for (int i = 0; i < count && !session.interrupted(); ++i) session.machine().step_cycle();
  session.machine().unwatch(log);
  session.say_position();
}

void over(Session& session, Words& words) {
  words.end();
  const Machine& machine = session.machine();
  const std::uint16_t pc = session.cpu().pc();
  const Outline here = outline(machine, pc);
  const bool enters = here.flow == Flow::call || here.flow == Flow::software_interrupt || here.flow == Flow::wait;
  if (!enters) {
    session.step();
    return session.say_position();
  }
  Goal goal = until_stopped(session);
  goal.place = static_cast<std::uint16_t>(pc + here.bytes);
  goal.stack = stack_pointer(machine);
  finish(session, session.go(goal));
}

void out(Session& session, Words& words) {
  words.end();
  const auto calls = session.calls();
  if (!calls) return;
  if (calls->empty()) throw Refusal("no routine has been entered");
  Goal goal = until_stopped(session);
  goal.place = calls->back().back;
  goal.stack = calls->back().outside;
  finish(session, session.go(goal));
}

void reset(Session& session, Words& words) {
  words.end();
  session.machine().reset();
  session.say("RESET is low for eight cycles");
  session.say_position();
}

void power(Session& session, Words& words) {
  words.end();
  session.machine().power_cycle();
  session.say("power has been off and on; the past begins here");
  session.say_position();
}

}  // namespace

Theme running_theme() {
  return {"Running",
          {{"run",
            "r",
            "[TIME | until PLACE | until TEST]",
            "run until something stops it",
            "TIME is such as 10ms or 500cycles. A TEST is such as `A=$35`, `[level]>=200`, `net:IRQ=low` or\n"
            "`display=125`, several with `and` between; registers and memory are looked at between two\n"
            "instructions, nets in each cycle, digits when they have been steady for as long as the eye needs.\n"
            "What a person would see meanwhile is said with its time. Ctrl-C ends the run.",
            Takes::place,
            {"until"},
            run},
           {"step",
            "s",
            "[COUNT]",
            "execute one instruction, or several",
            "An interrupt entry counts as one. A processor that waits takes one cycle. Stops do not count.",
            Takes::nothing,
            {},
            step},
           {"cycle",
            "c",
            "[COUNT]",
            "one bus cycle, or several, each shown",
            "Cycle, address, data, R or W; - where no device takes part.",
            Takes::nothing,
            {},
            cycle},
           {"over",
            "o",
            "",
            "one instruction, with all of the routine that it calls",
            "Steps over JSR, BSR and SWI, and waits for the end of WAI. Stops on the way count.",
            Takes::nothing,
            {},
            over},
           {"out", "", "", "run until the current routine or handler has returned", "", Takes::nothing, {}, out},
           {"reset",
            "",
            "",
            "hold RESET low for eight cycles, beginning now",
            "`set RESET pressed` and `set RESET released` do it by hand.",
            Takes::nothing,
            {},
            reset},
           {"power",
            "",
            "",
            "switch off and on",
            "Everything is as at the start, and the past is forgotten.",
            Takes::nothing,
            {},
            power}}};
}

}  // namespace prewire::front::debug
