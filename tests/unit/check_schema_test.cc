// The JSON Schema of check files agrees with the reader.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <fstream>
#include <iterator>

#include "paths.h"
#include "prewire/lab_check.h"
#include "unit/schema_testing.h"

namespace prewire::testing {
namespace {

std::string with(std::string_view body) {
  return fmt::format(R"({{"machine": "m.json", "checks": [{{"check": "c", {}}}]}})", body);
}

std::string expecting(std::string_view expectation) { return with(fmt::format(R"("expect": [{}])", expectation)); }

std::string doing(std::string_view stimulus) { return with(fmt::format(R"("stimuli": [{}], "expect": [])", stimulus)); }

bool reads(const std::string& document) {
  try {
    read_checks(document, "c.json");
  } catch (const InputError&) {
    return false;
  }
  return true;
}

TEST(CheckSchema, AgreesWithTheReader) {
  std::vector<std::string> documents = {
      with(R"("expect": [])"),
      with(
          R"("expect": [], "for": "10 ms", "seed": 3, "tags": ["a"], "about": "x", "limits": {"cycles": 9, "wall": "1 s"})"),
      with(R"("expect": [], "for": 10)"),
      with(R"("expect": [], "for": "10 cycles", "seed": -1)"),
      with(R"("expect": [], "wiring": {"remove": ["A.1"], "short": [["A.1", "GND"]]})"),
      with(R"("expect": [], "wiring": {"cut": []})"),
      with(R"("expect": [], "rules": {"irq-storm": "stop", "edge-lost": "off"}, "partner": true)"),
      with(R"("expect": [], "rules": {"irq-storm": "loud"})"),
      with(R"("expect": [], "rules": ["irq-storm"])"),
      with(R"("expect": [], "partner": "on")"),
      R"({"machine": "a.json", "rules": {"irq-storm": "hint"}, "partner": false, "checks": [{"check": "c", "expect": []}]})",
      with(R"("expected": [])"),
      R"({"machine": [], "checks": [{"check": "c", "expect": []}]})",
      R"({"machine": ["a.json", "b.json"], "checks": [{"check": "c", "expect": []}]})",
      R"({"machine": "a.json", "checks": []})",
      R"({"checks": [{"check": "c", "expect": []}]})",
      R"({"machine": "a.json", "checks": [{"expect": []}]})",
  };
  for (const char* stimulus :
       {R"({"set": "FLOAT", "to": "2.5 V"})", R"({"at": "3 cycles", "set": "FLOAT", "to": "2.5 V", "bounce": "1 ms"})",
        R"({"set": "FLOAT"})", R"({"press": "KEY", "held": "5 ms"})", R"({"press": "KEY", "for": "5 ms"})",
        R"({"ramp": "F", "from": "0 V", "to": "5 V", "over": "1 s", "steps": 3})",
        R"({"ramp": "F", "from": 0, "to": "50 %", "over": "1 s", "steps": 3})",
        R"({"ramp": "F", "from": "0 V", "to": "5 V", "over": "1 s", "steps": 0})",
        R"({"ramp": "F", "from": "0 V", "to": "5 V", "steps": 3})",
        R"({"noise": "F", "around": "1 V", "by": "5 mV", "over": "1 s", "steps": 9, "seed": 2})",
        R"({"noise": "F", "around": "1 V", "over": "1 s", "steps": 9})", R"({"reset": "5 ms"})", R"({"reset": true})",
        R"({"at": "1 ms", "power_cycle": true, "seed": 4})", R"({"power_cycle": "yes"})", R"({"at": "1 ms"})"}) {
    documents.push_back(doing(stimulus));
  }
  for (const char* expectation : {R"({"at": "1 ms", "display": "D", "shows": "1"})",
                                  R"({"display": "D", "is": "1"})",
                                  R"({"display": "D"})",
                                  R"({"from": "1 ms", "within": "9 ms", "held": "1 ms", "led": "L", "is": "on"})",
                                  R"({"led": "L", "is": "lit"})",
                                  R"({"at": "label", "net": "N", "is": "floating"})",
                                  R"({"net": "N", "is": "down"})",
                                  R"({"memory": "$10", "is": [1, "$FF"]})",
                                  R"({"memory": "level", "min": 1, "max": "0x20"})",
                                  R"({"memory": 16, "is": 1})",
                                  R"({"register": "A", "is": "$7D"})",
                                  R"({"register": "A", "is": "7D"})",
                                  R"({"stack": "S", "empty": "$7F", "max": 9})",
                                  R"({"stack": "S", "max": 9})",
                                  R"({"reached": "here"})",
                                  R"({"reached": "here", "is": 0, "from": "1 ms", "to": "2 ms"})",
                                  R"({"cycles": ["a", "b"], "max": 9})",
                                  R"({"cycles": ["a", "b"], "min": "9 us", "max": "10 us"})",
                                  R"({"cycles": ["a"], "max": 9})",
                                  R"({"cycles": ["a", "b", "c"], "max": 9})",
                                  R"({"latency": ["CPU.IRQ", "h"], "max": 9, "edge": "rise"})",
                                  R"({"latency": ["CPU.IRQ", "h"], "max": -9})",
                                  R"({"net": "N", "frequency": {"min": "1 kHz"}})",
                                  R"({"net": "N", "frequency": {"min": 1}})",
                                  R"({"net": "N", "frequency": {"least": "1 Hz"}})",
                                  R"({"net": "N", "duty": {"max": 0.5}})",
                                  R"({"net": "N", "duty": {"max": "50 %"}})",
                                  R"({"net": "N", "pulse": "low", "is": 7})",
                                  R"({"net": "N", "pulse": "short", "is": 7})",
                                  R"({"finding": "x-y", "occurs": true})",
                                  R"({"finding": "x-y"})",
                                  R"({"ends": "undefined opcode"})",
                                  R"({"ends": "well"})",
                                  R"({"never": {"led": "L", "is": "on"}, "from": "1 ms", "to": "2 ms"})",
                                  R"({"never": {"reached": "astray"}})",
                                  R"({"never": {"cycles": ["a", "b"], "is": 1}})",
                                  R"({"never": {}})",
                                  R"({})"}) {
    documents.push_back(expecting(expectation));
  }
  const std::vector<std::string> verdicts = validate(check_schema(), documents);
  ASSERT_EQ(verdicts.size(), documents.size()) << verdicts.at(0);
  for (std::size_t i = 0; i < documents.size(); ++i) {
    EXPECT_EQ(verdicts[i], reads(documents[i]) ? "good" : "bad") << documents[i];
  }
}

TEST(CheckSchema, TakesTheChecksOfTheLabs) {
  std::vector<std::string> documents;
  for (const auto& entry : std::filesystem::recursive_directory_iterator(source_folder() / "scenarios")) {
    if (!entry.path().string().ends_with(".check.json")) continue;
    std::ifstream in(entry.path());
    documents.emplace_back(std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>());
  }
  ASSERT_FALSE(documents.empty());
  EXPECT_EQ(validate(check_schema(), documents), std::vector<std::string>(documents.size(), "good"));
}

}  // namespace
}  // namespace prewire::testing
