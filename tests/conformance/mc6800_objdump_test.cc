// Encodings against GNU binutils 2.40 for the m68hc11 (Debian binutils-m68hc1x): its assembler turns our notation into
// our bytes, and its disassembler reads our bytes as we do. The 68HC11 keeps all 197 encodings of the MC6800 and gives
// meanings to most of the other 59; its timing differs, so cycles are not compared.
#include <gtest/gtest.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <sstream>

#include "conformance/mc6800_tables.h"
#include "cpu_fixture.h"

namespace prewire::testing {
namespace {

namespace fs = std::filesystem;

/// All opcodes in a row, each with operands by its mode, and how the GNU assembler writes them.
class Mc6800Objdump : public ::testing::Test {
 protected:
  void SetUp() override {
    folder_ = fs::path(::testing::TempDir()) /
              (std::string("prewire-objdump-") + ::testing::UnitTest::GetInstance()->current_test_info()->name());
    fs::remove_all(folder_);
    fs::create_directories(folder_);
  }
  void TearDown() override { fs::remove_all(folder_); }

  std::string path(const char* name) const { return (folder_ / name).string(); }
  /// Paths are ours, without blanks.
  static void run(const std::string& command) { ASSERT_EQ(std::system(command.c_str()), 0) << command; }
  static std::string slurp(const std::string& file) {
    std::ifstream in(file, std::ios::binary);
    EXPECT_TRUE(in) << file;
    return {std::istreambuf_iterator<char>(in), {}};
  }

  static std::vector<std::uint8_t> encode(const OpcodeRow& row) {
    std::vector<std::uint8_t> bytes{static_cast<std::uint8_t>(row.opcode), 0x12, 0x34};
    bytes.resize(row.bytes);
    return bytes;
  }
  static std::string lower(std::string text) {
    for (char& c : text) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    return text;
  }
  /// The instruction as `as` reads it and `objdump` writes it; branches without their operand.
  static std::string in_their_notation(const OpcodeRow& row) {
    const std::string name = lower(row.mnemonic);
    if (row.mode == "immediate") return name + (row.bytes == 3 ? " #0x1234" : " #0x12");
    if (row.mode == "direct") return name + " *0x12";
    if (row.mode == "indexed") return name + " 0x12,x";
    if (row.mode == "extended") return name + " 0x1234";
    return name;
  }

  fs::path folder_;
};

TEST_F(Mc6800Objdump, AssemblerGivesOurBytes) {
  std::string ours;
  {
    std::ofstream source(path("all.s"));
    for (const OpcodeRow& row : opcode_rows()) {
      const std::vector<std::uint8_t> bytes = encode(row);
      ours.append(bytes.begin(), bytes.end());
      const std::string here = "at" + std::to_string(row.opcode);
      source << here << ": " << in_their_notation(row) << (row.mode == "relative" ? " " + here + "+0x14" : "") << "\n";
    }
  }
  run("m68hc11-as -m68hc11 " + path("all.s") + " -o " + path("all.o"));
  run("m68hc11-objcopy -O binary -j .text " + path("all.o") + " " + path("all.bin"));
  const std::string theirs = slurp(path("all.bin"));
  ASSERT_EQ(theirs.size(), ours.size());
  std::size_t at = 0;
  for (const OpcodeRow& row : opcode_rows()) {
    const std::size_t size = row.bytes;
    EXPECT_EQ(theirs.substr(at, size), ours.substr(at, size)) << row.name();
    at += size;
  }
}

TEST_F(Mc6800Objdump, DisassemblerReadsOurBytes) {
  {
    std::ofstream binary(path("all.bin"), std::ios::binary);
    for (const OpcodeRow& row : opcode_rows()) {
      for (const std::uint8_t byte : encode(row)) binary << static_cast<char>(byte);
    }
  }
  run("m68hc11-objdump -D -b binary -m m68hc11 " + path("all.bin") + " > " + path("all.txt"));
  std::istringstream text(slurp(path("all.txt")));
  std::string line;
  while (std::getline(text, line) && line.find("<.data>:") == std::string::npos) {
  }
  int address = 0;
  for (const OpcodeRow& row : opcode_rows()) {
    SCOPED_TRACE(row.name());
    ASSERT_TRUE(std::getline(text, line));
    // "   2:\t96 12       \tldaa\t*0x12"
    std::istringstream parts(line);
    std::string place, bytes, mnemonic, operand;
    std::getline(parts, place, '\t');
    std::getline(parts, bytes, '\t');
    std::getline(parts, mnemonic, '\t');
    std::getline(parts, operand);
    EXPECT_EQ(std::stoi(place, nullptr, 16), address);
    std::istringstream hex(bytes);
    std::vector<int> values;
    for (std::string byte; hex >> byte;) values.push_back(std::stoi(byte, nullptr, 16));
    EXPECT_EQ(values.size(), static_cast<std::size_t>(row.bytes));
    const auto trimmed = [](std::string s) { return s.erase(s.find_last_not_of(' ') + 1); };
    if (row.mode == "relative") {
      EXPECT_EQ(trimmed(mnemonic), lower(row.mnemonic));
      // This version prints "0x" twice.
      const int target = std::stoi(operand.substr(operand.rfind('x') + 1), nullptr, 16);
      EXPECT_EQ(target, address + 2 + 0x12);
    } else {
      EXPECT_EQ(trimmed(mnemonic) + (operand.empty() ? "" : " " + trimmed(operand)), in_their_notation(row));
    }
    address += row.bytes;
  }
  EXPECT_FALSE(std::getline(text, line)) << line;
}

}  // namespace
}  // namespace prewire::testing
