// Disassembly by capstone 4.0.2 (Debian libcapstone-dev), for comparison with ours.
#pragma once

#include <capstone/capstone.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cctype>
#include <cstdint>
#include <span>
#include <string>

namespace prewire::testing {

inline std::string upper(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(), [](unsigned char c) { return std::toupper(c); });
  return text;
}

class Capstone {
 public:
  struct Line {
    std::string mnemonic, operand;
    int bytes = 0;
    bool defined() const { return mnemonic != "fcb"; }
  };

  explicit Capstone(cs_mode mode) { EXPECT_EQ(cs_open(CS_ARCH_M680X, mode, &handle_), CS_ERR_OK); }
  ~Capstone() { cs_close(&handle_); }
  Capstone(const Capstone&) = delete;
  Capstone& operator=(const Capstone&) = delete;

  Line read(std::uint16_t address, std::span<const std::uint8_t> code) const {
    cs_insn* instruction = nullptr;
    const std::size_t count = cs_disasm(handle_, code.data(), code.size(), address, 1, &instruction);
    EXPECT_EQ(count, 1U);
    if (count == 0) return {};
    const Line line{instruction->mnemonic, instruction->op_str, instruction->size};
    cs_free(instruction, count);
    return line;
  }

 private:
  csh handle_ = 0;
};

}  // namespace prewire::testing
