#include "asm/mnemonics.h"

#include <utility>

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

constexpr std::array<std::pair<std::string_view, Directive>, 18> kDirectives{{{"CPU", Directive::cpu},
                                                                              {"ELSE", Directive::else_},
                                                                              {"END", Directive::end},
                                                                              {"ENDIF", Directive::endif},
                                                                              {"ENDM", Directive::endm},
                                                                              {"EQU", Directive::equ},
                                                                              {"FCB", Directive::fcb},
                                                                              {"FCC", Directive::fcc},
                                                                              {"FDB", Directive::fdb},
                                                                              {"FILL", Directive::fill},
                                                                              {"IF", Directive::if_},
                                                                              {"INCLUDE", Directive::include},
                                                                              {"MACRO", Directive::macro},
                                                                              {"NAM", Directive::nam},
                                                                              {"ORG", Directive::org},
                                                                              {"RMB", Directive::rmb},
                                                                              {"SET", Directive::set},
                                                                              {"SETDP", Directive::setdp}}};

constexpr std::array<std::pair<std::string_view, std::string_view>, 11> kElsewhere{{{"DB", "FCB"},
                                                                                    {"DC.B", "FCB"},
                                                                                    {".BYTE", "FCB"},
                                                                                    {"DW", "FDB"},
                                                                                    {"DC.W", "FDB"},
                                                                                    {".WORD", "FDB"},
                                                                                    {"DS", "RMB"},
                                                                                    {"DS.B", "RMB"},
                                                                                    {".SPACE", "RMB"},
                                                                                    {".ASCII", "FCC"},
                                                                                    {".ORG", "ORG"}}};

using Pairs = std::pair<std::string_view, std::string_view>;

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

std::vector<std::string> part_names() {
  std::vector<std::string> names;
  for (const auto& [name, family] : kParts) names.emplace_back(name);
  return names;
}

Directive find_directive(std::string_view upper_name) {
  for (const auto& [name, directive] : kDirectives) {
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
