#include "lab/item.h"

#include <fmt/format.h>

#include "machine/inside.h"
#include "units/text.h"

namespace prewire {

namespace {

using Kind = ExpectationPlan::Kind;

}  // namespace

Look look(const Item& item, const Machine& machine) {
  const ExpectationPlan& expectation = *item.plan;
  const std::string& name = expectation.subject.text;
  switch (expectation.kind) {
    case Kind::display:
      return {trim(item.sight) == expectation.shows, fmt::format("{} shows \"{}\"", name, trim(item.sight))};
    case Kind::led: return {(item.sight == "on") == expectation.on, fmt::format("{} is {}", name, item.sight)};
    case Kind::net: {
      const Level level = Inside::of(machine).board.state(item.net).level;
      return {level == expectation.level, fmt::format("{} is {}", name, to_string(level))};
    }
    case Kind::memory: {
      if (expectation.bytes.empty()) {
        const int value = machine.peek(item.address);
        return {expectation.bounds.hold(value), fmt::format("{} holds ${:02X} ({})", name, value, value)};
      }
      bool same = true;
      std::string there;
      for (std::size_t i = 0; i < expectation.bytes.size(); ++i) {
        const std::uint8_t value = machine.peek(static_cast<std::uint16_t>(item.address + i));
        same = same && value == expectation.bytes[i];
        there += fmt::format(" ${:02X}", value);
      }
      return {same, fmt::format("{} holds{}", name, there)};
    }
    case Kind::reg: {
      const unsigned value = machine.cpu().get(item.reg);
      const bool byte = machine.cpu().registers()[item.reg].bits == 8;
      return {expectation.bounds.hold(value), byte ? fmt::format("register {} holds ${:02X} ({})", name, value, value)
                                                   : fmt::format("register {} holds ${:04X}", name, value)};
    }
    case Kind::stack: {
      const std::uint16_t pointer = machine.cpu().get(item.reg);
      // Below where it was empty; a pointer above it wraps to a large number, which is as wrong as it looks.
      const auto depth = static_cast<std::uint16_t>(item.other - pointer);
      return {expectation.bounds.hold(depth), fmt::format("{} ({} is ${:04X})", counted(depth, "byte"), name, pointer)};
    }
    default: return {true, fmt::format("the program is at {}", name)};  // reached
  }
}

}  // namespace prewire
