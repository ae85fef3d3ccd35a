// The parts that the assembler knows are those that a machine can have, with the same instructions.
#include <gtest/gtest.h>

#include "asm/mnemonics.h"
#include "cpu/cpus.h"

namespace prewire::testing {
namespace {

TEST(AsmParts, AreTheProcessorsOfAMachine) {
  std::vector<std::string> names;
  for (const CpuType& type : cpu_types()) {
    names.push_back(type.chip.name);
    const assembler::Target* target = assembler::Target::find(type.chip.name);
    ASSERT_NE(target, nullptr) << type.chip.name;
    for (const Instruction& row : type.instructions->rows()) {
      const assembler::Mnemonic* mnemonic = target->find_mnemonic(row.mnemonic);
      ASSERT_NE(mnemonic, nullptr) << type.chip.name << ": " << row.mnemonic;
      EXPECT_EQ((*mnemonic)[row.mode], &row) << type.chip.name << ": " << row.mnemonic;
    }
  }
  EXPECT_EQ(assembler::part_names(), names);
}

}  // namespace
}  // namespace prewire::testing
