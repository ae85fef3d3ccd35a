// Rules on the command line: what there is, and which weights somebody wants.
#pragma once

#include <CLI/CLI.hpp>
#include <string>
#include <vector>

#include "prewire/rule.h"

namespace prewire::front::cli {

/// Those of the machine, of its chips and of the partner.
std::vector<Rule> all_rules();

/// Adds `--rule`; `parse_rules` reads the texts.
void add_rule_option(CLI::App& app, std::vector<std::string>& texts);
/// "irq-storm=off", "undriven-read=stop" and so on.
RuleWeights parse_rules(const std::vector<std::string>& texts);

/// Throws `Trouble` if one of the rules is none that `speaks`: a weight that changes nothing is a misunderstanding.
void refuse_silent(const RuleWeights& weights, bool (*speaks)(const Rule&), const std::string& what,
                   const std::string& expected, const std::string& hint);

}  // namespace prewire::front::cli
