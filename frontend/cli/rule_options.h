// Rules on the command line: what there is, and which weights somebody wants.
#pragma once

#include <string>
#include <vector>

#include "prewire/rule.h"

namespace prewire::cli {

/// Those of the machine, of its chips and of the partner.
std::vector<Rule> all_rules();

/// "irq-storm=off", "undriven-read=stop" and so on.
RuleWeights parse_rules(const std::vector<std::string>& texts);

}  // namespace prewire::cli
