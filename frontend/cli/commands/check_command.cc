// `prewire check`: what is wrong with a machine before it runs.
#include <fmt/format.h>

#include <algorithm>
#include <memory>
#include <optional>

#include "address_map.h"
#include "cli/commands.h"
#include "cli/rule_options.h"
#include "prewire/cases.h"
#include "prewire/partner.h"
#include "prewire/text.h"
#include "shared/caution.h"
#include "shared/json_text.h"
#include "shared/known_chips.h"
#include "shared/trouble.h"

namespace prewire::front::cli {

namespace {

constexpr const char* kCheckPurpose =
    "Looks at machine files, their images, their wiring and their programs, and says what is wrong.\n"
    "Faults of weight stop make the exit status 3. Those of weight warn are almost surely mistakes; those of weight\n"
    "hint are legal, and often not intended. It is no safety check of real wiring: supply off before you rewire a "
    "board.";

constexpr const char* kCheckExitHelp =
    "Exit status:\n"
    "  0  all is well           2  bad usage\n"
    "  1  internal error        3  bad input: a fault of weight stop, with --strict one of weight warn, too";

struct CheckOptions {
  std::vector<std::string> machines;
  LoadOptions load;
  std::vector<std::string> rules;
  bool strict = false, map = false, json = false;
};

struct MachineVerdict {
  std::string file;
  std::vector<Fault> faults;
  std::optional<std::vector<MapEntry>> map;

  std::size_t count(Weight weight) const {
    std::size_t number = 0;
    for (const Fault& fault : faults) number += fault.weight == weight ? 1 : 0;
    return number;
  }
};

/// Where the source reserves that byte.
std::optional<SourcePlace> space_at(const Machine& machine, std::uint16_t address) {
  for (const Image* image : machine.programs()) {
    if (image->source == nullptr) continue;
    for (const SourceMap::Line& line : image->source->lines) {
      if (line.kind == LineKind::space && line.address == address) return SourcePlace{image->source.get(), &line};
    }
  }
  return std::nullopt;
}

/// What board, source and program say together, at its place in the source.
void add_program(MachineVerdict& verdict, Machine& machine) {
  look_before_run(machine);
  const std::vector<Finding>& findings = machine.findings();
  for (const Case& told : gather_cases(findings).cases) {
    const Finding& finding = findings[told.finding];
    Fault fault{.id = finding.id, .weight = finding.weight, .what = finding.message, .hint = finding.hint};
    if (told.subjects > 1) fault.what += fmt::format(" ({})", times_text(told));
    fault.place.file = verdict.file;
    if (const auto source = finding.source.empty() ? space_at(machine, finding.pc) : machine.source_at(finding.pc)) {
      fault.place.file = source->map->files[static_cast<std::size_t>(source->line->file)];
      fault.place.line = source->line->number;
    }
    verdict.faults.push_back(std::move(fault));
  }
  std::stable_sort(verdict.faults.begin(), verdict.faults.end(),
                   [](const Fault& a, const Fault& b) { return b.weight < a.weight; });
}

MachineVerdict look_at(const std::string& file, const CheckOptions& options, const Registry& registry) {
  MachineVerdict verdict{file, {}, {}};
  try {
    verdict.faults = Machine::check_file(file, registry, options.load);
    const bool sound = verdict.count(Weight::stop) == 0;
    if (!sound && !options.map) return verdict;
    LoadOptions load = options.load;
    load.run_faulty = true;  // a map helps to find what overlaps
    Machine machine = Machine::from_file(file, registry, load);
    if (options.map) verdict.map = address_map(machine);
    if (sound) add_program(verdict, machine);
  } catch (const InputError& error) {
    if (verdict.faults.empty()) verdict.faults = error.faults();
  }
  return verdict;
}

std::string numbered(std::size_t count, const char* one, const char* many) {
  return fmt::format("{} {}", count, count == 1 ? one : many);
}

std::string map_text(const std::vector<MapEntry>& map) {
  std::string text;
  for (const MapEntry& entry : map) {
    std::string who = entry.chips.empty() ? "nobody" : fmt::format("{}", fmt::join(entry.chips, " and "));
    if (!entry.what.empty()) who += ", " + entry.what;
    if (entry.lines == 0x0F || entry.lines == 0xF0) {
      who += fmt::format(", half of a byte: {} only", entry.lines == 0x0F ? "D0 to D3" : "D4 to D7");
    }
    if (entry.copies() > 1)
      who += fmt::format(": {}, {} times", numbered(entry.size, "address", "addresses"), entry.copies());
    text += fmt::format("${:04X}-${:04X}  {}\n", entry.first, entry.last, printable(who));
    for (const auto& [chip, gates] : entry.by) {
      text += fmt::format("             {} by {}\n", printable(chip),
                          gates.empty() ? "its wires alone" : printable(fmt::format("{}", fmt::join(gates, ", "))));
    }
  }
  return text;
}

void print_text(const MachineVerdict& verdict, bool map, Output& out) {
  for (const Fault& fault : verdict.faults) out.print(to_string(fault));
  const std::size_t stops = verdict.count(Weight::stop), warns = verdict.count(Weight::warn);
  const std::string file = printable(verdict.file);
  if (verdict.faults.empty()) {
    out.print(fmt::format("{}: nothing to say\n", file));
  } else {
    out.print(fmt::format("{}: {} stop, {} warn, {} hint\n", file, stops, warns, verdict.count(Weight::hint)));
  }
  if (verdict.map) out.print(map_text(*verdict.map));
  if (map && !verdict.map) out.print(fmt::format("{}: no address map before these faults are mended\n", file));
}

Json verdict_json(const MachineVerdict& verdict, bool ok) {
  Json faults = Json::array();
  for (const Fault& fault : verdict.faults) {
    Json entry{{"id", fault.id}, {"weight", to_string(fault.weight)}, {"file", fault.place.file}};
    if (fault.place.line > 0) entry["line"] = fault.place.line;
    if (fault.place.column > 0) entry["column"] = fault.place.column;
    if (!fault.place.pointer.empty()) entry["pointer"] = fault.place.pointer;
    entry["what"] = fault.what;
    if (!fault.expected.empty()) entry["expected"] = fault.expected;
    if (!fault.found.empty()) entry["found"] = fault.found;
    if (!fault.hint.empty()) entry["hint"] = fault.hint;
    faults.push_back(std::move(entry));
  }
  Json result{{"file", verdict.file}, {"ok", ok}, {"faults", std::move(faults)}};
  if (!verdict.map) return result;
  Json map = Json::array();
  for (const MapEntry& entry : *verdict.map) {
    Json line{{"first", entry.first}, {"last", entry.last}, {"chips", entry.chips}};
    if (entry.size > 0) line["size"] = entry.size;
    if (entry.lines == 0x0F || entry.lines == 0xF0) line["lines"] = entry.lines == 0x0F ? "D0-D3" : "D4-D7";
    for (const auto& [chip, gates] : entry.by) line["selected_by"][chip] = gates;
    map.push_back(std::move(line));
  }
  result["map"] = std::move(map);
  return result;
}

Exit check(CheckOptions options, Output& out) {
  options.load.weights = parse_rules(options.rules);
  refuse_silent(
      options.load.weights,
      [](const Rule& rule) {
        const auto before = rules_before_run();
        return (rule.sees == Sight::wiring && !rule.needs_partner) ||
               std::find(before.begin(), before.end(), rule.id) != before.end();
      },
      "--rule names a rule that only speaks in a run", "a rule that looks at wiring and program before the run",
      "`prewire run` and lab checks take it");
  const Registry& registry = known_chips();
  Json document{{"machines", Json::array()}};
  bool all_ok = true;
  for (const std::string& file : options.machines) {
    const MachineVerdict verdict = look_at(file, options, registry);
    const bool ok = verdict.count(Weight::stop) == 0 && (!options.strict || verdict.count(Weight::warn) == 0);
    all_ok = all_ok && ok;
    if (options.json) {
      document["machines"].push_back(verdict_json(verdict, ok));
    } else {
      print_text(verdict, options.map, out);
      out.flush();
    }
  }
  if (options.json) out.print(print_json(document));
  if (!options.json && all_ok) out.print(fmt::format("{}\n", kCaution));
  return all_ok ? Exit::ok : Exit::input;
}

}  // namespace

Command add_check(CLI::App& program) {
  CLI::App* app = add_command(program, "check", kCheckPurpose,
                              "  prewire check gauge.json\n"
                              "  prewire check --strict --map lab1.json lab2.json");
  app->footer(kCheckExitHelp);
  const auto options = std::make_shared<CheckOptions>();
  app->add_option("MACHINE", options->machines, "machine files")->type_name("")->required();
  app->add_flag("--strict", options->strict, "make the exit status 3 for faults of weight warn, too");
  app->add_flag("--map", options->map, "print which chip answers at which addresses");
  app->add_flag("--json", options->json, "print one JSON document");
  add_root_option(*app, options->load);
  add_rule_option(*app, options->rules);
  return {app, [options](Output& out, const Limits&) { return check(*options, out); }};
}

}  // namespace prewire::front::cli
