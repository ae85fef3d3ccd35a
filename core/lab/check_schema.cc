// The JSON Schema of check files.
#include <fmt/format.h>

#include "description/schema_forms.h"
#include "description/values.h"
#include "prewire/lab_check.h"
#include "units/quantity.h"

namespace prewire {

namespace {

using namespace schema_forms;

Json quantity(std::string_view description, Unit unit) {
  return pattern(description, fmt::format("^{}$", quantity_pattern(unit)));
}

Json moment(std::string_view description) {
  return pattern(description, fmt::format("^({}|[0-9]+ *cycles?)$", quantity_pattern(Unit::picoseconds)));
}

Json ref(std::string_view name) { return {{"$ref", fmt::format("#/$defs/{}", name)}}; }

Json words(std::string_view description, std::vector<std::string> list) {
  return {{"enum", std::move(list)}, {"description", description}};
}

Json stimulus() {
  const Json at = moment("when, from power-on; at the start if it is not given");
  const Json about = text("free text");
  const auto one = [&](std::string_view description, Json properties, std::vector<std::string> required) {
    properties["at"] = at;
    properties["about"] = about;
    return object(description, std::move(properties), std::move(required));
  };
  const Json level = {
      {"description", "a voltage, or a part of the whole turn"},
      {"anyOf", {quantity("volts", Unit::microvolts), quantity("a fraction", Unit::millionths), {{"type", "number"}}}}};
  const Json steps{
      {"anyOf", {{{"type", "integer"}, {"minimum", 1}, {"maximum", 10'000}}, pattern("a number", "^[0-9]+$")}},
      {"description", "how often the part is set"}};
  const Json bounce = quantity("how long the contact bounces in this check", Unit::picoseconds);
  const Json seed = ref("seed");
  Json stimuli = Json::array();
  stimuli.push_back(one("a part is set as a person would",
                        {{"set", text("the part")}, {"to", text("the value, such as \"2.5 V\"")}, {"bounce", bounce}},
                        {"set", "to"}));
  stimuli.push_back(
      one("a button is pressed",
          {{"press", text("the button")}, {"held", moment("for how long; else it stays pressed")}, {"bounce", bounce}},
          {"press"}));
  stimuli.push_back(one(
      "a part is turned evenly",
      {{"ramp", text("the part")}, {"from", level}, {"to", level}, {"over", moment("for how long")}, {"steps", steps}},
      {"ramp", "from", "to", "over", "steps"}));
  stimuli.push_back(one("a part trembles",
                        {{"noise", text("the part")},
                         {"around", level},
                         {"by", level},
                         {"over", moment("for how long")},
                         {"steps", steps},
                         {"seed", seed}},
                        {"noise", "around", "by", "over", "steps"}));
  stimuli.push_back(one("the reset line is held low", {{"reset", moment("for how long")}}, {"reset"}));
  stimuli.push_back(
      one("the supply is switched off and on", {{"power_cycle", {{"const", true}}}, {"seed", seed}}, {"power_cycle"}));
  Json wire = list("ends that are joined", text("a pin, a range, a rail or a label"));
  wire["minItems"] = 2;
  const Json held = moment("for how long; else it stays so");
  Json pins = list("pins and ranges of pins", text("such as \"ADC.INTR\""));
  Json wires = list("wires", std::move(wire));
  pins["minItems"] = wires["minItems"] = 1;
  stimuli.push_back(one("wires are pulled", {{"remove", std::move(pins)}, {"held", held}}, {"remove"}));
  stimuli.push_back(one("wires are plugged in", {{"short", std::move(wires)}, {"held", held}}, {"short"}));
  return {{"anyOf", std::move(stimuli)}};
}

Json states(const Json& more) {
  const Json number = ref("number");
  const Json bytes{{"anyOf", {number, list("bytes at consecutive addresses", number)}}};
  const Json place = text("an address such as \"$F800\", or a label");
  Json subjects = Json::array();
  const auto add = [&](std::string_view description, Json properties, std::vector<std::string> required) {
    properties.update(more);
    subjects.push_back(object(description, std::move(properties), std::move(required)));
  };
  add("what a group of digits shows", {{"display", text("the group")}, {"shows", text("without blanks at its ends")}},
      {"display", "shows"});
  add("an LED", {{"led", text("its name")}, {"is", words("", {"on", "off"})}}, {"led", "is"});
  add("the level of a net",
      {{"net", text("a pin or a label")}, {"is", words("", {"low", "high", "floating", "unknown"})}}, {"net", "is"});
  add("memory", {{"memory", place}, {"is", bytes}, {"min", number}, {"max", number}}, {"memory"});
  add("a register", {{"register", text("its name")}, {"is", number}, {"min", number}, {"max", number}}, {"register"});
  add("bytes on a stack",
      {{"stack", text("its pointer")}, {"empty", place}, {"is", number}, {"min", number}, {"max", number}},
      {"stack", "empty"});
  return subjects;
}

Json expectation() {
  const Json about = text("free text");
  const Json from = moment("begin of the time that counts"), to = moment("end of the time that counts");
  const Json range{{"from", from}, {"to", to}, {"about", about}};
  const Json place = text("an address such as \"$F800\", or a label");
  const Json span{{"description", "a count of cycles, or a time"},
                  {"anyOf", {{{"type", "integer"}, {"minimum", 0}}, moment("a span")}}};
  const Json number = ref("number");
  const Json when{{"at", text("a time, or a place in the program")},
                  {"from", from},
                  {"to", to},
                  {"within", moment("how long it may take")},
                  {"held", moment("for how long it stays so")},
                  {"about", about}};
  Json kinds = states(when);
  const auto add = [&](std::string_view description, Json properties, std::vector<std::string> required) {
    properties.update(range);
    kinds.push_back(object(description, std::move(properties), std::move(required)));
  };
  const auto bounds = [](const Json& value) { return object("", {{"min", value}, {"max", value}}, {}); };
  const Json share{{"anyOf", {quantity("", Unit::millionths), {{"type", "number"}, {"minimum", 0}, {"maximum", 1}}}}};
  add("frequency of a net", {{"net", text("a pin or a label")}, {"frequency", bounds(quantity("", Unit::millihertz))}},
      {"net", "frequency"});
  add("part of the time that a net is high", {{"net", text("a pin or a label")}, {"duty", bounds(share)}},
      {"net", "duty"});
  add("width of each pulse of a net",
      {{"net", text("a pin or a label")},
       {"pulse", words("", {"low", "high"})},
       {"is", span},
       {"min", span},
       {"max", span}},
      {"net", "pulse"});
  add("how often the program gets to a place", {{"reached", place}, {"is", number}, {"min", number}, {"max", number}},
      {"reached"});
  Json pair = list("two names", {{"type", "string"}});
  pair["minItems"] = pair["maxItems"] = 2;
  add("cycles between two places", {{"cycles", pair}, {"is", span}, {"min", span}, {"max", span}}, {"cycles"});
  add("from an edge of a net to a place",
      {{"latency", pair},
       {"edge", words("fall if not given", {"rise", "fall"})},
       {"is", span},
       {"min", span},
       {"max", span}},
      {"latency"});
  kinds.push_back(object("a finding",
                         {{"finding", text("its rule")}, {"occurs", {{"type", "boolean"}}}, {"about", about}},
                         {"finding", "occurs"}));
  kinds.push_back(object("how the run ends", {{"ends", {{"const", "undefined opcode"}}}, {"about", about}}, {"ends"}));
  Json never = states(Json::object());
  never.push_back(object("the program gets to a place", {{"reached", place}}, {"reached"}));
  add("what is never so, not even for a moment", {{"never", {{"anyOf", std::move(never)}}}}, {"never"});
  return {{"anyOf", std::move(kinds)}};
}

}  // namespace

std::string check_schema() {
  const Json tags = list("words by which checks are chosen", text("a word"));
  const Json limits = object(
      "what the check may take",
      {{"cycles", {{"type", "integer"}, {"minimum", 1}, {"description", "bus cycles; 100000000 if not given"}}},
       {"wall", quantity("real time; 10 s if not given", Unit::picoseconds)},
       {"output",
        {{"type", "integer"}, {"minimum", 1}, {"description", "bytes of timeline and messages; 65536 if not given"}}}},
      {});
  const Json rules{{"type", "object"},
                   {"description", "other weights for rules, by id"},
                   {"additionalProperties", words("off: it says nothing", {"off", "hint", "warn", "stop"})}};
  const Json partner{{"type", "boolean"},
                     {"description", "whether the lab partner watches; if not given, when one of its rules is named"}};
  const Json machine = text("a machine file, relative to the folder of this one");
  Json machines = list("one check for each", machine);
  machines["minItems"] = 1;

  Json one = object("one check", Json::object(), {"check", "expect"});
  Json& of_one = one["properties"];
  of_one["check"] = text("its name");
  of_one["check"]["minLength"] = 1;
  of_one["about"] = text("free text");
  of_one["tags"] = tags;
  of_one["points"] = {{"type", "integer"},
                      {"minimum", 0},
                      {"maximum", 1000},
                      {"description", "what it counts for in a class; 1 if not given"}};
  of_one["limits"] = limits;
  of_one["rules"] = rules;
  of_one["partner"] = partner;
  of_one["for"] = moment("how long it runs; up to the last moment that it names if not given");
  of_one["seed"] = ref("seed");
  Json pins = list("pins and ranges of pins", text("such as \"ADC.INTR\""));
  Json wire = list("ends that are joined", text("a pin, a range, a rail or a label"));
  wire["minItems"] = 2;
  of_one["wiring"] = object("wires that are pulled or shorted before power-on",
                            {{"remove", pins}, {"short", list("wires", wire)}}, {});
  of_one["stimuli"] = list("what happens", ref("stimulus"));
  of_one["expect"] = list("what is expected", ref("expectation"));

  Json checks = list("the checks", ref("check"));
  checks["minItems"] = 1;
  Json top{{"$schema", "https://json-schema.org/draft/2020-12/schema"}, {"title", "Prewire lab checks"}};
  top.update(object("What happens to a machine, and what is expected of it.",
                    {{"$schema", text("where an editor finds this schema")},
                     {"about", text("free text")},
                     {"machine", {{"anyOf", {machine, machines}}}},
                     {"tags", tags},
                     {"limits", limits},
                     {"rules", rules},
                     {"partner", partner},
                     {"checks", checks}},
                    {"machine", "checks"}));
  top["$defs"] = {
      {"check", one},
      {"stimulus", stimulus()},
      {"expectation", expectation()},
      {"number",
       {{"description", "a number, or an address"},
        {"anyOf", {{{"type", "integer"}, {"minimum", 0}}, pattern("in hex", "^([$]|0[xX])[0-9A-Fa-f]{1,4}$")}}}},
      {"seed",
       {{"description", "chooses what is random"},
        {"anyOf", {{{"type", "integer"}, {"minimum", 0}}, pattern("a number", "^ *[0-9]+ *$")}}}}};
  return top.dump(2) + "\n";
}

}  // namespace prewire
