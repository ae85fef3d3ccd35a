// The assembler against GNU as 2.40 for the m68hc11 (Debian binutils-m68hc1x), which knows all instructions of the
// MC6800: every instruction in every form, random programs with labels, and the rain barrel gauge.
#include <fmt/format.h>

#include <algorithm>
#include <random>
#include <set>
#include <sstream>

#include "conformance/asm_testing.h"
#include "cpu/instruction.h"
#include "paths.h"
#include "prewire/assembler.h"

namespace prewire::testing {
namespace {

constexpr unsigned kStart = 0x8000;  // where their linker has room

std::string lower(std::string_view text) {
  std::string result(text);
  for (char& c : result) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return result;
}

/// One line in both notations.
struct Line {
  std::string ours, theirs;
};

/// `value` fits the mode; a branch goes to `label`.
Line line_of(const Instruction& row, unsigned value, const std::string& label) {
  const std::string theirs = lower(row.mnemonic), ours(row.mnemonic);
  const unsigned byte = value & 0xFF;
  switch (row.mode) {
    case Mode::inherent: return {ours, theirs};
    case Mode::imm8: return {fmt::format("{} #${:X}", ours, byte), fmt::format("{} #0x{:x}", theirs, byte)};
    case Mode::imm16: return {fmt::format("{} #${:X}", ours, value), fmt::format("{} #0x{:x}", theirs, value)};
    case Mode::direct: return {fmt::format("{} ${:X}", ours, byte), fmt::format("{} *0x{:x}", theirs, byte)};
    case Mode::offset: return {fmt::format("{} {},X", ours, byte), fmt::format("{} {},x", theirs, byte)};
    case Mode::extended:
      return {fmt::format("{} ${:X}", ours, value | 0x100), fmt::format("{} 0x{:x}", theirs, value | 0x100)};
    default: return {ours + " " + label, theirs + " " + label};
  }
}

class AsmBinutils : public AsmReference {
 protected:
  static std::string ours(const std::string& source) {
    const Image image = assemble(source, "ours.asm", {.cpu = "mc6800", .folder = {}, .root = {}});
    EXPECT_EQ(image.segments.size(), 1U);
    return {image.segments[0].bytes.begin(), image.segments[0].bytes.end()};
  }
  std::string theirs(const std::string& source) {
    write("theirs.s", source);
    run("m68hc11-as -m68hc11 -mshort " + path("theirs.s") + " -o " + path("theirs.o"));
    run(fmt::format("m68hc11-ld -m m68hc11elf -e 0 --section-start=.text=0x{:x} {} -o {}", kStart, path("theirs.o"),
                    path("theirs.elf")));
    run("m68hc11-objcopy -O binary -j .text " + path("theirs.elf") + " " + path("theirs.bin"));
    return slurp(path("theirs.bin"));
  }
};

TEST_F(AsmBinutils, EveryInstructionInEveryForm) {
  std::string our_source = fmt::format(" ORG ${:X}\n", kStart), their_source;
  int number = 0;
  for (const Instruction& row : mc6800_instructions().rows()) {
    for (const unsigned value : {0x12U, 0x00U, 0xFFU, 0x80U, 0x7FFFU, 0x1234U, 0xFFFFU}) {
      const std::string label = fmt::format("L{}", number++);
      const Line line = line_of(row, value, label);
      our_source += fmt::format("{} {}\n", label, line.ours);
      their_source += fmt::format("{}: {}\n", label, line.theirs);
      if (row.mode == Mode::inherent) break;
    }
  }
  const std::string mine = ours(our_source), reference = theirs(their_source);
  ASSERT_GT(mine.size(), 2000U);
  EXPECT_EQ(mine, reference);
}

TEST_F(AsmBinutils, AccumulatorsThatStandApart) {
  std::string our_source = fmt::format(" ORG ${:X}\n", kStart), their_source;
  int rows = 0;
  for (const Instruction& row : mc6800_instructions().rows()) {
    const char last = row.mnemonic.back();
    // LDAA, INCB: not TAB, ABA and the like, whose last letter is no accumulator of its own.
    const bool apart = row.mnemonic.size() == 4 && (last == 'A' || last == 'B') && row.mode != Mode::relative;
    if (!apart) continue;
    ++rows;
    const Line line = line_of(row, 0x42, "");
    const std::string operand = line.ours.substr(4);
    our_source += fmt::format(" {} {}{}\n", row.mnemonic.substr(0, 3), last, operand);
    their_source += fmt::format(" {}\n", line.theirs);
  }
  EXPECT_GT(rows, 100);
  EXPECT_EQ(ours(our_source), theirs(their_source));
}

TEST_F(AsmBinutils, RandomPrograms) {
  std::mt19937 random(6800);
  const auto rows = mc6800_instructions().rows();
  for (int round = 0; round < 10; ++round) {
    std::string our_source = fmt::format(" ORG ${:X}\n", kStart), their_source;
    constexpr int kLines = 400;
    for (int i = 0; i < kLines; ++i) {
      const Instruction& row = rows[random() % rows.size()];
      // Branches of up to 30 lines reach; other labels are far above page 0.
      const int target = std::clamp<int>(i - 30 + static_cast<int>(random() % 61), 0, kLines - 1);
      const std::string label = fmt::format("L{}", target);
      Line line = line_of(row, static_cast<unsigned>(random() & 0xFFFF), label);
      if ((row.mode == Mode::extended || row.mode == Mode::imm16) && random() % 2 == 0) {
        const std::string hash = row.mode == Mode::imm16 ? "#" : "";
        const auto more = random() % 9;
        line = {fmt::format("{} {}{}+{}", row.mnemonic, hash, label, more),
                fmt::format("{} {}{}+{}", lower(row.mnemonic), hash, label, more)};
      }
      our_source += fmt::format("L{} {}\n", i, line.ours);
      their_source += fmt::format("L{}: {}\n", i, line.theirs);
    }
    EXPECT_EQ(ours(our_source), theirs(their_source)) << "round " << round;
  }
}

TEST_F(AsmBinutils, Data) {
  EXPECT_EQ(ours(fmt::format(" ORG ${:X}\nL FCB 1,-1,'A,%101,@17\n FDB L,$1234,-2,L+3*(2-5)\n FCC /barrel/\n FILL 7,3\n"
                             " FCB (L>>8)&$FF,~5&$FF,100/7,100%7,1<<6|3,5^1\n",
                             kStart)),
            theirs("L: .byte 1,-1,'A,0b101,017\n .word L,0x1234,-2,L+3*(2-5)\n .ascii \"barrel\"\n .fill 3,1,7\n"
                   " .byte 0x80,~5&0xFF,100/7,100%7,(1<<6)|3,5^1\n"));
}

/// The gauge in their notation, line by line: equates, addresses of RAM as numbers, sections for ORG.
std::string translated(const std::string& source) {
  std::istringstream lines(source);
  std::string result;
  unsigned ram = 0;
  std::set<std::string> direct;
  for (std::string line; std::getline(lines, line);) {
    line = line.substr(0, line.find(';'));
    for (std::size_t at = 0; (at = line.find('$', at)) != std::string::npos; at += 2) line.replace(at, 1, "0x");
    std::istringstream words(line);
    std::string label, mnemonic, operand;
    if (!line.empty() && line[0] != ' ') words >> label;
    words >> mnemonic >> operand;
    const std::string name = label.substr(0, label.find(':'));
    if (mnemonic == "cpu") continue;
    if (mnemonic == "equ") {
      result += name + " = " + operand + "\n";
    } else if (mnemonic == "rmb") {
      result += fmt::format("{} = {}\n", name, ram);
      ram += static_cast<unsigned>(std::stoi(operand));
      direct.insert(name);
    } else if (mnemonic == "org") {
      if (operand == "0xF800") result += ".text\n";
      if (operand == "0xFFF8") result += ".section .vectors, \"a\"\n";
    } else if (mnemonic == "fdb") {
      result += ".word " + operand + "\n";
    } else {
      // They mark direct addressing.
      const std::string mark = direct.count(operand) > 0 ? " *" : " ";
      result += (name.empty() ? "" : name + ":") + " " + mnemonic + mark + operand + "\n";
    }
  }
  return result;
}

TEST_F(AsmBinutils, TheRainBarrelGauge) {
  const std::string file = source_folder() / "scenarios" / "rain_barrel" / "gauge.asm";
  const Image image = assemble_file(file);
  EXPECT_TRUE(image.remarks.empty());
  write("gauge.s", translated(slurp(file)));
  run("m68hc11-as -m68hc11 -mshort " + path("gauge.s") + " -o " + path("gauge.o"));
  run("m68hc11-ld -m m68hc11elf -e 0 --section-start=.text=0xF800 --section-start=.vectors=0xFFF8 " + path("gauge.o") +
      " -o " + path("gauge.elf"));
  run("m68hc11-objcopy -O srec -j .text -j .vectors " + path("gauge.elf") + " " + path("gauge.s19"));
  EXPECT_EQ(image.segments, read_image_file(path("gauge.s19"), ImageFormat::s_record).segments);
}

}  // namespace
}  // namespace prewire::testing
