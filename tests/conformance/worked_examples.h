// Worked examples from tests/data/cpu/*worked-examples.json, which name the source of each and whether it was read or
// remembered. The programs are ours; only inputs and results are the sources'.
#pragma once

#include <gtest/gtest.h>

#include <fstream>
#include <functional>
#include <map>
#include <nlohmann/json.hpp>
#include <sstream>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

#include "conformance/capstone_reader.h"
#include "cpu_fixture.h"
#include "paths.h"
#include "prewire/disassembler.h"
#include "prewire/partner.h"

namespace prewire::testing {

using Json = nlohmann::json;

/// The examples of a file, `worked-examples.json` or `mc6809-worked-examples.json`.
inline Json examples_in(const std::string& file) { return Json::parse(std::ifstream(test_data() / "cpu" / file)); }

inline const Json& example(const std::string& id) {
  static const Json kAll = [] {
    Json all = examples_in("worked-examples.json");
    for (const Json& each : examples_in("mc6809-worked-examples.json")) all.push_back(each);
    return all;
  }();
  for (const Json& each : kAll) {
    if (each["id"] == id) return each;
  }
  throw std::runtime_error("no example " + id);
}

/// How a processor writes an instruction in a mode of the MC6800.
struct Encoding {
  std::vector<std::uint8_t> opcode;
  int operand_bytes = 0;
};
using Dialect = std::function<Encoding(const std::string& mnemonic, const std::string& mode)>;

/// Just enough of an assembler: labels, one instruction of the MC6800 a line, `$12` direct and `$1234` extended.
class TinyAssembler {
 public:
  TinyAssembler(Dialect dialect, std::uint16_t origin, const std::string& text)
      : dialect_(std::move(dialect)), origin_(origin) {
    for (int pass = 0; pass < 2; ++pass) {
      bytes_.clear();
      std::istringstream lines(text);
      for (std::string line; std::getline(lines, line, '\n');) assemble(line, pass == 1);
    }
  }
  const std::vector<std::uint8_t>& bytes() const { return bytes_; }
  std::uint16_t label(const std::string& name) const { return labels_.at(name); }

 private:
  void assemble(const std::string& line, bool final) {
    std::istringstream words(line);
    std::string word;
    if (!(words >> word)) return;
    if (word.back() == ':') {
      word.pop_back();
      labels_[word] = static_cast<std::uint16_t>(origin_ + bytes_.size());
      if (!(words >> word)) return;
    }
    std::string operand;
    words >> operand;
    const std::string mode = mode_of(word, operand);
    const Encoding encoding = dialect_(word, mode);
    bytes_.insert(bytes_.end(), encoding.opcode.begin(), encoding.opcode.end());
    if (encoding.operand_bytes == 0) return;
    int value = 0;
    if (const auto dollar = operand.find('$'); dollar != std::string::npos) {
      value = std::stoi(operand.substr(dollar + 1), nullptr, 16);
    } else {
      value = final ? label(operand) : 0;
      if (mode == "relative") value -= static_cast<int>(origin_ + bytes_.size() + 1);
      if (final && mode == "relative" && (value < -128 || value > 127)) throw std::runtime_error("too far: " + line);
    }
    if (encoding.operand_bytes == 2) bytes_.push_back(static_cast<std::uint8_t>(value >> 8));
    bytes_.push_back(static_cast<std::uint8_t>(value));
  }
  static std::string mode_of(const std::string& mnemonic, const std::string& operand) {
    if (operand.empty()) return "inherent";
    if (operand[0] == '#') return "immediate";
    if (operand.find(",X") != std::string::npos) return "indexed";
    if (operand[0] == '$') return operand.size() == 3 ? "direct" : "extended";
    return mnemonic == "JMP" || mnemonic == "JSR" ? "extended" : "relative";
  }

  Dialect dialect_;
  int origin_;
  std::vector<std::uint8_t> bytes_;
  std::map<std::string, std::uint16_t> labels_;
};

inline std::vector<std::uint8_t> hex_bytes(const std::string& text) {
  std::istringstream words(text);
  std::vector<std::uint8_t> bytes;
  for (std::string word; words >> word;) bytes.push_back(static_cast<std::uint8_t>(std::stoi(word, nullptr, 16)));
  return bytes;
}

// ---------------------------------------------------------------------------------------------------------------------
// Examples that go from memory to memory

struct Program {
  std::string id;
  std::string text;
  std::map<std::string, int> places{};        ///< addresses of data that the source names only in words
  std::map<std::string, std::string> also{};  ///< further data, such as a table that stands in the note
  std::vector<std::pair<std::string, std::string>>
      more{};  ///< further inputs and results at the same addresses, from the note
};
inline void PrintTo(const Program& program, std::ostream* out) {
  const Json& e = example(program.id);
  *out << e["title"].get<std::string>() << "; " << e["source"].get<std::string>() << " ("
       << e["status"].get<std::string>() << ")";
}

inline const std::string kGreater = R"(
       LDAA $40
       CMPA $41
       BCC  keep
       LDAA $41
keep:  STAA $42)";
inline const std::string kLookUp = R"(
       LDX  #$0050
       LDAB $41
next:  BEQ  found
       INX
       DECB
       BRA  next
found: LDAA $00,X
       STAA $42)";
inline const std::string kJustify = R"(
       CLRB
       LDAA $40
       BMI  done1
shift: INCB
       ASLA
       BPL  shift
done1: STAA $41
       STAB $42)";
inline const std::string kLength = R"(
       CLRB
       LDX  #$0041
       LDAA #$0D
look:  CMPA $00,X
       BEQ  end
       INCB
       INX
       BRA  look
end:   STAB $40)";
inline const std::string kTwoDigits = R"(
       LDAA $40
       ASLA
       TAB
       ASLA
       ASLA
       ABA
       ADDA $41
       STAA $42)";
inline const std::string kMultiply = R"(
       LDX  #$0008
       CLRA
       LDAB $41
       RORB
step:  BCC  zero
       ADDA $40
zero:  RORA
       RORB
       DEX
       BNE  step
       STAA $42
       STAB $43)";
inline const std::string kDivide = R"(
       LDX  #$0008
       LDAA $40
       LDAB $41
step:  ASLB
       ROLA
       BCS  fits
       CMPA $42
       BCS  next
fits:  SUBA $42
       INCB
next:  DEX
       BNE  step
       STAB $43
       STAA $44)";

/// One after the other as an MC6800 has it.
inline std::vector<Program> programs() {
  return {
      {"W01", "LDAA $40\n COMA\n STAA $41"},
      {"W02", "LDAA $40\n ADDA $41\n STAA $42"},
      {"W03", "LDAB $40\n ASLB\n STAB $41"},
      {"W04", "LDAA $40\n ANDA #$0F\n STAA $41"},
      {"W05", "CLR $0040"},
      {"W06", "LDAA $40\n TAB\n ANDB #$0F\n STAB $42\n LSRA\n LSRA\n LSRA\n LSRA\n STAA $41"},
      {"W07", kGreater},
      {"W08", kGreater},
      {"W09", "LDAA $41\n ADDA $43\n STAA $45\n LDAA $40\n ADCA $42\n STAA $44"},
      {"W10", kLookUp, {{"table", 0x50}}},
      {"W11", kLookUp, {{"table", 0x50}}},
      {"W12", "LDAA $40\n SUBA $41\n STAA $42"},
      {"W13", "LDAA $40\n ASLA\n ASLA\n STAA $41"},
      {"W14", "LDAA $40\n ASLA\n ASLA\n ASLA\n ASLA\n LDAB $41\n ANDB #$0F\n ABA\n STAA $42"},
      {"W15", R"(
       LDX  #$0002
       LDAB #$03
       CLC
next:  LDAA $40,X
       ADCA $43,X
       STAA $46,X
       DEX
       DECB
       BNE  next)"},
      {"W16", R"(
       LDS  #$01FF
       LDAA $41
       BSR  square
       STAA $51
       LDAA $42
       BSR  square
       ADDA $51
       STAA $43
       BRA  done
square: STAA $50
       TAB
       CLRA
more:  ADDA $50
       DECB
       BNE  more
       RTS)"},
      {"W17", "LDAA $40\n NEGA\n STAA $41"},
      {"W18", R"(
       LDX  #$0042
       LDAB $41
       CLRA
next:  ADDA $00,X
       INX
       DECB
       BNE  next
       STAA $40)"},
      {"W19", R"(
       LDX  #$0043
       LDAB $42
       CLR  $0040
       CLRA
next:  ADDA $00,X
       BCC  small
       INC  $0040
small: INX
       DECB
       BNE  next
       STAA $41)"},
      {"W20", R"(
       LDX  #$0042
       LDAB $41
       CLRA
next:  TST  $00,X
       BPL  plus
       INCA
plus:  INX
       DECB
       BNE  next
       STAA $40)"},
      {"W21", R"(
       LDX  #$0042
       LDAB $41
       CLRA
next:  CMPA $00,X
       BCC  more
       LDAA $00,X
more:  INX
       DECB
       BNE  next
       STAA $40)"},
      {"W22", R"(
       LDX  #$0042
       LDAB $41
       LDAA #$FF
next:  CMPA $00,X
       BLS  less
       LDAA $00,X
less:  INX
       DECB
       BNE  next
       STAA $40)"},
      {"W23", kJustify},
      {"W24", kJustify},
      {"W25", kJustify},
      {"W26", R"(
       LDX  #$0042
       LDAB $41
       CLRA
next:  EORA $00,X
       INX
       DECB
       BNE  next
       STAA $40)"},
      {"W27", R"(
       LDX  #$0043
       CLR  $0040
       CLR  $0041
next:  LDAA $41
       ADDA $01,X
       STAA $41
       LDAA $40
       ADCA $00,X
       STAA $40
       INX
       INX
       DEC  $0042
       BNE  next)"},
      {"W28", R"(
       CLRB
       LDAA $40
next:  ASLA
       ADCB #$00
       TSTA
       BNE  next
       STAB $41)"},
      {"W29", kLength},
      {"W30", kLength},
      {"W31", R"(
       LDX  #$0041
byte:  LDAA $00,X
       CLRB
bit:   ASLA
       ADCB #$00
       TSTA
       BNE  bit
       RORB
       BCC  even
       LDAA $00,X
       ORAA #$80
       STAA $00,X
even:  INX
       DEC  $0040
       BNE  byte)"},
      {"W32", "LDAA $40\n CMPA #$0A\n BCS digit\n ADDA #$07\ndigit: ADDA #$30\n STAA $41", {}, {}, {{"06", "36"}}},
      {"W33",
       R"(
       CLRB
       LDAA $40
       CMPA #$09
       BHI  blank
       STAA $51
       LDAA #$03
       STAA $50
       LDX  $50
       LDAB $00,X
blank: STAB $41)",
       {},
       {{"0300", "3F 06 5B 4F 66 6D 7D 07 7F 6F"}},
       {{"28", "00"}, {"00", "3F"}, {"09", "6F"}}},
      {"W34",
       R"(
       LDAB #$FF
       LDAA $40
       SUBA #$30
       BCS  other
       CMPA #$09
       BHI  other
       TAB
other: STAB $41)",
       {},
       {},
       {{"55", "FF"}}},
      {"W35", kTwoDigits},
      {"W36", kTwoDigits},
      {"W37", R"(
       LDX  #$0042
       LDAA $41
next:  LDAB #$30
       ASLA
       ADCB #$00
       STAB $00,X
       INX
       CPX  #$004A
       BNE  next)"},
      {"W38",
       R"(
       LDX  #$0003
       LDAB #$04
       CLC
next:  LDAA $40,X
       ADCA $50,X
       STAA $60,X
       DEX
       DECB
       BNE  next)",
       {{"first", 0x40}, {"second", 0x50}, {"sum", 0x60}}},
      {"W39",
       R"(
       LDX  #$0003
       LDAB #$04
       CLC
next:  LDAA $40,X
       ADCA $50,X
       DAA
       STAA $60,X
       DEX
       DECB
       BNE  next)",
       {{"first", 0x40}, {"second", 0x50}, {"sum", 0x60}}},
      {"W40", kMultiply},
      {"W41", kMultiply},
      {"W42", kDivide},
      {"W43", kDivide},
      {"W44",
       R"(
       LDX  #$0003
       LDAB #$04
       CLC
next:  LDAA $40,X
       SBCA $50,X
       STAA $60,X
       DEX
       DECB
       BNE  next)",
       {{"minuend", 0x40}, {"subtrahend", 0x50}, {"difference", 0x60}}},
      {"W45",
       R"(
       LDX  #$0004
nines: DEX
       LDAA #$99
       SUBA $50,X
       STAA $60,X
       CPX  #$0000
       BNE  nines
       LDX  #$0003
       LDAB #$04
       SEC
next:  LDAA $40,X
       ADCA $60,X
       DAA
       STAA $60,X
       DEX
       DECB
       BNE  next)",
       {{"minuend", 0x40}, {"subtrahend", 0x50}, {"difference", 0x60}}},
      {"W61", R"(
       CLRA
       LDAB $21
once:  ADDA $20
       DECB
       BNE  once
       STAA $23
       CLRA
       LDAB $22
twice: ADDA $23
       DECB
       BNE  twice
       STAA $B0)"},
  };
}

/// Runs a program from memory to memory and compares with the published result.
class WorkedExampleBench : public ::testing::TestWithParam<Program> {
 protected:
  WorkedExampleBench(const CpuBench::Parts& parts, Dialect dialect) : bench(parts), dialect_(std::move(dialect)) {}

  std::uint16_t place(const std::string& name) const {
    const auto& places = GetParam().places;
    const auto named = places.find(name);
    return static_cast<std::uint16_t>(named == places.end() ? std::stoi(name, nullptr, 16) : named->second);
  }
  void put(const std::string& where, const std::string& bytes) {
    bench.poke(place(where), bytes == "any" ? std::vector<std::uint8_t>{0x5A} : hex_bytes(bytes));
  }
  void expect(const std::string& where, const std::string& bytes) const {
    std::uint16_t at = place(where);
    for (const std::uint8_t byte : hex_bytes(bytes)) {
      EXPECT_EQ(bench.machine.peek(at), byte) << fmt::format("at ${:04X}", at);
      ++at;
    }
  }
  void run() {
    const TinyAssembler code(dialect_, CpuBench::kStart, GetParam().text + "\ndone: BRA done");
    bench.poke(CpuBench::kStart, code.bytes());
    CpuRegisters r = bench.registers();
    r.pc = CpuBench::kStart;
    bench.set(r);
    Partner partner(bench.machine);
    bench.machine.run_for(10'000);
    partner.conclude();
    for (const Finding& finding : bench.machine.findings()) {
      ADD_FAILURE() << "a published program is no mistake: " << finding.message << " [" << finding.id << "]";
    }
    while (bench.machine.cpu().cycles_into_instruction() != 0) bench.machine.step_cycle();
    EXPECT_EQ(bench.registers().pc, code.label("done"));
  }

  void expect_published_result() {
    const Json& e = example(GetParam().id);
    for (const auto& [where, bytes] : e["input"].items()) put(where, bytes);
    for (const auto& [where, bytes] : GetParam().also) put(where, bytes);
    run();
    for (const auto& [where, bytes] : e["expected"].items()) expect(where, bytes);
    for (const auto& [input, result] : GetParam().more) {
      put(e["input"].begin().key(), input);
      run();
      expect(e["expected"].begin().key(), result);
    }
  }

  /// The program read back is source again, and its instructions have the names that capstone 4.0.2 (Debian
  /// libcapstone-dev) gives them.
  void expect_to_come_back() {
    const TinyAssembler code(dialect_, CpuBench::kStart, GetParam().text + "\ndone: BRA done");
    const std::string part(bench.machine.cpu().type());
    Image image;
    image.segments.push_back({CpuBench::kStart, code.bytes()});
    const DisassembledProgram program = disassemble_program(image, {.cpu = part});
    const std::string source = source_text(program);
    EXPECT_EQ(assemble(source, "back.asm").segments, image.segments) << source;
    EXPECT_TRUE(program.losses.empty()) << source;
    const Capstone capstone(part == "mc6809" ? CS_MODE_M680X_6809 : CS_MODE_M680X_6800);
    for (const DisassembledProgram::Line& line : program.lines) {
      const Capstone::Line theirs = capstone.read(line.address, line.bytes);
      std::string name = upper(theirs.mnemonic);
      if (part == "mc6809" && name.starts_with("LSL")) name.replace(0, 3, "ASL");  // M6809PM appendix A has both
      EXPECT_EQ(line.kind, LineKind::instruction) << source;
      EXPECT_EQ(line.mnemonic, name);
      EXPECT_EQ(static_cast<int>(line.bytes.size()), theirs.bytes);
    }
  }

  CpuBench bench;

 private:
  const Dialect dialect_;
};

}  // namespace prewire::testing
