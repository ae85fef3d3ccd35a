// The published tables of the MC6809 as the tests read them: opcodes, indexed postbytes, and the order of bus cycles
// with symbolic addresses.
#pragma once

#include <cstdint>
#include <map>
#include <ostream>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

#include "conformance/csv.h"

namespace prewire::testing {

inline std::string hex_byte(int byte) {
  const char* digits = "0123456789ABCDEF";
  return {digits[byte >> 4 & 15], digits[byte & 15]};
}

/// A row of `mc6809-opcodes.csv`.
struct Mc6809Row {
  static constexpr std::string_view kFlags = "EFHINZVC";  ///< from bit 7 down

  int page = 1, opcode = 0;
  std::string mnemonic, mode;
  int bytes = 0, cycles = 0;
  std::string plus;                   ///< what adds to `cycles`
  std::map<char, std::string> flags;  ///< by letter: what happens to the flag
  std::string group, source;

  /// The opcode with the byte before it.
  std::vector<std::uint8_t> code() const {
    const auto byte = static_cast<std::uint8_t>(opcode);
    if (page == 1) return {byte};
    return {static_cast<std::uint8_t>(page == 2 ? 0x10 : 0x11), byte};
  }
  /// 'A' or 'B' for an instruction that names its accumulator, else 0.
  char accumulator() const {
    const char last = mnemonic.back();
    const bool other = mnemonic == "BRA" || mnemonic == "LBRA" || mnemonic == "DAA";
    return !other && (last == 'A' || last == 'B') ? last : '\0';
  }
  /// "AND" for `ANDA`, "OR" for `ORA`, "CMP" for `CMPX`.
  std::string stem() const {
    const bool wide = group.find("16") != std::string::npos;
    return accumulator() != 0 || wide ? mnemonic.substr(0, mnemonic.size() - 1) : mnemonic;
  }
  /// 'D', 'X', 'Y', 'U' or 'S' for an instruction on 16 bits.
  char word_register() const { return mnemonic.back(); }
  bool indexed() const { return mode == "indexed"; }
  /// Condition codes that the manual leaves undefined after this instruction, and V after SEX, about which its appendix
  /// A and its table D-1 differ.
  int open_flags() const {
    int mask = 0;
    for (std::size_t i = 0; i < kFlags.size(); ++i) {
      const std::string& symbol = flags.at(kFlags[i]);
      if (symbol == "undef" || symbol == "- (table D-1: 0)") mask |= 0x80 >> i;
    }
    return mask;
  }
  /// For the name of a test: "10A3_CMPD_indexed".
  std::string name() const {
    std::string text;
    for (const std::uint8_t byte : code()) text += hex_byte(byte);
    return text + "_" + mnemonic + "_" + mode;
  }
  friend void PrintTo(const Mc6809Row& row, std::ostream* out) { *out << row.name() << " (" << row.source << ")"; }
};

inline const std::vector<Mc6809Row>& mc6809_rows() {
  static const std::vector<Mc6809Row> kRows = [] {
    std::vector<Mc6809Row> rows;
    for (auto& field : read_csv("mc6809-opcodes.csv")) {
      Mc6809Row& row = rows.emplace_back();
      row.page = std::stoi(field["page"]);
      const std::string& printed = field["opcode"];  // "8B", or "10 8B" on another page
      row.opcode = std::stoi(printed.substr(printed.size() - 2), nullptr, 16);
      row.mnemonic = field["mnemonic"];
      row.mode = field["mode"];
      row.bytes = std::stoi(field["bytes"]);
      row.cycles = std::stoi(field["cycles"]);
      row.plus = field["plus"];
      for (const char flag : Mc6809Row::kFlags) row.flags[flag] = field[std::string(1, flag)];
      row.group = field["cycle_group"];
      row.source = field["source"];
    }
    return rows;
  }();
  return kRows;
}

inline const Mc6809Row& mc6809_row(std::string_view mnemonic, std::string_view mode) {
  for (const Mc6809Row& row : mc6809_rows()) {
    if (row.mnemonic == mnemonic && row.mode == mode) return row;
  }
  throw std::runtime_error("no row " + std::string(mnemonic));
}

/// A row of `mc6809-undefined-opcodes.csv`.
struct Mc6809Undefined {
  int page = 1, opcode = -1;  ///< -1: every one that `mc6809-opcodes.csv` does not list on the page
  std::string source;

  std::vector<int> opcodes() const {
    if (opcode >= 0) return {opcode};
    std::vector<int> all;
    for (int second = 0; second < 256; ++second) {
      bool listed = false;
      for (const Mc6809Row& row : mc6809_rows()) listed |= row.page == page && row.opcode == second;
      if (!listed) all.push_back(second);
    }
    return all;
  }
  std::string name() const { return "Page" + std::to_string(page) + "_" + (opcode < 0 ? "rest" : hex_byte(opcode)); }
  friend void PrintTo(const Mc6809Undefined& row, std::ostream* out) {
    *out << row.name() << " (" << row.source << ")";
  }
};

inline std::vector<Mc6809Undefined> mc6809_undefined_rows() {
  std::vector<Mc6809Undefined> rows;
  for (auto& field : read_csv("mc6809-undefined-opcodes.csv")) {
    const std::string& opcode = field["opcode"];
    rows.push_back(
        {std::stoi(field["page"]), opcode.size() == 2 ? std::stoi(opcode, nullptr, 16) : -1, field["source"]});
  }
  return rows;
}

/// A row of `mc6809-indexed.csv`: a kind of indexed postbyte.
struct Mc6809Postbyte {
  std::string pattern;  ///< bits: 0, 1; RR the register, n the offset, x anything
  std::string form;
  bool indirect = false, legal = false;
  int extra_cycles = 0, extra_bytes = 0;
  std::string block, source;

  bool matches(int postbyte) const {
    for (std::size_t i = 0; i < 8; ++i) {
      if ((pattern[i] == '0' || pattern[i] == '1') && (postbyte >> (7 - i) & 1) != pattern[i] - '0') return false;
    }
    return true;
  }
  std::vector<std::uint8_t> postbytes() const {
    std::vector<std::uint8_t> all;
    for (int byte = 0; byte < 256; ++byte) {
      if (matches(byte)) all.push_back(static_cast<std::uint8_t>(byte));
    }
    return all;
  }
  /// For the name of a test: "1RR10001_ix_inc2_i".
  std::string name() const { return pattern + "_" + (legal ? block : "illegal"); }
  friend void PrintTo(const Mc6809Postbyte& row, std::ostream* out) { *out << row.name() << " (" << row.source << ")"; }
};

inline const std::vector<Mc6809Postbyte>& mc6809_postbyte_rows() {
  static const std::vector<Mc6809Postbyte> kRows = [] {
    std::vector<Mc6809Postbyte> rows;
    for (auto& field : read_csv("mc6809-indexed.csv")) {
      Mc6809Postbyte& row = rows.emplace_back();
      row.pattern = field["pattern"];
      row.form = field["form"];
      row.indirect = field["indirect"] == "1";
      row.legal = field["legal"] == "1";
      if (row.legal) row.extra_cycles = std::stoi(field["extra_cycles"]);
      if (row.legal) row.extra_bytes = std::stoi(field["extra_bytes"]);
      row.block = field["cycle_block"];
      row.source = field["source"];
    }
    return rows;
  }();
  return kRows;
}

/// The only row that a postbyte belongs to.
inline const Mc6809Postbyte& mc6809_postbyte(int byte) {
  static const std::vector<const Mc6809Postbyte*> kByByte = [] {
    std::vector<const Mc6809Postbyte*> rows(256);
    for (const Mc6809Postbyte& row : mc6809_postbyte_rows()) {
      for (const std::uint8_t postbyte : row.postbytes()) {
        if (rows[postbyte] != nullptr) throw std::runtime_error("two rows for postbyte " + hex_byte(postbyte));
        rows[postbyte] = &row;
      }
    }
    return rows;
  }();
  const Mc6809Postbyte* row = kByByte.at(static_cast<std::size_t>(byte));
  if (row == nullptr) throw std::runtime_error("no row for postbyte " + hex_byte(byte));
  return *row;
}

/// A row of `mc6809-cycles.csv`.
struct Mc6809Cycle {
  std::string cycle;  ///< a number, `*` for a loop or the indexed block, `+n` for the n-th cycle after it
  std::string address, data, source;
  bool read = true, ba = false, bs = false;
};

/// The bus cycles of a group, of an indexed block, or of a sequence such as `seq_irq`.
inline const std::vector<Mc6809Cycle>& mc6809_cycles(const std::string& group) {
  static const std::map<std::string, std::vector<Mc6809Cycle>> kGroups = [] {
    std::map<std::string, std::vector<Mc6809Cycle>> groups;
    for (auto& field : read_csv("mc6809-cycles.csv")) {
      groups[field["group"]].push_back({field["cycle"], field["address"], field["data"], field["source"],
                                        field["rw"] != "0", field["ba"] == "1", field["bs"] == "1"});
    }
    return groups;
  }();
  return kGroups.at(group);
}

}  // namespace prewire::testing
