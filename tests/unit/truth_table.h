// Chips of pure logic against the function table of their data book, for every combination of their inputs.
#pragma once

#include <sstream>

#include "machine_fixture.h"

namespace prewire::testing {

inline std::vector<std::string> words_of(const std::string& text) {
  std::istringstream in(text);
  return {std::istream_iterator<std::string>(in), {}};
}

/// Rows as the data book has them: a letter for each input, then for each output. L, H; X: either; Z: off. A '#' in the
/// names stands for the number of each unit.
struct TruthTable {
  std::string type, inputs, outputs;
  std::vector<std::string> rows;
  std::string units = "1";

  std::vector<std::string> names(const std::string& text, char unit) const {
    std::vector<std::string> result = words_of(text);
    for (std::string& name : result) {
      if (name[0] == '#') name[0] = unit;
    }
    return result;
  }
  std::vector<std::string> all(const std::string& text) const {
    std::vector<std::string> result;
    for (const char unit : units) {
      for (std::string& name : names(text, unit)) {
        if (std::find(result.begin(), result.end(), name) == result.end()) result.push_back(std::move(name));
      }
    }
    return result;
  }
  /// What the table says of the outputs, given the letters of the inputs.
  std::string outputs_at(const std::string& levels) const {
    std::string found;
    for (const std::string& row : rows) {
      std::string text;
      for (const std::string& word : words_of(row)) text += word;
      bool fits = true;
      for (std::size_t i = 0; i < levels.size(); ++i) fits = fits && (text[i] == 'X' || text[i] == levels[i]);
      if (!fits) continue;
      const std::string says = text.substr(levels.size());
      if (!found.empty() && found != says) return "two rows";
      found = says;
    }
    return found.empty() ? "no row" : found;
  }
};

/// The part on a bench with every input under a hand, and its function, for all combinations of its inputs.
inline void expect_table(const TruthTable& table) {
  const std::vector<std::string> inputs = table.all(table.inputs), outputs = table.all(table.outputs);
  const ChipType& type = *bench_registry().find(table.type);
  std::string chips = fmt::format(R"("U1": {{"type": "{}"}})", table.type), wires;
  for (std::size_t i = 0; i < inputs.size(); ++i) {
    if (i % 8 == 0) chips += fmt::format(R"(, "HAND{}": {{"type": "stimulus", "low": 255}})", i / 8);
    wires += fmt::format(R"({}["HAND{}.P{}", "U1.{}"])", i == 0 ? "" : ", ", i / 8, i % 8, inputs[i]);
  }
  // Something has to hang on the outputs.
  for (std::size_t i = 0; i < outputs.size(); ++i) {
    if (i % 8 == 0) chips += fmt::format(R"(, "EAR{}": {{"type": "stimulus"}})", i / 8);
    wires += fmt::format(R"(, ["EAR{}.P{}", "U1.{}"])", i / 8, i % 8, outputs[i]);
  }
  Bench bench(chips, wires);
  int wrong = 0;
  unsigned now = 0;
  for (unsigned step = 0; step < 1U << inputs.size() && wrong < 5; ++step) {
    const unsigned next = step ^ step >> 1;  // one input at a time
    for (std::size_t i = 0; i < inputs.size(); ++i) {
      if ((next ^ now) >> i & 1) {
        bench.machine.set(fmt::format("HAND{}", i / 8), fmt::format("P{} {}", i % 8, next >> i & 1 ? "high" : "low"));
      }
    }
    now = next;
    const auto level_of = [&](const std::string& name) {
      const auto place = std::find(inputs.begin(), inputs.end(), name) - inputs.begin();
      return now >> place & 1 ? 'H' : 'L';
    };
    std::vector<Logic> pins(type.pins.size(), Logic::unknown);
    for (const std::string& name : inputs) {
      pins[static_cast<std::size_t>(type.pin(name))] = to_logic(level_of(name) == 'H');
    }
    type.logic(pins);
    for (const char unit : table.units) {
      std::string levels, seen, computed;
      for (const std::string& name : table.names(table.inputs, unit)) levels += level_of(name);
      for (const std::string& name : table.names(table.outputs, unit)) {
        const std::string level = bench.level("U1." + name);
        seen += level == "low" ? 'L' : level == "high" ? 'H' : level == "floating" ? 'Z' : '?';
        computed += "LH?Z"[static_cast<std::size_t>(pins[static_cast<std::size_t>(type.pin(name))])];
      }
      const std::string expected = table.outputs_at(levels);
      wrong += seen != expected || computed != expected ? 1 : 0;
      EXPECT_EQ(seen, expected) << table.type << ", unit " << unit << ", inputs " << levels;
      EXPECT_EQ(computed, expected) << "function of " << table.type << ", unit " << unit << ", inputs " << levels;
    }
  }
  EXPECT_EQ(bench.findings(), "");
}

/// "1 1A, 2 1B, …": the pins by number.
inline std::string package_text(const std::string& name) {
  std::string text;
  for (const PinSpec& pin : bench_registry().find(name)->pins) {
    text += fmt::format("{}{} {}", text.empty() ? "" : ", ", pin.number, pin.name);
  }
  return text;
}

}  // namespace prewire::testing
