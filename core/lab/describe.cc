// Expectations in words.
#include <fmt/format.h>

#include "lab/plan.h"

namespace prewire {

namespace {

using Kind = ExpectationPlan::Kind;

std::string hex(std::int64_t value) {
  return value > 0xFF ? fmt::format("${:04X}", value) : fmt::format("${:02X} ({})", value, value);
}

template <class Show>
std::string range(const auto& least, const auto& most, Show show) {
  if (least && most) {
    const std::string low = show(*least), high = show(*most);
    return low == high ? low : fmt::format("{} to {}", low, high);
  }
  if (least) return fmt::format("at least {}", show(*least));
  return most ? fmt::format("at most {}", show(*most)) : "";
}

std::string what(const ExpectationPlan& plan) {
  const std::string& name = plan.subject.text;
  const auto values = [&] { return range(plan.bounds.least, plan.bounds.most, hex); };
  const auto spans = [&] {
    return range(plan.spans.least, plan.spans.most, [](const Moment& moment) { return to_string(moment); });
  };
  const auto quantity = [&](Unit unit) {
    return range(plan.bounds.least, plan.bounds.most, [&](std::int64_t value) { return format_quantity(value, unit); });
  };
  const auto many = [&](const char* one) {
    const auto& last = plan.bounds.most ? plan.bounds.most : plan.bounds.least;
    return fmt::format(
        "{} {}{}", range(plan.bounds.least, plan.bounds.most, [](std::int64_t value) { return std::to_string(value); }),
        one, last == 1 ? "" : "s");
  };
  switch (plan.kind) {
    case Kind::display: return fmt::format("{} shows \"{}\"", name, plan.shows);
    case Kind::led: return fmt::format("{} is {}", name, plan.on ? "on" : "off");
    case Kind::net: return fmt::format("{} is {}", name, to_string(plan.level));
    case Kind::memory: {
      if (plan.bytes.empty()) return fmt::format("{} holds {}", name, values());
      std::string bytes;
      for (const std::uint8_t byte : plan.bytes) bytes += fmt::format(" ${:02X}", byte);
      return fmt::format("{} holds{}", name, bytes);
    }
    case Kind::reg: return fmt::format("register {} holds {}", name, values());
    case Kind::stack: return fmt::format("{} on stack {}", many("byte"), name);
    case Kind::reached:
      if (plan.never) return fmt::format("the program gets to {}", name);
      return fmt::format("the program gets to {} {}", name, many("time"));
    case Kind::frequency: return fmt::format("frequency of {}: {}", name, quantity(Unit::millihertz));
    case Kind::pulse: return fmt::format("each {} pulse of {}: {}", to_string(plan.level), name, spans());
    case Kind::duty: {
      const auto percent = [](std::int64_t value) {
        std::string text = fmt::format("{}.{:04}", value / 10'000, value % 10'000);
        text.erase(text.find_last_not_of('0') + 1);
        if (text.back() == '.') text.pop_back();
        return text + " %";
      };
      return fmt::format("duty of {}: {}", name, range(plan.bounds.least, plan.bounds.most, percent));
    }
    case Kind::cycles: return fmt::format("from {} to {}: {}", name, plan.other.text, spans());
    case Kind::latency:
      return fmt::format("from the {} of {} to {}: {}", plan.on ? "rise" : "fall", name, plan.other.text, spans());
    case Kind::finding: return fmt::format("finding {} {}", name, plan.on ? "occurs" : "does not occur");
    case Kind::ends: return "the run ends with an undefined opcode";
  }
  return "";
}

std::string between(const ExpectationPlan& plan) {
  std::string text;
  if (plan.from) text += fmt::format(" from {}", to_string(*plan.from));
  if (plan.to) text += fmt::format(" until {}", to_string(*plan.to));
  return text;
}

std::string when(const ExpectationPlan& plan) {
  if (plan.never) return between(plan);
  std::string text;
  if (plan.within) {
    text = fmt::format(" within {}", to_string(*plan.within));
    if (plan.from) text += fmt::format(" after {}", to_string(*plan.from));
  } else if (!plan.at_place.text.empty()) {
    return fmt::format(" whenever the program is at {}{}", plan.at_place.text, between(plan));
  } else if (plan.at) {
    text = fmt::format(" at {}", to_string(*plan.at));
  } else if (plan.is_state() && plan.kind != Kind::reached) {
    text = " at the end";
  } else {
    return between(plan);
  }
  if (plan.held) text += fmt::format(" for {}", to_string(*plan.held));
  return text;
}

}  // namespace

std::string to_string(const Moment& moment) {
  if (!moment.in_cycles) return format_quantity(moment.count, Unit::picoseconds);
  return fmt::format("{} cycle{}", moment.count, moment.count == 1 ? "" : "s");
}

std::string describe(const ExpectationPlan& plan) { return (plan.never ? "never: " : "") + what(plan) + when(plan); }

}  // namespace prewire
