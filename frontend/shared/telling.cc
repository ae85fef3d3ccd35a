#include "telling.h"

#include <fmt/format.h>

#include <cmath>

#include "places.h"
#include "trouble.h"

namespace prewire::front {

namespace {

/// "at $F867 converted+3, gauge.asm:118".
std::string where(const Machine& machine, std::uint16_t pc) {
  const std::string source = source_text(machine, pc);
  return fmt::format("at {}{}{}", place_text(machine, pc), source.empty() ? "" : ", ", source);
}

/// What the processor did, and whether that was the reason.
std::string doer(const Machine& machine, const Happening& happening) {
  bool reason = true;
  if (happening.kind == Wanted::Kind::net && !happening.steps.empty()) {
    const NetStep::Why why = happening.steps.back().why;
    reason = why == NetStep::Why::access || why == NetStep::Why::processor;
  }
  const std::string_view by = reason ? "by" : "while";
  if (happening.entry)
    return fmt::format("{} the {} entry {}", by, to_string(*happening.entry), where(machine, happening.pc));
  if (!happening.instruction.empty())
    return fmt::format("{} {} {}", by, happening.instruction, where(machine, happening.pc));
  return fmt::format("while no instruction was running, {}", where(machine, happening.pc));
}

std::string cause(const NetStep& step) {
  const std::string event = step.event.empty() ? "" : fmt::format(" ({})", step.event);
  const std::string pin = step.pin.empty() ? "" : fmt::format("{}, ", step.pin);
  switch (step.why) {
    case NetStep::Why::access:
      return step.write ? fmt::format("{}by ${:02X} written to ${:04X}{}", pin, step.data, step.address, event)
                        : fmt::format("{}by a read from ${:04X}{}", pin, step.address, event);
    case NetStep::Why::processor: return fmt::format("{}the processor's own", pin);
    case NetStep::Why::input: return fmt::format("{} moved by hand", step.chip);
    case NetStep::Why::net: return fmt::format("{}{}, because of", step.pin.empty() ? step.chip : step.pin, event);
    case NetStep::Why::time:
      return step.chip.empty() ? "of its own accord" : fmt::format("{}{} in its own time{}", pin, step.chip, event);
  }
  return "";
}

std::string_view word(Wanted::Kind kind) {
  switch (kind) {
    case Wanted::Kind::write: return "write";
    case Wanted::Kind::read: return "read";
    case Wanted::Kind::execute: return "execute";
    case Wanted::Kind::net: return "net";
  }
  return "";
}

}  // namespace

Question parse_question(const std::string& option, const std::string& text, const Machine& machine,
                        std::vector<Fault>& faults) {
  Question question{text, {}};
  constexpr std::string_view kNet = "net:";
  if (!text.starts_with(kNet)) {
    if (const auto address = parse_place(machine, text)) {
      question.wanted = {Wanted::Kind::write, *address, *address};
      return question;
    }
  }
  const std::string net = text.starts_with(kNet) ? text.substr(kNet.size()) : text;
  question.wanted = {Wanted::Kind::net, 0, 0, net};
  if (machine.net(net)) return question;
  Fault fault;
  fault.id = "unknown-question";
  fault.place.file = option;
  fault.what = fmt::format("there is no address, label or net {}", text);
  fault.expected = "an address such as $0010, a label, or a net by its label or one of its pins";
  fault.hint = meant(text, label_names(machine), machine.net_trouble(net));
  faults.push_back(std::move(fault));
  return question;
}

std::string milliseconds(const Machine& machine, Stamp when) {
  const Timebase& timebase = machine.timebase();
  if (!timebase.in_range(when)) return fmt::format("{:.3f} ms", timebase.milliseconds(when));
  const std::int64_t microseconds = (timebase.span_of_stamp(when) / 500'000 + 1) / 2;
  return fmt::format("{}.{:03} ms", microseconds / 1000, microseconds % 1000);
}

std::string state_text(const NetState& state, const NetState& other) {
  if (state.level != other.level) return std::string(to_string(state.level));
  if (state.microvolts != other.microvolts) return format_quantity(state.microvolts, Unit::microvolts);
  return fmt::format("{}, {}", to_string(state.level), to_string(state.strength));
}

std::vector<std::string> tell(const Machine& machine, const Happening& happening) {
  const std::string when = fmt::format("cycle {}, {}: ", happening.cycle, milliseconds(machine, happening.when));
  const std::string place = place_text(machine, happening.address);
  std::vector<std::string> lines;
  switch (happening.kind) {
    case Wanted::Kind::write:
      lines.push_back(when + (happening.by_hand ? fmt::format("{} set by hand to ${:02X}", place, happening.data)
                                                : fmt::format("${:02X} written to {}", happening.data, place)));
      lines.back() += fmt::format(", before it ${:02X}", happening.before);
      if (!happening.by_hand && happening.after != happening.data) {
        lines.back() += fmt::format("; now it reads ${:02X}", happening.after);
      }
      break;
    case Wanted::Kind::read: lines.push_back(fmt::format("{}${:02X} read from {}", when, happening.data, place)); break;
    case Wanted::Kind::execute:
      lines.push_back(fmt::format("{}{} executed: {}", when, place_text(machine, happening.pc), happening.instruction));
      lines.push_back(happening.registers);
      return lines;
    case Wanted::Kind::net: {
      bool first = true;
      for (const NetStep& step : happening.steps) {
        lines.push_back(fmt::format("{}{} {}, before it {}: {}", first ? when : "", step.net,
                                    state_text(step.after, step.before), state_text(step.before, step.after),
                                    cause(step)));
        first = false;
      }
      if (happening.steps.empty()) lines.push_back(when + "it changed");
      break;
    }
  }
  if (!happening.by_hand) lines.push_back(doer(machine, happening));
  return lines;
}

std::vector<std::string> tell(const Machine& machine, const Answer& answer) {
  if (answer.happening) return tell(machine, *answer.happening);
  const std::string since = answer.since == 0 ? "power-on" : fmt::format("cycle {}", answer.since);
  const Wanted& wanted = answer.question.wanted;
  switch (wanted.kind) {
    case Wanted::Kind::write: {
      const ByteUse use = machine.use(wanted.first);
      std::string line = fmt::format("never written since {}", since);
      if (use.loaded) line += fmt::format("; a program image has put ${:02X} there", machine.peek(wanted.first));
      return {line};
    }
    case Wanted::Kind::read: return {fmt::format("never read since {}", since)};
    case Wanted::Kind::execute: return {fmt::format("never executed since {}", since)};
    case Wanted::Kind::net:
      return {fmt::format("never changed since {}: {}", since, to_string(machine.net(wanted.net)->level))};
  }
  return {};
}

Json to_json(const Machine& machine, const Answer& answer) {
  const auto ms = [&](Stamp when) { return std::round(machine.timebase().milliseconds(when) * 1000) / 1000; };
  Json json{{"asked", answer.question.text}, {"kind", word(answer.question.wanted.kind)}};
  const bool net = answer.question.wanted.kind == Wanted::Kind::net;
  if (!net) json["address"] = answer.question.wanted.first;
  json["happened"] = answer.happening.has_value();
  if (!answer.happening) return json;
  const Happening& happening = *answer.happening;
  json["cycle"] = happening.cycle;
  json["ms"] = ms(happening.when);
  json["by_hand"] = happening.by_hand;
  json["pc"] = happening.pc;
  if (happening.entry) json["entry"] = to_string(*happening.entry);
  if (!happening.instruction.empty()) json["instruction"] = happening.instruction;
  const std::string source = source_text(machine, happening.pc);
  if (!source.empty()) json["source"] = source;
  json["registers"] = happening.registers;
  if (!net) {
    json["data"] = happening.data;
    json["before"] = happening.before;
    json["after"] = happening.after;
    return json;
  }
  Json steps = Json::array();
  for (const NetStep& step : happening.steps) {
    Json entry{{"net", step.net},
               {"before", to_string(step.before.level)},
               {"after", to_string(step.after.level)},
               {"volts_before", step.before.microvolts / 1e6},
               {"volts_after", step.after.microvolts / 1e6},
               {"why", to_string(step.why)}};
    if (!step.pin.empty()) entry["pin"] = step.pin;
    if (!step.chip.empty()) entry["chip"] = step.chip;
    if (!step.event.empty()) entry["event"] = step.event;
    if (step.why == NetStep::Why::access) {
      entry["access"] = step.write ? "write" : "read";
      entry["address"] = step.address;
      entry["data"] = step.data;
    }
    steps.push_back(std::move(entry));
  }
  json["steps"] = std::move(steps);
  return json;
}

}  // namespace prewire::front
