// The assembler against capstone 4.0.2 (Debian libcapstone-dev) in 6809 mode: every instruction in every form that its
// mode has is decoded back to what was written, in as few bytes as M6809PM table 2-1 allows.
#include <capstone/capstone.h>
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cctype>
#include <string>
#include <vector>

#include "cpu/instruction.h"
#include "prewire/assembler.h"

namespace prewire::testing {
namespace {

/// An operand in our notation and in capstone's, and how many bytes it adds to those in the table.
struct Form {
  std::string ours, theirs;
  int more = 0;
};

std::vector<Form> indexed_forms(unsigned next2) {
  std::vector<Form> forms;
  for (const char* r : {"X", "Y", "U", "S"}) {
    const std::string lower(1, static_cast<char>(std::tolower(r[0])));
    const auto add = [&](const std::string& ours, const std::string& theirs, int more) {
      forms.push_back({fmt::format(fmt::runtime(ours), r), fmt::format(fmt::runtime(theirs), lower), more});
    };
    add(",{}", ", {}", 0);
    add("0,{}", ", {}", 0);
    for (const int offset : {1, 15, -1, -16}) add(fmt::format("{},{{}}", offset), fmt::format("{}, {{}}", offset), 0);
    for (const int offset : {16, 127, -17, -128})
      add(fmt::format("{},{{}}", offset), fmt::format("{}, {{}}", offset), 1);
    for (const int offset : {128, 32767, -129, -32768}) {
      add(fmt::format("{},{{}}", offset), fmt::format("{}, {{}}", offset), 2);
    }
    add("<5,{}", "5, {}", 1);
    add(">5,{}", "5, {}", 2);
    add(",{}+", ", {}+", 0);
    add(",{}++", ", {}++", 0);
    add(",-{}", ", -{}", 0);
    add(",--{}", ", --{}", 0);
    for (const char* accumulator : {"A", "B", "D"}) {
      const std::string a(1, static_cast<char>(std::tolower(accumulator[0])));
      add(fmt::format("{},{{}}", accumulator), fmt::format("{}, {{}}", a), 0);
      add(fmt::format("[{},{{}}]", accumulator), fmt::format("[{}, {{}}]", a), 0);
    }
    add("[,{}]", "[, {}]", 0);
    add("[,{}++]", "[, {}++]", 0);
    add("[,--{}]", "[, --{}]", 0);
    for (const int offset : {1, -128, 127}) add(fmt::format("[{},{{}}]", offset), fmt::format("[{}, {{}}]", offset), 1);
    for (const int offset : {128, -129}) add(fmt::format("[{},{{}}]", offset), fmt::format("[{}, {{}}]", offset), 2);
  }
  const unsigned near = next2 + 100, far = (next2 + 0x4000) & 0xFFFF;
  forms.push_back({fmt::format("${:04X},PCR", near), fmt::format("${:04x}, pcr", near), 1});
  forms.push_back({fmt::format("${:04X},PCR", far), fmt::format("${:04x}, pcr", far), 2});
  forms.push_back({fmt::format(">${:04X},PCR", near), fmt::format("${:04x}, pcr", near), 2});
  forms.push_back({fmt::format("[${:04X},PCR]", near), fmt::format("[${:04x}, pcr]", near), 1});
  forms.push_back({fmt::format("[${:04X},PCR]", far), fmt::format("[${:04x}, pcr]", far), 2});
  forms.push_back({"[$1234]", "[$1234]", 2});
  forms.push_back({"[$0012]", "[$0012]", 2});
  return forms;
}

std::vector<Form> forms_of(const Instruction& row, unsigned address) {
  const unsigned next = address + static_cast<unsigned>(row.bytes);
  switch (row.mode) {
    case Mode::inherent: return {{"", ""}};
    case Mode::imm8: return {{"#0", "#0"}, {"#$7F", "#127"}, {"#-1", "#-1"}, {"#255", "#-1"}, {"#$80", "#-128"}};
    case Mode::imm16: return {{"#0", "#0"}, {"#$7FFF", "#32767"}, {"#-1", "#-1"}, {"#$8000", "#-32768"}};
    case Mode::direct: return {{"$12", "$12"}, {"$FF", "$ff"}, {"<$12", "$12"}, {"0", "$00"}};
    case Mode::extended: return {{"$1234", "$1234"}, {"$FFFF", "$ffff"}, {">$12", ">$0012"}, {"$0100", "$0100"}};
    case Mode::relative:
      return {{fmt::format("${:04X}", next + 127), fmt::format("${:04x}", next + 127)},
              {fmt::format("${:04X}", next - 128), fmt::format("${:04x}", next - 128)},
              {"*", fmt::format("${:04x}", address)}};
    case Mode::relative16: return {{"$0000", "$0000"}, {"$FFFF", "$ffff"}, {"*", fmt::format("${:04x}", address)}};
    case Mode::pair:
      return {{"A,B", "a, b"}, {"CC,DP", "cc, dp"}, {"DP,A", "dp, a"}, {"D,X", "d, x"},
              {"Y,U", "y, u"}, {"S,PC", "s, pc"},   {"X,D", "x, d"},   {"B,CC", "b, cc"}};
    case Mode::stack: {
      const bool s = row.mnemonic.back() == 'S';
      const std::string ours = s ? "U" : "S", theirs = s ? "u" : "s";
      return {{"A", "a"},
              {"PC,Y,X,DP,B,A,CC", "cc, a, b, dp, x, y, pc"},
              {"D," + ours, "a, b, " + theirs},
              {"#$FF", "cc, a, b, dp, x, y, " + theirs + ", pc"}};
    }
    default: return indexed_forms(address + static_cast<unsigned>(row.bytes));
  }
}

std::string in_theirs(std::string_view mnemonic) {
  std::string name(mnemonic);
  for (char& c : name) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return name.starts_with("asl") ? "lsl" + name.substr(3) : name;  // one operation, two names
}

/// As capstone prints it. Beside the program counter this version prints the address of an offset of 8 bits as if that
/// were 0; the offset itself it has read.
std::string text_of(const cs_insn& decoded) {
  std::string text = fmt::format("{} {}", decoded.mnemonic, decoded.op_str);
  const cs_m680x& detail = decoded.detail->m680x;
  for (int i = 0; i < detail.op_count; ++i) {
    const cs_m680x_op& operand = detail.operands[i];
    if (operand.type != M680X_OP_INDEXED || operand.idx.base_reg != M680X_REG_PC || operand.idx.offset_bits != 8)
      continue;
    const unsigned target = static_cast<unsigned>(decoded.address) + decoded.size + operand.idx.offset;
    text.replace(text.find('$') + 1, 4, fmt::format("{:04x}", target));
  }
  return text;
}

TEST(AsmCapstone, EveryFormOfTheMc6809) {
  csh handle = 0;
  ASSERT_EQ(cs_open(CS_ARCH_M680X, CS_MODE_M680X_6809, &handle), CS_ERR_OK);
  cs_option(handle, CS_OPT_DETAIL, CS_OPT_ON);
  int forms = 0;
  constexpr unsigned kAddress = 0x2000;
  for (const Instruction& row : mc6809_instructions().rows()) {
    for (const Form& form : forms_of(row, kAddress)) {
      SCOPED_TRACE(fmt::format("{} {}", row.mnemonic, form.ours));
      ++forms;
      // A forced form has no other; without force the assembler chooses among direct and extended.
      const std::string source = fmt::format(" ORG ${:04X}\n {} {}\n", kAddress, row.mnemonic, form.ours);
      std::vector<std::uint8_t> bytes;
      try {
        bytes = assemble(source, "form.asm", {.cpu = "mc6809", .folder = {}, .root = {}}).segments.at(0).bytes;
      } catch (const InputError& error) {
        ADD_FAILURE() << error.what();
        continue;
      }
      EXPECT_EQ(bytes.size(), static_cast<std::size_t>(row.bytes + form.more));
      cs_insn* decoded = nullptr;
      const std::size_t count = cs_disasm(handle, bytes.data(), bytes.size(), kAddress, 1, &decoded);
      ASSERT_EQ(count, 1U);
      EXPECT_EQ(decoded->size, bytes.size());
      EXPECT_EQ(text_of(*decoded), fmt::format("{} {}", in_theirs(row.mnemonic), form.theirs));
      cs_free(decoded, count);
    }
  }
  cs_close(&handle);
  EXPECT_GT(forms, 5000);
}

}  // namespace
}  // namespace prewire::testing
