#include "session.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <limits>

#include "prewire/text.h"
#include "refusal.h"
#include "shared/condition.h"
#include "shared/ending.h"
#include "shared/nets.h"
#include "shared/places.h"
#include "shared/standstill.h"
#include "shared/telling.h"

namespace prewire::front::debug {

namespace {

std::string upper(std::string text) {
  for (char& c : text) c = static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  return text;
}

}  // namespace

Session::Session(Machine& machine, Output& out, Cycle most, std::size_t memory)
    : machine_(machine), out_(out), most_(most), history_(machine, memory) {
  machine.heed(&ending_flag());
}

bool Session::interrupted() { return ending(); }

void Session::say(std::string_view line) {
  std::string text = printable(line);
  text.erase(text.find_last_not_of(' ') + 1);
  out_.print(text + "\n");
}

void Session::say_position() {
  const std::uint16_t pc = cpu().pc();
  const int into = cpu().cycles_into_instruction();
  std::string line =
      fmt::format("{:>10}  {:<22} {:<20}", machine_.now(), place_text(machine_, pc), disassemble(machine_, pc).text);
  if (into > 0) line += fmt::format(" {} {} into it ", into, into == 1 ? "cycle" : "cycles");
  if (cpu().state() != CpuState::running) line += fmt::format(" {} ", to_string(cpu().state()));
  line += source_text(machine_, pc);
  say(line);
  say(fmt::format("{:12}{}", "", to_string(cpu())));
}

// ---------------------------------------------------------------------------------------------------------------------
// Running

void Session::tell(const std::vector<Onlooker::Event>& events) {
  for (const Onlooker::Event& event : events) {
    if (event.kind == Onlooker::Event::Kind::input) continue;
    const std::string time = milliseconds(machine_, event.when);
    if (event.kind == Onlooker::Event::Kind::finding) {
      say(fmt::format("{:>15}  {}: {} [{}]", time, to_string(event.weight), event.text, event.subject));
      if (!event.hint.empty()) say(fmt::format("{:17}hint: {}", "", event.hint));
      continue;
    }
    std::string& told = told_[event.subject];
    if (told == event.text) continue;
    told = event.text;
    const char* quote = event.kind == Onlooker::Event::Kind::display ? "\"" : "";
    say(fmt::format("{:>15}  {} {}{}{}", time, event.subject, quote, event.text, quote));
  }
  if (!events.empty()) out_.flush();
}

bool Session::go(const Goal& goal) {
  std::vector<std::uint16_t> breaks;
  for (const Halt& halt : halts_.list()) {
    if (halt.kind != Halt::Kind::execute) continue;
    for (int at = halt.first; at <= halt.last; ++at) breaks.push_back(static_cast<std::uint16_t>(at));
  }
  if (goal.place) breaks.push_back(*goal.place);
  const auto set_all = [&](bool on) {
    for (const std::uint16_t at : breaks) machine_.set_breakpoint(at, on);
  };
  set_all(true);
  const Cycle last = std::min(goal.cycles, std::numeric_limits<Cycle>::max() / 8);
  const Cycle glance = std::max<Cycle>(1, machine_.timebase().cycles(Eye::kGlance));
  const Cycle start = machine_.now();
  Onlooker onlooker(machine_, {});
  onlooker.take_rest();  // what had been found before
  Standstill standstill(machine_);
  Watch watch(machine_, halts_, goal.test);
  const auto on_digits = [&](const std::string& group, const std::string& text) {
    return shows(machine_, onlooker, group, text, true);
  };
  std::vector<std::string> why;
  bool whole = true, arrived = false;
  Cycle next_look = machine_.now() + glance;
  while (why.empty() && !arrived) {
    const Stop stop = machine_.run_until(std::min({last, next_look, standstill.look_again()}));
    const bool looked = machine_.now() >= next_look;
    if (looked) {
      onlooker.look();
      next_look = machine_.now() + glance;
      tell(onlooker.take());
    }
    if (!goal.limited && (looked || machine_.now() >= standstill.look_again())) standstill.look();
    why = watch.reasons();
    if (watch.test_met()) why.push_back(fmt::format("{} holds", goal.test->text()));
    if (stop.reason == StopReason::breakpoint) {
      if (goal.place == stop.pc && (!goal.stack || stack_pointer(machine_) >= *goal.stack)) arrived = true;
      for (Halt& halt : halts_.list()) {
        const bool here = halt.kind == Halt::Kind::execute && stop.pc >= halt.first && stop.pc <= halt.last;
        if (!here || (halt.test && !halt.test->holds(machine_, on_digits))) continue;
        ++halt.hits;
        why.push_back(fmt::format("break {}", halt.number));
      }
    }
    if (goal.test != nullptr && looked && goal.test->of_displays() && goal.test->holds(machine_, on_digits)) {
      why.push_back(fmt::format("{} holds", goal.test->text()));
    }
    if (stop.reason == StopReason::undefined_opcode) {
      why.push_back(
          fmt::format("undefined opcode ${:02X} at {}", code_at(machine_, stop.pc)[0], place_text(machine_, stop.pc)));
    } else if (why.empty() && !arrived && standstill.reached()) {
      why.push_back("the program is at rest: nothing is due that could change that");
    }
    if (why.empty() && !arrived && machine_.now() >= last) {
      arrived = goal.limited;
      if (!arrived) {
        why.push_back(fmt::format("after {} (--max-cycles)", counted(machine_.now() - start, "cycle")));
        whole = false;
      }
    }
    if (why.empty() && !arrived && ending()) {
      why.emplace_back(front::interrupted() ? "interrupted" : "the limit of real time is reached (--max-wall)");
      whole = false;
    }
  }
  set_all(false);
  // It shows in the first cycle of the next instruction, which shall not have begun.
  if (watch.met_after()) history_.go_to(*watch.met_after());
  onlooker.look();
  tell(onlooker.take_rest());
  for (const std::string& reason : why) say(reason);
  return whole;
}

bool Session::step() {
  const Cycle before = machine_.now();
  machine_.step_instruction();
  return machine_.now() != before || ending();
}

// ---------------------------------------------------------------------------------------------------------------------
// Looking

std::optional<std::vector<CallFrame>> Session::calls() {
  CallFollower follower(machine_);
  if (!history_.show_again(follower, history_.begin(), give_up)) return std::nullopt;
  if (cpu().cycles_into_instruction() == 0) follower.catch_up();
  return follower.stack();
}

std::unique_ptr<Onlooker> Session::look() {
  // The eye remembers: let it see the last moments again.
  const Cycle here = machine_.now();
  const Cycle back = machine_.timebase().cycles(Eye::kPersistence) + 1;
  const Cycle glance = std::max<Cycle>(1, machine_.timebase().cycles(Eye::kGlance));
  history_.go_to(std::max(history_.begin(), here - back));
  auto onlooker = std::make_unique<Onlooker>(machine_, std::vector<TimedInput>{});
  while (machine_.now() < here) {
    history_.go_to(std::min(here, machine_.now() + glance));
    onlooker->look();
  }
  return onlooker;
}

Shown Session::shown() {
  return [this](const std::string& group, const std::string& text) {
    return shows(machine_, *look(), group, text, false);
  };
}

int stack_pointer(const Machine& machine) { return machine.cpu().get(need_register(machine, "S")); }

std::size_t need_register(const Machine& machine, const std::string& name) {
  const auto registers = machine.cpu().registers();
  std::vector<std::string> names;
  for (std::size_t i = 0; i < registers.size(); ++i) {
    if (registers[i].name == upper(name)) return i;
    names.emplace_back(registers[i].name);
  }
  throw Refusal("the processor has no such register", list_of(names, "or"), name);
}

NetView need_net(const Machine& machine, const std::string& name) {
  if (const auto net = find_net(machine, name)) return *net;
  if (const auto state = machine.net(name)) return {"", {}, false, *state};  // a pin that nobody wired
  throw Refusal("there is no such net", "the label of a net, or one of its pins", name, machine.net_trouble(name));
}

}  // namespace prewire::front::debug
