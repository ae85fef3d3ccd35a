// What may stand in the second column: the instructions of a processor by name, and directives.
#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

#include "cpu/instruction.h"

namespace prewire::assembler {

/// All addressing modes of one mnemonic.
struct Mnemonic {
  std::string_view name;
  std::array<const Instruction*, 11> modes{};  ///< by `Mode`; null where there is none

  const Instruction* operator[](Mode mode) const { return modes[static_cast<std::size_t>(mode)]; }
};

/// A processor as the assembler sees it.
class Target {
 public:
  enum class Family : std::uint8_t { mc6800, mc6809 };

  /// Null for a part that is not known.
  static const Target* find(std::string_view part);

  Family family() const { return family_; }
  /// "MC6800" or "MC6809".
  std::string_view title() const { return family_ == Family::mc6800 ? "MC6800" : "MC6809"; }
  /// Null if there is none of that name, in upper case.
  const Mnemonic* find_mnemonic(std::string_view name) const;
  /// All names, aliases too.
  std::vector<std::string> names() const;
  /// A row with this mode exists at all.
  bool has(Mode mode) const { return modes_[static_cast<std::size_t>(mode)]; }

  explicit Target(Family family);

 private:
  Family family_;
  std::unordered_map<std::string_view, Mnemonic> mnemonics_;
  std::array<bool, 11> modes_{};
};

/// `MC6800`, `mc6800` and `6800` mean one part: its number as `part_names` has it, if there is such a part.
std::string part_of(std::string_view text);

/// Part numbers, in lower case.
std::vector<std::string> part_names();

enum class Directive : std::uint8_t {
  none,
  cpu,
  else_,
  end,
  endif,
  endm,
  equ,
  fcb,
  fcc,
  fdb,
  fill,
  if_,
  include,
  macro,
  nam,
  org,
  rmb,
  set,
  setdp,
  layout,    ///< OPT, PAGE and others for a printed listing
  other_if,  ///< IFDEF and others that exist elsewhere
  else_if,
};

Directive find_directive(std::string_view upper_name);
/// Those that have a meaning.
std::vector<std::string> directive_names();
/// How the processor does what the other one has a mnemonic for: `LEAX 1,X` for INX; empty if it has no such way.
std::string_view instruction_meant(Target::Family family, std::string_view upper_name);
/// What a directive of another notation is called here, or empty. A comma at the end goes before its operand.
std::string_view directive_meant(std::string_view upper_name);

}  // namespace prewire::assembler
