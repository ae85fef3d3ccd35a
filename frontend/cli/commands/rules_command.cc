// `prewire rules`: everything that Prewire finds fault with.
#include <fmt/format.h>

#include <memory>
#include <optional>

#include "cli/commands.h"
#include "cli/rule_options.h"
#include "shared/json_text.h"
#include "shared/trouble.h"

namespace prewire::front::cli {

namespace {

struct RulesOptions {
  std::string id;
  bool json = false;
};

std::string_view heading(Sight sees) {
  switch (sees) {
    case Sight::wiring: return "Before the run, in the wiring";
    case Sight::bus: return "On the bus";
    case Sight::net: return "On the nets";
    case Sight::chip: return "At the chips";
    case Sight::program: return "In the program";
  }
  return "";
}

std::string_view who(const Rule& rule) { return rule.needs_partner ? "partner" : "machine"; }

Exit print_rules(const RulesOptions& options, Output& out) {
  std::vector<Rule> rules = all_rules();
  if (!options.id.empty()) {
    std::vector<std::string> ids;
    for (const Rule& rule : rules) ids.emplace_back(rule.id);
    std::erase_if(rules, [&](const Rule& rule) { return rule.id != options.id; });
    if (rules.empty()) {
      throw Trouble(Exit::usage, "there is no such rule", "a rule that `prewire rules` lists", options.id,
                    meant(options.id, ids, "`prewire rules` lists them"));
    }
  }
  if (options.json) {
    Json list = Json::array();
    for (const Rule& rule : rules) {
      list.push_back({{"id", rule.id},
                      {"weight", to_string(rule.weight)},
                      {"sees", to_string(rule.sees)},
                      {"by", who(rule)},
                      {"title", rule.title}});
    }
    out.print(print_json(Json{{"rules", std::move(list)}}));
    return Exit::ok;
  }
  std::optional<Sight> last;
  for (const Rule& rule : rules) {
    if (options.id.empty() && last != rule.sees) {
      out.print(fmt::format("{}{}:\n", last ? "\n" : "", heading(rule.sees)));
      last = rule.sees;
    }
    out.print(fmt::format("  {:<24} {:<5} {:<8} {}\n", rule.id, to_string(rule.weight), who(rule), rule.title));
  }
  return Exit::ok;
}

}  // namespace

Command add_rules(CLI::App& program) {
  CLI::App* app =
      add_command(program, "rules",
                  "Lists the rules by which machines, wiring and programs are judged.\n"
                  "Each has an id, a weight, and says itself whether the machine or the lab partner speaks.\n"
                  "`prewire run --rule ID=WEIGHT` gives it another weight or switches it off.",
                  "  prewire rules\n"
                  "  prewire rules irq-storm\n"
                  "  prewire rules --json");
  const auto options = std::make_shared<RulesOptions>();
  app->add_option("ID", options->id, "one rule only")->type_name("");
  app->add_flag("--json", options->json, "print one JSON document");
  return {app, [options](Output& out, const Limits&) { return print_rules(*options, out); }};
}

}  // namespace prewire::front::cli
