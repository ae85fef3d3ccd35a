// `prewire list`: the chips and processors that a machine file may name.
#include <fmt/format.h>

#include <memory>
#include <utility>

#include "cli/commands.h"
#include "shared/json_text.h"
#include "shared/known_chips.h"
#include "shared/trouble.h"

namespace prewire::front::cli {

namespace {

struct ListOptions {
  std::string kind, type;
  bool json = false;
};

using Types = std::vector<const ChipType*>;

Types chips(const Registry& registry) {
  Types types;
  for (const auto& type : registry.types()) types.push_back(type.get());
  return types;
}

Types processors() {
  Types types;
  for (const ChipType& type : processor_types()) types.push_back(&type);
  return types;
}

std::string value_text(const ParameterSpec& parameter, std::int64_t value) {
  if (parameter.unit == Unit::choice) return std::string(parameter.choices[static_cast<std::size_t>(value)]);
  return format_quantity(value, parameter.unit);
}

/// "1 kOhm to 10 MOhm", or the words of a choice.
std::string range_text(const ParameterSpec& parameter) {
  if (parameter.unit == Unit::choice) return fmt::format("{}", fmt::join(parameter.choices, ", "));
  if (parameter.unit == Unit::flag) return "true, false";
  return fmt::format("{} to {}", value_text(parameter, parameter.minimum), value_text(parameter, parameter.maximum));
}

std::string bus_text(const BusSpec& bus) {
  const char* kind = bus.kind == BusSpec::Kind::ram ? "RAM" : bus.kind == BusSpec::Kind::rom ? "ROM" : "registers";
  const char* access = !bus.reads ? "write only" : !bus.writes ? "read only" : "read and write";
  return fmt::format("{} of {} {}, {}; \"at\" is {}", kind, bus.size, bus.size == 1 ? "address" : "addresses", access,
                     bus.required ? "required" : "optional");
}

/// "+0 PRA or DDRA, +1 CRA, ...".
std::string registers_text(const BusSpec& bus) {
  std::string text;
  for (std::size_t i = 0; i < bus.registers.size(); ++i) {
    text += fmt::format("{}+{} ", i == 0 ? "" : ", ", i);
    for (const char c : bus.registers[i]) text += c == ' ' ? " or " : std::string(1, c);
  }
  return text;
}

void print_brief(const Types& types, Output& out) {
  for (const ChipType* type : types) out.print(fmt::format("  {:<15} {}\n", type->name, type->title));
}

void print_full(const ChipType& type, Output& out) {
  out.print(fmt::format("{}: {}\n{}\n", type.name, type.title, type.summary));
  if (type.bus) out.print(fmt::format("\nOn the bus: {}\n", bus_text(*type.bus)));
  if (type.bus && !type.bus->registers.empty()) {
    out.print(fmt::format("Registers: {}\n", registers_text(*type.bus)));
  }
  if (!type.input.empty()) out.print(fmt::format("\nA person can set it to {}\n", type.input));
  if (!type.parameters.empty()) out.print("\nParameters:\n");
  for (const ParameterSpec& parameter : type.parameters) {
    const std::string otherwise =
        parameter.required ? "required" : fmt::format("{} if not given", value_text(parameter, parameter.fallback));
    out.print(fmt::format("  {:<14} {}; {}\n{:17}{}\n", parameter.name, range_text(parameter), otherwise, "",
                          parameter.help));
  }
  out.print("\nPins:\n");
  for (const PinSpec& pin : type.pins) {
    const std::string number = pin.number == 0 ? "" : std::to_string(pin.number);
    std::string kind(to_string(pin.kind));
    if (pin.kind == PinKind::supply) kind += ", " + format_quantity(pin.microvolts, Unit::microvolts);
    if (pin.implied == Implied::bus) kind += ", on the bus";
    if (pin.implied == Implied::reset_line) kind += ", on the reset line";
    if (pin.optional) kind += ", may stay unwired";
    out.print(fmt::format("  {:>3}  {:<10} {}\n", number, pin.name, kind));
  }
  if (!type.events.empty()) out.print(fmt::format("\nEvents: {}\n", fmt::join(type.events, ", ")));
}

Json type_json(const ChipType& type) {
  Json result{{"type", type.name}, {"title", type.title}, {"summary", type.summary}};
  if (type.bus) {
    result["bus"] = {{"size", type.bus->size},
                     {"reads", type.bus->reads},
                     {"writes", type.bus->writes},
                     {"required", type.bus->required}};
    if (!type.bus->registers.empty()) result["bus"]["registers"] = type.bus->registers;
  }
  if (!type.input.empty()) result["input"] = type.input;
  Json parameters = Json::array(), pins = Json::array();
  for (const ParameterSpec& parameter : type.parameters) {
    Json entry{{"name", parameter.name}, {"help", parameter.help}, {"required", parameter.required}};
    if (!parameter.required) entry["default"] = value_text(parameter, parameter.fallback);
    if (parameter.unit == Unit::choice) {
      entry["choices"] = parameter.choices;
    } else if (parameter.unit != Unit::flag) {
      entry["minimum"] = value_text(parameter, parameter.minimum);
      entry["maximum"] = value_text(parameter, parameter.maximum);
    }
    parameters.push_back(std::move(entry));
  }
  for (const PinSpec& pin : type.pins) {
    Json entry{{"name", pin.name}, {"kind", to_string(pin.kind)}};
    if (pin.number != 0) entry["number"] = pin.number;
    pins.push_back(std::move(entry));
  }
  result["parameters"] = std::move(parameters);
  result["pins"] = std::move(pins);
  result["events"] = type.events;
  return result;
}

Json types_json(const Types& types) {
  Json list = Json::array();
  for (const ChipType* type : types) list.push_back(type_json(*type));
  return list;
}

/// Keeps the type of that name only.
void pick(Types& types, const std::string& name) {
  std::erase_if(types, [&](const ChipType* type) { return type->name != name; });
}

Exit list(ListOptions options, Output& out) {
  const Registry& registry = known_chips();
  Types processor_list = processors(), chip_list = chips(registry);
  if (!options.kind.empty() && options.kind != "chips" && options.kind != "processors") {
    if (!options.type.empty()) {
      throw Trouble(Exit::usage, "`list` has no such kind", "chips or processors", options.kind,
                    meant(options.kind, {"chips", "processors"}));
    }
    options.type = std::exchange(options.kind, "");  // `prewire list mc6821`
  }
  if (options.kind == "chips") processor_list.clear();
  if (options.kind == "processors") chip_list.clear();
  if (!options.type.empty()) {
    std::vector<std::string> names{"chips", "processors"};
    for (const Types* types : {&processor_list, &chip_list}) {
      for (const ChipType* type : *types) names.push_back(type->name);
    }
    pick(processor_list, options.type);
    pick(chip_list, options.type);
    if (processor_list.empty() && chip_list.empty()) {
      throw Trouble(Exit::usage, "`list` knows no such type", "a type that `prewire list` shows", options.type,
                    meant(options.type, names));
    }
  }
  if (options.json) {
    Json document;
    if (options.kind != "chips") document["processors"] = types_json(processor_list);
    if (options.kind != "processors") document["chips"] = types_json(chip_list);
    out.print(print_json(document));
  } else if (!options.type.empty()) {
    for (const Types* types : {&processor_list, &chip_list}) {
      for (const ChipType* type : *types) print_full(*type, out);
    }
  } else {
    if (!processor_list.empty()) out.print("Processors, for \"cpu\":\n");
    print_brief(processor_list, out);
    if (!processor_list.empty() && !chip_list.empty()) out.print("\n");
    if (!chip_list.empty()) out.print("Chips, for \"chips\":\n");
    print_brief(chip_list, out);
  }
  return Exit::ok;
}

}  // namespace

Command add_list(CLI::App& program) {
  CLI::App* app = add_command(program, "list",
                              "Lists the chips and processors that a machine file may name.\n"
                              "For one type it prints the pins, parameters and events.",
                              "  prewire list\n"
                              "  prewire list mc6821\n"
                              "  prewire list chips --json");
  const auto options = std::make_shared<ListOptions>();
  app->add_option("KIND", options->kind, "chips or processors; a TYPE may stand alone")->type_name("");
  app->add_option("TYPE", options->type, "a type such as mc6821")->type_name("");
  add_chips_option(*app);
  app->add_flag("--json", options->json, "print all of it as one JSON document");
  return {app, [options](Output& out, const Limits&) { return list(*options, out); }};
}

}  // namespace prewire::front::cli
