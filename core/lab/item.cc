#include "lab/item.h"

#include <fmt/format.h>

#include <algorithm>

#include "machine/inside.h"
#include "units/text.h"

namespace prewire {

namespace {

using Kind = ExpectationPlan::Kind;

/// What is wrong with the first address at which no chip holds a whole byte; or empty.
std::string without_memory(const Machine& machine, std::uint16_t address, std::size_t bytes) {
  for (std::size_t i = 0; i < bytes; ++i) {
    const auto at = static_cast<std::uint16_t>(address + i);
    const unsigned lines = machine.lines_at(at);
    if (lines == 0) return fmt::format("no chip can be read at ${:04X}", at);
    if (lines == 0xFF) continue;
    std::string open;
    for (int line = 7; line >= 0; --line) {
      if ((lines >> line & 1) == 0) open += fmt::format("{}D{}", open.empty() ? "" : ", ", line);
    }
    return fmt::format("no chip is on {} at ${:04X}", open, at);
  }
  return "";
}

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
      const std::string missing =
          without_memory(machine, item.address, std::max<std::size_t>(1, expectation.bytes.size()));
      if (expectation.bytes.empty()) {
        const int value = machine.peek(item.address);
        if (!missing.empty())
          return {false, fmt::format("{} holds ${}: {}", name, byte_text(machine, item.address), missing)};
        return {expectation.bounds.hold(value), fmt::format("{} holds ${:02X} ({})", name, value, value)};
      }
      bool same = missing.empty();
      std::string there;
      for (std::size_t i = 0; i < expectation.bytes.size(); ++i) {
        const auto at = static_cast<std::uint16_t>(item.address + i);
        same = same && machine.peek(at) == expectation.bytes[i];
        there += fmt::format(" ${}", byte_text(machine, at));
      }
      if (!missing.empty()) return {false, fmt::format("{} holds{}: {}", name, there, missing)};
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
