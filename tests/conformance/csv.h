// The published tables in tests/data/cpu as the tests read them, and the symbolic addresses in them.
#pragma once

#include <cstdint>
#include <fstream>
#include <map>
#include <stdexcept>
#include <string>
#include <vector>

#include "paths.h"

namespace prewire::testing {

/// Rows of a CSV file by column name. Fields may stand in double quotes.
inline std::vector<std::map<std::string, std::string>> read_csv(const std::string& name) {
  std::ifstream in(test_data() / "cpu" / name);
  if (!in) throw std::runtime_error("cannot read tests/data/cpu/" + name);
  const auto split = [](const std::string& line) {
    std::vector<std::string> fields(1);
    bool quoted = false;
    for (const char c : line) {
      if (c == '"') {
        quoted = !quoted;
      } else if (c == ',' && !quoted) {
        fields.emplace_back();
      } else if (c != '\r') {
        fields.back() += c;
      }
    }
    return fields;
  };
  std::string line;
  std::getline(in, line);
  const std::vector<std::string> columns = split(line);
  std::vector<std::map<std::string, std::string>> rows;
  while (std::getline(in, line)) {
    const std::vector<std::string> fields = split(line);
    if (fields.size() != columns.size()) throw std::runtime_error(name + ": bad row: " + line);
    auto& row = rows.emplace_back();
    for (std::size_t i = 0; i < columns.size(); ++i) row[columns[i]] = fields[i];
  }
  return rows;
}

/// What the symbols of the cycle table mean in one case.
using Symbols = std::map<std::string, int>;

/// The value of an address such as "SP-2", "op+1", "FFFA" or "IX+offset(nc)".
inline std::uint16_t evaluate(const std::string& address, const Symbols& symbols) {
  if (const auto symbol = symbols.find(address); symbol != symbols.end())
    return static_cast<std::uint16_t>(symbol->second);
  const auto sign = address.find_first_of("+-");
  if (sign != std::string::npos) {
    return static_cast<std::uint16_t>(symbols.at(address.substr(0, sign)) + std::stoi(address.substr(sign)));
  }
  if (address.size() == 4 && address.find_first_not_of("0123456789ABCDEF") == std::string::npos) {
    return static_cast<std::uint16_t>(std::stoi(address, nullptr, 16));
  }
  throw std::runtime_error("no meaning for address " + address);
}

}  // namespace prewire::testing
