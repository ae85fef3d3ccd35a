// Rules: what Prewire finds fault with, each with an id and a weight.
#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "prewire/error.h"

namespace prewire {

/// What a rule looks at.
enum class Sight : std::uint8_t {
  wiring,   ///< the description, before anything runs
  bus,      ///< bus cycles
  net,      ///< levels and voltages on the board
  chip,     ///< what a chip is asked to do
  program,  ///< instructions, stack, interrupts
};

std::string_view to_string(Sight sight);

/// Something that Prewire can find fault with. docs/lab-partner.md has a paragraph on each.
struct Rule {
  std::string_view id;  ///< stable, lower case with hyphens: the id of its faults or findings
  Weight weight = Weight::warn;
  Sight sees = Sight::program;
  std::string_view title;      ///< one line: what is wrong
  bool needs_partner = false;  ///< said only while a `Partner` watches; else the machine says it by itself
};

/// The rules of the machine itself and of the partner, grouped by what they look at. Chips bring rules of their own:
/// `Registry::rules` (prewire/chip.h).
std::span<const Rule> rules();

/// Weights that somebody gave to rules, by id; empty: the rule is off.
using RuleWeights = std::map<std::string, std::optional<Weight>, std::less<>>;

}  // namespace prewire
