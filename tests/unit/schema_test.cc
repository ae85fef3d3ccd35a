// The JSON Schema of machine descriptions, against python3-jsonschema as an independent validator (draft 2020-12).
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cstdio>
#include <memory>
#include <nlohmann/json.hpp>
#include <random>
#include <set>

#include "prewire/chips.h"
#include "unit/machine_testing.h"
#include "unit/schema_testing.h"

namespace prewire::testing {
namespace {

std::string with(std::string_view rest) {
  return fmt::format(R"({{"machine": "gauge", "cpu": {{"type": "mc6800", "clock": "1 MHz"}}{}{}}})",
                     rest.empty() ? "" : ", ", rest);
}

struct SchemaCase {
  std::string document;
  bool good;
};

TEST(Schema, AgreesWithTheReader) {
  const std::vector<SchemaCase> cases = {
      {with(""), true},
      {with(R"("about": "text", "$schema": "machine.schema.json", "seed": 12, "bus": {"keeper": "ones"})"), true},
      {with(R"("chip": {})"), false},
      {with(R"("seed": -1)"), false},
      {with(R"("seed": 1.5)"), false},
      {with(R"("seed": "12")"), true},
      {with(R"("bus": {"keeper": "zeros"})"), false},
      {with(R"("bus": {"speed": 1})"), false},
      {R"({"cpu": {"type": "mc6800", "clock": "1 MHz"}})", false},
      {R"({"machine": "m"})", false},
      {R"({"machine": "m", "cpu": {"type": "mc6800", "crystal": "4 MHz"}})", false},
      {R"({"machine": "m", "cpu": {"type": "mc6802", "crystal": "4 MHz"}})", true},
      {R"({"machine": "m", "cpu": {"type": "mc6802", "crystal": "4 MHz", "ram": false}})", true},
      {R"({"machine": "m", "cpu": {"type": "mc6802", "crystal": "4 MHz", "ram": "true"}})", true},
      {R"({"machine": "m", "cpu": {"type": "mc6808", "crystal": "4 MHz", "ram": false}})", false},
      {R"({"machine": "m", "cpu": {"type": "mc6802", "clock": "1 MHz"}})", false},
      {R"({"machine": "m", "cpu": {"type": "mc6880", "clock": "1 MHz"}})", false},
      {R"({"machine": "m", "cpu": {"type": "mc6800", "clock": 1000000}})", false},
      {R"([])", false},
      {with(R"("chips": {"R1": {"type": "resistor", "ohms": "4.7 k\u03A9"}})"), true},
      {with(R"("chips": {"R1": {"type": "resistor", "ohms": "4.7"}})"), false},
      {with(R"("chips": {"R1": {"type": "resistor", "ohms": 4700}})"), false},
      {with(R"("chips": {"R1": {"type": "resistor"}})"), false},
      {with(R"("chips": {"R1": {"type": "resistor", "ohms": "1 Ohm", "at": "$4000"}})"), false},
      {with(R"("chips": {"R1": {"type": "resistr", "ohms": "1 Ohm"}})"), false},
      {with(R"("chips": {"R1": {}})"), false},
      {with(R"("chips": {"1R": {"type": "lamp"}})"), false},
      {with(R"("chips": {"CPU": {"type": "lamp"}})"), false},
      {with(R"("chips": {"RESET": {"type": "lamp"}})"), false},
      {with(R"("chips": {"P": {"type": "potentiometer", "position": 0.25}})"), true},
      {with(R"("chips": {"P": {"type": "potentiometer", "position": 1}})"), true},
      {with(R"("chips": {"P": {"type": "potentiometer", "position": 1.000001}})"), false},
      {with(R"("chips": {"P": {"type": "potentiometer", "position": "25 %"}})"), true},
      {with(R"("chips": {"B": {"type": "button", "hits": 20, "bounce": "3 ms"}})"), true},
      {with(R"("chips": {"B": {"type": "button", "hits": 21}})"), false},
      {with(R"("chips": {"A": {"type": "adc0804", "invert": true, "error": "-0.5 LSB", "clock_c": "150 pF"}})"), true},
      {with(R"("chips": {"A": {"type": "adc0804", "invert": "maybe"}})"), false},
      {with(
           R"("chips": {"RAM": {"type": "mcm6810", "at": "$0000-$007F", "mirror": "0x0000-0x00ff", "power_up": "zeros"}})"),
       true},
      {with(R"("chips": {"RAM": {"type": "mcm6810", "at": "$0000-$007F", "power_up": "zero"}})"), false},
      {with(R"("chips": {"RAM": {"type": "mcm6810"}})"), false},
      {with(R"("chips": {"RAM": {"type": "mcm6810", "at": "0000-007F"}})"), false},
      {with(R"("chips": {"L": {"type": "latch"}})"), true},
      {with(R"("chips": {"L": {"type": "latch", "at": "$8000"}})"), true},
      {with(R"("chips": {"L": {"type": "latch", "mirror": "$8000-$8FFF"}})"), false},
      {with(R"("wires": [["CPU.NMI", "GND", "+5V"]])"), false},
      {with(
           R"("wires": [["CPU.IRQ", "+5V"], ["CPU.NMI", "GND"], ["TICK", "CPU.HALT"], ["ZERO", "0V"], ["LOW", "-1.5e1 V"]])"),
       true},
      {with(R"("wires": [["CPU.IRQ"]])"), false},
      {with(R"("wires": [["CPU.IRQ", 5]])"), false},
      {with(R"("wires": [["CPU.IRQ", "+5"]])"), false},
      {with(R"("wires": [["CPU.IRQ", "two words"]])"), false},
      {with(R"("wires": {})"), false},
      {with(R"("chips": {"D1": {"type": "digit"}}, "display": {"LEVEL": ["D1"]})"), true},
      {with(R"("chips": {"D1": {"type": "digit"}}, "display": {"LEVEL": ["D1", "D1"]})"), false},
      {with(R"("chips": {"D1": {"type": "digit"}}, "display": {"LEVEL": []})"), false},
      {with(R"("program": "gauge.s19")"), false},
      {with(R"("program": [5])"), false},
      {with(R"("program": [{"format": "automatic"}])"), false},
      {with(R"("program": [{"file": "x", "format": "binary"}])"), false},
      {with(R"("program": [{"file": "x", "at": "$F000"}])"), false},
      {with(R"("program": [{"file": "x", "name": "y"}])"), false},
  };
  std::vector<std::string> documents;
  for (const SchemaCase& one : cases) documents.push_back(one.document);
  // The reader looks for the files, which are not there.
  documents.push_back(with(R"("program": ["gauge.s19", {"file": "x"}, {"file": "x", "format": "key-in"}])"));
  documents.push_back(with(R"("program": [{"file": "x.bin", "format": "binary", "at": "$F000"}])"));
  const std::vector<std::string> results = validate(machine_schema(field_station()), documents);
  ASSERT_EQ(results.size(), documents.size()) << results[0];
  for (std::size_t i = cases.size(); i < documents.size(); ++i) EXPECT_EQ(results[i], "good") << documents[i];
  for (std::size_t i = 0; i < cases.size(); ++i) {
    EXPECT_EQ(data_faults(cases[i].document).empty(), cases[i].good) << cases[i].document << "\n"
                                                                     << data_faults(cases[i].document);
    // What one wire makes of another is beyond a schema.
    const bool shorted = cases[i].document.find("\"GND\", \"+5V\"") != std::string::npos;
    // So is a chip that has no `at`, since wires may select it.
    const bool nowhere = cases[i].document.find("\"mcm6810\"}") != std::string::npos;
    EXPECT_EQ(results[i], cases[i].good || shorted || nowhere ? "good" : "bad") << cases[i].document;
  }
}

// An editor must not mark what Prewire takes.
TEST(Schema, RefusesNothingThatTheReaderTakes) {
  const std::vector<std::string> values = {"\"+5V\"",
                                           "\"GND\"",
                                           "\"-.5 V\"",
                                           "\"+1.e1V\"",
                                           "\"0V\"",
                                           "\"X_1\"",
                                           "\"R1.1\"",
                                           "\"R1.1..2\"",
                                           "\"A.DB0..7\"",
                                           "\"A.VIN+\"",
                                           "\"CPU.R/W\"",
                                           "\"1 kOhm\"",
                                           "\".5 kohm\"",
                                           "\"1e3 \u03A9\"",
                                           "\"150 pF\"",
                                           "\"0.1 \u00B5F\"",
                                           "\"2.5 V\"",
                                           "\"25 %\"",
                                           "\"0.5\"",
                                           "0.5",
                                           "1",
                                           "1e0",
                                           "7.0",
                                           "true",
                                           "false",
                                           "\"true\"",
                                           "\"3 ms\"",
                                           "\"$4000\"",
                                           "\"$4000 - $407F\"",
                                           "\"0x4000-0X407f\"",
                                           "\"ones\"",
                                           "\"last\"",
                                           "\"zeros\"",
                                           "\"low\"",
                                           "\"1 MHz\"",
                                           "\"800kHz\"",
                                           "\"mc6802\"",
                                           "\"mcm6810\"",
                                           "\"D1\"",
                                           "\"-0.25 LSB\"",
                                           "[]",
                                           "{}"};
  const std::string seed = with(
      R"("seed": 1, "bus": {"keeper": "ones"}, "chips": {"R1": {"type": "resistor", "ohms": "1 kOhm"}, "D1": {"type": "digit"},
        "RAM": {"type": "mcm6810", "at": "$4000-$407F", "mirror": "$4000-$4FFF", "power_up": "ones"}, "L": {"type": "latch", "at": "$9000"},
        "A": {"type": "adc0804", "clock_r": "10 kOhm", "clock_c": "150 pF", "vref_half": "2.5 V", "error": "0 LSB", "invert": true},
        "P": {"type": "potentiometer", "position": 0.5, "wobble": "1 Hz"}, "B": {"type": "button", "bounce": "3 ms", "hits": 5}},
        "wires": [["A.DB0..7", "GND"], ["R1.1", "X"], ["P.wiper", "A.VIN+", "R1.2"]], "display": {"LEVEL": ["D1"]})");
  const auto flat = nlohmann::ordered_json::parse(seed).flatten();
  std::mt19937 random(6844);
  std::set<std::string> taken;
  for (int round = 0; round < 20'000 && taken.size() < 120; ++round) {
    auto changed = flat;
    for (auto changes = 1 + random() % 2; changes > 0; --changes) {
      auto place = changed.begin();
      std::advance(place, static_cast<std::ptrdiff_t>(random() % changed.size()));
      *place = nlohmann::ordered_json::parse(values[random() % values.size()]);
    }
    nlohmann::ordered_json document;
    for (const auto& [pointer, value] : changed.items())
      document[nlohmann::ordered_json::json_pointer(pointer)] = value;
    const std::string text = document.dump();
    if (data_faults(text).find("stop: ") == std::string::npos) taken.insert(text);
  }
  EXPECT_EQ(taken.size(), 120U);
  const std::vector<std::string> documents(taken.begin(), taken.end());
  const std::vector<std::string> results = validate(machine_schema(field_station()), documents);
  ASSERT_EQ(results.size(), documents.size()) << results[0];
  for (std::size_t i = 0; i < results.size(); ++i) EXPECT_EQ(results[i], "good") << documents[i];
}

TEST(Schema, ExplainsItself) {
  const auto schema = nlohmann::json::parse(machine_schema(field_station()));
  EXPECT_EQ(schema["$schema"], "https://json-schema.org/draft/2020-12/schema");
  const auto& adc = schema["$defs"]["chip-adc0804"];
  EXPECT_EQ(adc["title"], "ADC0804 8-bit converter");
  EXPECT_EQ(adc["description"], "A part for tests. Pins: DB0..DB7, CS, RD, WR, INTR, VIN+, VIN-.");
  EXPECT_EQ(adc["properties"]["clock_r"]["description"], "resistor of the clock; 1 kOhm to 100 kOhm");
  EXPECT_EQ(adc["properties"]["clock_r"]["default"], "10 kOhm");
  EXPECT_EQ(adc["properties"]["invert"]["default"], false);
  EXPECT_EQ(schema["$defs"]["chip-mcm6810"]["properties"]["power_up"]["default"], "random");
  EXPECT_EQ(schema["$defs"]["chip-mcm6810"]["required"], nlohmann::json({"type"}));
  EXPECT_EQ(schema["$defs"]["cpu-mc6802"]["required"], nlohmann::json({"type", "crystal"}));
  EXPECT_EQ(schema["$defs"]["chip"]["properties"]["type"]["oneOf"].size(), field_station().types().size());
}

TEST(Schema, OfTheStandardChipsAndOfNoneAreValid) {
  const std::vector<std::string> documents = {with(""),
                                              with(R"("chips": {"R1": {"type": "resistor", "ohms": "1 Ohm"}})")};
  EXPECT_EQ(validate(machine_schema(standard_chips()), documents), (std::vector<std::string>{"good", "good"}));
  EXPECT_EQ(validate(machine_schema(Registry()), documents), (std::vector<std::string>{"good", "bad"}));
}

}  // namespace
}  // namespace prewire::testing
