#include "asm/mnemonics.h"

#include <utility>

#include "asm/cursor.h"

namespace prewire::assembler {

namespace {

// M6809PM, appendix A: two names for one operation.
constexpr std::array<std::pair<std::string_view, std::string_view>, 7> kAliases6809{{{"LSL", "ASL"},
                                                                                     {"LSLA", "ASLA"},
                                                                                     {"LSLB", "ASLB"},
                                                                                     {"BHS", "BCC"},
                                                                                     {"BLO", "BCS"},
                                                                                     {"LBHS", "LBCC"},
                                                                                     {"LBLO", "LBCS"}}};

constexpr std::array<std::pair<std::string_view, Target::Family>, 5> kParts{{{"mc6800", Target::Family::mc6800},
                                                                             {"mc6802", Target::Family::mc6800},
                                                                             {"mc6808", Target::Family::mc6800},
                                                                             {"mc6809", Target::Family::mc6809},
                                                                             {"mc6809e", Target::Family::mc6809}}};

using Named = std::pair<std::string_view, Directive>;

constexpr std::array kDirectives{
    Named{"CPU", Directive::cpu},     Named{"ELSE", Directive::else_}, Named{"END", Directive::end},
    Named{"ENDIF", Directive::endif}, Named{"ENDM", Directive::endm},  Named{"EQU", Directive::equ},
    Named{"FCB", Directive::fcb},     Named{"FCC", Directive::fcc},    Named{"FDB", Directive::fdb},
    Named{"FILL", Directive::fill},   Named{"IF", Directive::if_},     Named{"INCLUDE", Directive::include},
    Named{"MACRO", Directive::macro}, Named{"NAM", Directive::nam},    Named{"ORG", Directive::org},
    Named{"RMB", Directive::rmb},     Named{"SET", Directive::set},    Named{"SETDP", Directive::setdp},
};
// Read over, or no more than recognised.
constexpr std::array kOthers{
    Named{"EJECT", Directive::layout},    Named{"LIST", Directive::layout},     Named{"LLEN", Directive::layout},
    Named{"NOLIST", Directive::layout},   Named{"NOPAGE", Directive::layout},   Named{"OPT", Directive::layout},
    Named{"PAG", Directive::layout},      Named{"PAGE", Directive::layout},     Named{"PLEN", Directive::layout},
    Named{"SPC", Directive::layout},      Named{"STTL", Directive::layout},     Named{"SUBTTL", Directive::layout},
    Named{"TITLE", Directive::layout},    Named{"TTL", Directive::layout},      Named{"IFDEF", Directive::other_if},
    Named{"IFNDEF", Directive::other_if}, Named{"IFEQ", Directive::other_if},   Named{"IFNE", Directive::other_if},
    Named{"IFGT", Directive::other_if},   Named{"IFGE", Directive::other_if},   Named{"IFLT", Directive::other_if},
    Named{"IFLE", Directive::other_if},   Named{"IFC", Directive::other_if},    Named{"IFNC", Directive::other_if},
    Named{"IFB", Directive::other_if},    Named{".IFDEF", Directive::other_if}, Named{".IFNDEF", Directive::other_if},
    Named{"ELSEIF", Directive::else_if},  Named{"ELIF", Directive::else_if},    Named{".ELSEIF", Directive::else_if},
    Named{".ELIF", Directive::else_if},
};

using Pairs = std::pair<std::string_view, std::string_view>;

constexpr std::array kElsewhere{
    Pairs{"DB", "FCB"},        Pairs{".DB", "FCB"},          Pairs{"DC.B", "FCB"},     Pairs{"BYTE", "FCB"},
    Pairs{".BYTE", "FCB"},     Pairs{".FCB", "FCB"},         Pairs{"DEFB", "FCB"},     Pairs{"FCDB", "FDB"},
    Pairs{"DW", "FDB"},        Pairs{".DW", "FDB"},          Pairs{"DC.W", "FDB"},     Pairs{"WORD", "FDB"},
    Pairs{".WORD", "FDB"},     Pairs{".FDB", "FDB"},         Pairs{"DEFW", "FDB"},     Pairs{".HWORD", "FDB"},
    Pairs{".SHORT", "FDB"},    Pairs{"DS", "RMB"},           Pairs{".DS", "RMB"},      Pairs{"DS.B", "RMB"},
    Pairs{"DEFS", "RMB"},      Pairs{"BLKB", "RMB"},         Pairs{".BLKB", "RMB"},    Pairs{"RES", "RMB"},
    Pairs{".RES", "RMB"},      Pairs{".SPACE", "RMB"},       Pairs{".SKIP", "RMB"},    Pairs{".RMB", "RMB"},
    Pairs{"BSZ", "FILL 0,"},   Pairs{"ZMB", "FILL 0,"},      Pairs{"RZB", "FILL 0,"},  Pairs{".ZERO", "FILL 0,"},
    Pairs{".ASCII", "FCC"},    Pairs{"ASCII", "FCC"},        Pairs{"ASC", "FCC"},      Pairs{"DEFM", "FCC"},
    Pairs{"TEXT", "FCC"},      Pairs{"STRING", "FCC"},       Pairs{".STRING", "FCC"},  Pairs{".FCC", "FCC"},
    Pairs{".STR", "FCC"},      Pairs{".EQU", "EQU"},         Pairs{"EQUAL", "EQU"},    Pairs{"EQUALS", "EQU"},
    Pairs{"DEFL", "SET"},      Pairs{".SET", "SET"},         Pairs{".ORG", "ORG"},     Pairs{"ORIGIN", "ORG"},
    Pairs{".END", "END"},      Pairs{".INCLUDE", "INCLUDE"}, Pairs{"INCL", "INCLUDE"}, Pairs{"LIB", "INCLUDE"},
    Pairs{"USE", "INCLUDE"},   Pairs{".IF", "IF"},           Pairs{"COND", "IF"},      Pairs{".ELSE", "ELSE"},
    Pairs{"ENDC", "ENDIF"},    Pairs{".ENDIF", "ENDIF"},     Pairs{"FI", "ENDIF"},     Pairs{".FI", "ENDIF"},
    Pairs{".ENDC", "ENDIF"},   Pairs{".MACRO", "MACRO"},     Pairs{"MACR", "MACRO"},   Pairs{".ENDM", "ENDM"},
    Pairs{"ENDMACRO", "ENDM"}, Pairs{".ENDMACRO", "ENDM"},   Pairs{"MEND", "ENDM"},    Pairs{"NAME", "NAM"},
    Pairs{".TITLE", "NAM"},    Pairs{"PROCESSOR", "CPU"},    Pairs{".CPU", "CPU"},     Pairs{"DPAGE", "SETDP"},
    Pairs{"SETDPR", "SETDP"},
};

// M6809PM, appendix on the instructions of the MC6800 and their equivalents.
constexpr std::array kFor6809{
    Pairs{"LDAA", "LDA"},      Pairs{"LDAB", "LDB"},       Pairs{"STAA", "STA"},       Pairs{"STAB", "STB"},
    Pairs{"ORAA", "ORA"},      Pairs{"ORAB", "ORB"},       Pairs{"CPX", "CMPX"},       Pairs{"INX", "LEAX 1,X"},
    Pairs{"DEX", "LEAX -1,X"}, Pairs{"INS", "LEAS 1,S"},   Pairs{"DES", "LEAS -1,S"},  Pairs{"PSHA", "PSHS A"},
    Pairs{"PSHB", "PSHS B"},   Pairs{"PULA", "PULS A"},    Pairs{"PULB", "PULS B"},    Pairs{"TAB", "TFR A,B"},
    Pairs{"TBA", "TFR B,A"},   Pairs{"TAP", "TFR A,CC"},   Pairs{"TPA", "TFR CC,A"},   Pairs{"TSX", "TFR S,X"},
    Pairs{"TXS", "TFR X,S"},   Pairs{"CLC", "ANDCC #$FE"}, Pairs{"CLV", "ANDCC #$FD"}, Pairs{"CLI", "ANDCC #$EF"},
    Pairs{"SEC", "ORCC #$01"}, Pairs{"SEV", "ORCC #$02"},  Pairs{"SEI", "ORCC #$10"},  Pairs{"WAI", "CWAI #$FF"},
};
constexpr std::array kFor6800{
    Pairs{"LDA", "LDAA, or LDA A"},
    Pairs{"LDB", "LDAB, or LDA B"},
    Pairs{"STA", "STAA, or STA A"},
    Pairs{"STB", "STAB, or STA B"},
    Pairs{"ORA", "ORAA, or ORA A"},
    Pairs{"ORB", "ORAB, or ORA B"},
    Pairs{"CMPX", "CPX"},
    Pairs{"LSL", "ASL"},
    Pairs{"LSLA", "ASLA"},
    Pairs{"LSLB", "ASLB"},
    Pairs{"BHS", "BCC"},
    Pairs{"BLO", "BCS"},
};

}  // namespace

Target::Target(Family family) : family_(family) {
  const InstructionTable& table = family == Family::mc6800 ? mc6800_instructions() : mc6809_instructions();
  for (const Instruction& row : table.rows()) {
    Mnemonic& mnemonic = mnemonics_[row.mnemonic];
    mnemonic.name = row.mnemonic;
    mnemonic.modes[static_cast<std::size_t>(row.mode)] = &row;
    modes_[static_cast<std::size_t>(row.mode)] = true;
  }
  if (family == Family::mc6800) return;
  for (const auto& [alias, name] : kAliases6809) {
    Mnemonic copy = mnemonics_.at(name);
    copy.name = alias;
    mnemonics_.emplace(alias, copy);
  }
}

const Target* Target::find(std::string_view part) {
  static const Target kMc6800(Family::mc6800), kMc6809(Family::mc6809);
  for (const auto& [name, family] : kParts) {
    if (name == part) return family == Family::mc6800 ? &kMc6800 : &kMc6809;
  }
  return nullptr;
}

const Mnemonic* Target::find_mnemonic(std::string_view name) const {
  const auto found = mnemonics_.find(name);
  return found == mnemonics_.end() ? nullptr : &found->second;
}

std::vector<std::string> Target::names() const {
  std::vector<std::string> names;
  for (const auto& [name, mnemonic] : mnemonics_) names.emplace_back(name);
  return names;
}

std::string part_of(std::string_view text) {
  const std::string part = lower(text);
  return !part.empty() && is_digit(part.front()) ? "mc" + part : part;
}

std::vector<std::string> part_names() {
  std::vector<std::string> names;
  for (const auto& [name, family] : kParts) names.emplace_back(name);
  return names;
}

Directive find_directive(std::string_view upper_name) {
  for (const auto& [name, directive] : kDirectives) {
    if (name == upper_name) return directive;
  }
  for (const auto& [name, directive] : kOthers) {
    if (name == upper_name) return directive;
  }
  return Directive::none;
}

std::vector<std::string> directive_names() {
  std::vector<std::string> names;
  for (const auto& [name, directive] : kDirectives) names.emplace_back(name);
  return names;
}

std::string_view instruction_meant(Target::Family family, std::string_view upper_name) {
  const auto find = [&](const auto& list) -> std::string_view {
    for (const auto& [name, ours] : list) {
      if (name == upper_name) return ours;
    }
    return "";
  };
  return family == Target::Family::mc6809 ? find(kFor6809) : find(kFor6800);
}

std::string_view directive_meant(std::string_view upper_name) {
  for (const auto& [name, ours] : kElsewhere) {
    if (name == upper_name) return ours;
  }
  return "";
}

}  // namespace prewire::assembler
