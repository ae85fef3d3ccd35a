#include "lab/judging.h"

#include <fmt/format.h>

#include <algorithm>

#include "description/values.h"
#include "prewire/rule.h"
#include "units/text.h"

namespace prewire {

namespace {

const Rule* find_rule(std::string_view id, std::span<const Rule> among) {
  const auto place = std::find_if(among.begin(), among.end(), [&](const Rule& rule) { return rule.id == id; });
  return place == among.end() ? nullptr : &*place;
}

bool from_partner(std::string_view id) {
  const Rule* rule = find_rule(id, rules());
  return rule != nullptr && rule->needs_partner;
}

/// Null after a fault.
const Rule* rule_of(const Named& named, const MachineSpec& spec, FaultList& faults) {
  const Rule* rule = find_rule(named.text, rules());
  if (rule == nullptr) rule = find_rule(named.text, spec.chip_rules);
  if (rule == nullptr) {
    std::vector<std::string> ids;
    for (const Rule& each : rules()) ids.emplace_back(each.id);
    for (const Rule& each : spec.chip_rules) ids.emplace_back(each.id);
    faults.add("check-rule", named.place, fmt::format("there is no rule {}", in_quotes(named.text)),
               "a rule that `prewire rules` lists", in_quotes(named.text), meant(named.text, ids, ""));
  } else if (rule->sees == Sight::wiring && !rule->needs_partner) {
    faults.add("check-rule", named.place, fmt::format("{} says nothing while a machine runs", in_quotes(named.text)),
               "a rule about what happens in a run", in_quotes(named.text),
               "it is about the machine file: `prewire check` looks at that");
    rule = nullptr;
  }
  return rule;
}

}  // namespace

void set_rules(const LabCheck::Plan& plan, MachineSpec& spec, FaultList& faults) {
  for (const RulePlan& rule : plan.rules) {
    if (rule_of(rule.rule, spec, faults) != nullptr) spec.weights[rule.rule.text] = rule.weight;
  }
  for (const ExpectationPlan& expectation : plan.expectations) {
    if (expectation.kind != ExpectationPlan::Kind::finding) continue;
    const Named& named = expectation.subject;
    const Rule* rule = rule_of(named, spec, faults);
    if (rule == nullptr) continue;
    const auto weight = spec.weights.find(named.text);
    if (weight != spec.weights.end() && !weight->second) {
      faults.add("check-rule", named.place, fmt::format("{} is switched off in this check", in_quotes(named.text)),
                 "a rule that may speak", in_quotes(named.text), "give it a weight in \"rules\"");
    }
    if (rule->needs_partner && !plan.partner.value_or(true)) {
      faults.add("check-rule", named.place, fmt::format("only the lab partner says {}", in_quotes(named.text)),
                 "a rule of the machine, since \"partner\" is false", in_quotes(named.text), "leave \"partner\" out");
    }
  }
}

bool wants_partner(const LabCheck::Plan& plan) {
  if (plan.partner) return *plan.partner;
  const auto& rules = plan.rules;
  const auto& expectations = plan.expectations;
  return std::any_of(rules.begin(), rules.end(),
                     [](const RulePlan& rule) { return rule.weight && from_partner(rule.rule.text); }) ||
         std::any_of(expectations.begin(), expectations.end(), [](const ExpectationPlan& expectation) {
           return expectation.kind == ExpectationPlan::Kind::finding && from_partner(expectation.subject.text);
         });
}

}  // namespace prewire
