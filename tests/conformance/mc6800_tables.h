// The published tables as the tests read them: opcodes, and the order of bus cycles with symbolic addresses.
#pragma once

#include <map>
#include <ostream>
#include <stdexcept>
#include <string>
#include <vector>

#include "conformance/csv.h"

namespace prewire::testing {

inline constexpr std::uint8_t kNop = 0x01;

/// A row of `mc6800-opcodes.csv`.
struct OpcodeRow {
  int opcode = 0;
  std::string mnemonic, mode;
  int bytes = 0, cycles = 0;
  std::map<char, std::string> flags;  ///< by letter: what happens to the flag
  std::string group, source;

  /// "LDA" for `LDAA`.
  std::string stem() const { return mnemonic.size() == 4 ? mnemonic.substr(0, 3) : mnemonic; }
  /// 'A' or 'B' for an instruction that names its accumulator, else 0. Only those have four letters.
  char accumulator() const { return mnemonic.size() == 4 ? mnemonic[3] : '\0'; }
  /// For the name of a test: "8B_ADDA_immediate".
  std::string name() const {
    const char* digits = "0123456789ABCDEF";
    return std::string{digits[opcode >> 4], digits[opcode & 15]} + "_" + mnemonic + "_" + mode;
  }
  friend void PrintTo(const OpcodeRow& row, std::ostream* out) { *out << row.name() << " (" << row.source << ")"; }
};

inline const std::vector<OpcodeRow>& opcode_rows() {
  static const std::vector<OpcodeRow> kRows = [] {
    std::vector<OpcodeRow> rows;
    for (auto& field : read_csv("mc6800-opcodes.csv")) {
      OpcodeRow& row = rows.emplace_back();
      row.opcode = std::stoi(field["opcode"], nullptr, 16);
      row.mnemonic = field["mnemonic"];
      row.mode = field["mode"];
      row.bytes = std::stoi(field["bytes"]);
      row.cycles = std::stoi(field["cycles"]);
      for (const char flag : {'H', 'I', 'N', 'Z', 'V', 'C'}) row.flags[flag] = field[std::string(1, flag)];
      row.group = field["cycle_group"];
      row.source = field["source"];
    }
    return rows;
  }();
  return kRows;
}

inline std::vector<int> undefined_opcodes() {
  std::vector<int> opcodes;
  for (auto& field : read_csv("mc6800-undefined-opcodes.csv"))
    opcodes.push_back(std::stoi(field["opcode"], nullptr, 16));
  return opcodes;
}

/// A row of `mc6800-cycles.csv`.
struct CycleRow {
  bool vma = false, read = true;
  std::string address, data, source;
};

/// The bus cycles of a group, or of a sequence such as `seq_irq`.
inline const std::vector<CycleRow>& cycle_rows(const std::string& group) {
  static const std::map<std::string, std::vector<CycleRow>> kGroups = [] {
    std::map<std::string, std::vector<CycleRow>> groups;
    for (auto& field : read_csv("mc6800-cycles.csv")) {
      auto& rows = groups[field["group"]];
      if (std::stoul(field["cycle"]) != rows.size() + 1) throw std::runtime_error("cycles out of order");
      rows.push_back({field["vma"] == "1", field["rw"] == "1", field["address"], field["data"], field["source"]});
    }
    return groups;
  }();
  return kGroups.at(group);
}

}  // namespace prewire::testing
