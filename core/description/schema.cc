#include <fmt/format.h>

#include "cpu/cpus.h"
#include "description/schema_forms.h"
#include "description/values.h"
#include "description/wires.h"
#include "prewire/description.h"
#include "units/quantity.h"

namespace prewire {

namespace {

using namespace schema_forms;

constexpr const char* kAddressPattern = "^ *([$]|0[xX])[0-9A-Fa-f]{1,4} *(- *([$]|0[xX])[0-9A-Fa-f]{1,4} *)?$";

Json address(std::string_view description) { return pattern(description, kAddressPattern); }

Json setting(const ParameterSpec& of) {
  Json schema;
  std::string help(of.help);
  switch (of.unit) {
    case Unit::choice:
      schema["enum"] = of.choices;
      if (!of.required) schema["default"] = of.choices.at(static_cast<std::size_t>(of.fallback));
      break;
    case Unit::flag:
      schema["enum"] = {true, false, "true", "false"};
      if (!of.required) schema["default"] = of.fallback != 0;
      break;
    default: {
      // Limits of quantities with a unit cannot be said in a schema: the description gives them to the reader.
      help += fmt::format("; {} to {}", format_quantity(of.minimum, of.unit), format_quantity(of.maximum, of.unit));
      const Json written{{"type", "string"}, {"pattern", fmt::format("^{}$", quantity_pattern(of.unit))}};
      if (of.unit == Unit::count) {
        schema["anyOf"] = {{{"type", "integer"}, {"minimum", of.minimum}, {"maximum", of.maximum}}, written};
      } else if (of.unit == Unit::millionths) {
        const double scale = 1e6;
        const double least = static_cast<double>(of.minimum) / scale, most = static_cast<double>(of.maximum) / scale;
        schema["anyOf"] = {{{"type", "number"}, {"minimum", least}, {"maximum", most}}, written};
      } else {
        schema = written;
      }
      if (of.required) break;
      if (of.unit == Unit::count) {
        schema["default"] = of.fallback;
      } else {
        schema["default"] = format_quantity(of.fallback, of.unit);
      }
    }
  }
  schema["description"] = help;
  return schema;
}

/// `"type"` as one of the known words, each with its explanation, and what else the object holds by its type.
Json by_type(std::string_view description, const Json& types, std::string_view prefix) {
  if (types.empty()) return false;  // nothing fits, and lists of alternatives must not be empty
  Json words = Json::array(), branches = Json::array();
  for (const auto& [name, schema] : types.items()) {
    words.push_back({{"const", name}, {"title", schema.at("title")}, {"description", schema.at("description")}});
    branches.push_back({{"if", {{"properties", {{"type", {{"const", name}}}}}, {"required", {"type"}}}},
                        {"then", {{"$ref", fmt::format("#/$defs/{}{}", prefix, name)}}}});
  }
  return {{"type", "object"},
          {"description", description},
          {"properties", {{"type", {{"oneOf", std::move(words)}}}}},
          {"required", {"type"}},
          {"allOf", std::move(branches)}};
}

std::string pins_of(const ChipType& type) {
  std::vector<std::string> names;
  for (const PinSpec& pin : type.pins) names.emplace_back(pin.name);
  return pin_list(names);
}

Json titled(const ChipType& type, Json properties, std::vector<std::string> required) {
  const std::string description = fmt::format("{} Pins: {}.", type.summary, pins_of(type));
  Json schema = object(description, std::move(properties), std::move(required));
  schema["title"] = type.title;
  return schema;
}

Json cpu_type(const CpuType& cpu) {
  const ParameterSpec clock = clock_setting(cpu);
  Json properties{{"type", {{"const", cpu.chip.name}}}, {clock.name, setting(clock)}};
  if (cpu.internal_ram) properties["ram"] = setting(ram_setting());
  return titled(cpu.chip, std::move(properties), {"type", std::string(clock.name)});
}

Json chip_type(const ChipType& type) {
  Json properties{{"type", {{"const", type.name}}}};
  std::vector<std::string> required{"type"};
  if (type.bus) {
    properties["at"] = address("addresses of the chip itself, such as \"$4000-$4003\"");
    properties["mirror"] = address("all addresses at which the chip answers, where the decoder leaves lines out");
  }
  for (const ParameterSpec& parameter : type.parameters) {
    properties[std::string(parameter.name)] = setting(parameter);
    if (parameter.required) required.emplace_back(parameter.name);
  }
  Json schema = titled(type, std::move(properties), std::move(required));
  if (type.bus) schema["dependentRequired"] = {{"mirror", {"at"}}};
  return schema;
}

Json program() {
  const std::string file_help = "name of an image file, relative to the folder of the machine file";
  Json properties{{"file", text(file_help)},
                  {"format", setting(image_format_setting())},
                  {"at", address("address of the first byte of a binary image, such as \"$F000\"")}};
  Json entry = object("an image and its format", std::move(properties), {"file"});
  const Json binary{{"properties", {{"format", {{"const", "binary"}}}}}, {"required", {"format"}}};
  entry["if"] = binary;
  entry["then"] = {{"required", {"at"}}};
  entry["else"] = {{"properties", {{"at", false}}}};
  return list("program images, loaded before power-on", {{"anyOf", {text(file_help), std::move(entry)}}});
}

}  // namespace

std::string machine_schema(const Registry& registry) {
  Json cpus = Json::object(), chips = Json::object();
  for (const CpuType& cpu : cpu_types()) cpus[cpu.chip.name] = cpu_type(cpu);
  for (const auto& type : registry.types()) chips[type->name] = chip_type(*type);

  Json chip_names{{"pattern", kChipKeyPattern}, {"not", {{"enum", {"CPU", "RESET"}}}}};
  Json end = pattern(
      "a pin \"PIA.PA0\", a range of pins \"PIA.PA0..PA7\" or \"R0..R7.1\", a rail \"+5V\" or \"GND\", or a label that "
      "names the net; "
      "pins of the processor are \"CPU.IRQ\" and so on",
      wire_end_pattern());
  Json wire = list("pins, ranges, rails and labels that are joined", std::move(end));
  wire["minItems"] = 2;
  Json digits =
      list("names of digits, left to right", text("name of a chip that shows a digit, or a range such as \"D2..D0\""));
  digits["minItems"] = 1;
  digits["uniqueItems"] = true;

  Json properties;
  properties["$schema"] = text("where an editor finds this schema");
  properties["machine"] = text("title of the machine");
  properties["about"] = text("free text");
  properties["cpu"] = by_type("the processor", cpus, "cpu-");
  properties["bus"] = object("the system bus", {{"keeper", setting(keeper_setting())}}, {});
  properties["seed"] = setting(seed_setting());
  properties["boards"] = {{"type", "object"},
                          {"description", "boards that the machine takes in: a name for each, and that of its file"},
                          {"propertyNames", {{"pattern", kNamePattern}, {"not", {{"enum", {"CPU", "RESET"}}}}}},
                          {"additionalProperties",
                           pattern("the name of a board, such as \"trainer\" for trainer.board.json", kNamePattern)}};
  properties["chips"] = {{"type", "object"},
                         {"description", "the chips: a name for each, or a range such as \"R0..R7\", and what it is"},
                         {"propertyNames", std::move(chip_names)},
                         {"additionalProperties", {{"$ref", "#/$defs/chip"}}}};
  properties["wires"] = list("the wires", std::move(wire));
  properties["program"] = program();
  properties["display"] = {{"type", "object"},
                           {"description", "groups of digits that are read together"},
                           {"additionalProperties", std::move(digits)}};

  Json schema = object("A processor, chips and wires for Prewire.", std::move(properties), {"machine"});
  schema["anyOf"] = {{{"required", {"cpu"}}}, {{"required", {"boards"}}}};
  Json definitions{{"chip", by_type("a chip", chips, "chip-")}};
  for (auto& [name, type] : cpus.items()) definitions["cpu-" + name] = std::move(type);
  for (auto& [name, type] : chips.items()) definitions["chip-" + name] = std::move(type);
  Json top{{"$schema", "https://json-schema.org/draft/2020-12/schema"}, {"title", "Prewire machine description"}};
  top.update(schema);
  top["$defs"] = std::move(definitions);
  return top.dump(2) + "\n";
}

}  // namespace prewire
