#include "rule_options.h"

#include <fmt/format.h>

#include <algorithm>
#include <optional>

#include "shared/known_chips.h"
#include "shared/trouble.h"

namespace prewire::front::cli {

std::vector<Rule> all_rules() {
  std::vector<Rule> all(rules().begin(), rules().end());
  // Where they belong among the machine's: with those that see chips.
  const auto at = std::find_if(all.begin(), all.end(), [](const Rule& rule) { return rule.sees == Sight::chip; });
  const Registry& chips = known_chips();
  all.insert(at, chips.rules().begin(), chips.rules().end());
  return all;
}

RuleWeights parse_rules(const std::vector<std::string>& texts) {
  RuleWeights weights;
  const std::vector<Rule> known = all_rules();
  for (const std::string& text : texts) {
    const auto equals = text.find('=');
    if (equals == std::string::npos || equals == 0) {
      throw Trouble(Exit::usage, "--rule cannot be set to that", "a rule and its weight, such as irq-storm=stop", text,
                    "`prewire rules` lists them");
    }
    const std::string id = text.substr(0, equals), word = text.substr(equals + 1);
    std::vector<std::string> ids;
    for (const Rule& rule : known) ids.emplace_back(rule.id);
    if (std::find(ids.begin(), ids.end(), id) == ids.end()) {
      throw Trouble(Exit::usage, "there is no such rule", "a rule that `prewire rules` lists", id,
                    meant(id, ids, "`prewire rules` lists them"));
    }
    std::optional<Weight> weight;
    for (const Weight each : {Weight::hint, Weight::warn, Weight::stop}) {
      if (word == to_string(each)) weight = each;
    }
    if (!weight && word != "off") {
      throw Trouble(Exit::usage, fmt::format("--rule cannot give {} that weight", id), "off, hint, warn or stop", word,
                    meant(word, {"off", "hint", "warn", "stop"}));
    }
    if (!weights.emplace(id, weight).second) {
      throw Trouble(Exit::usage, fmt::format("--rule gives {} two weights", id), "each rule once", text);
    }
  }
  return weights;
}

void refuse_silent(const RuleWeights& weights, bool (*speaks)(const Rule&), const std::string& what,
                   const std::string& expected, const std::string& hint) {
  for (const Rule& rule : all_rules()) {
    if (weights.contains(rule.id) && !speaks(rule)) {
      throw Trouble(Exit::usage, what, expected, std::string(rule.id), hint);
    }
  }
}

void add_rule_option(CLI::App& app, std::vector<std::string>& texts) {
  app.add_option("--rule", texts,
                 "give a rule another weight (hint, warn, stop) or switch it off;\n"
                 "`prewire rules` lists them. May be given several times")
      ->type_name("ID=WEIGHT")
      ->allow_extra_args(false);
}

}  // namespace prewire::front::cli
