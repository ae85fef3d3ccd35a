// Gives every statement its address and its bytes.
#pragma once

#include <array>
#include <cstdint>
#include <span>
#include <vector>

#include "asm/encode.h"
#include "asm/program.h"

namespace prewire::assembler {

/// Instructions begin in their shortest form, and each pass lengthens those whose operand does not fit; nothing ever
/// becomes shorter again, so the passes come to an end.
class Layout {
 public:
  explicit Layout(Program& program) : program_(program), encoder_(program) {}

  void run();

  /// The statement whose byte stands there, or -1.
  int owner(std::uint32_t address) const { return used(address) ? owner_[address] : -1; }
  /// The page of the address may have bytes. Small programs use few of the 256.
  bool used(std::uint32_t address) const { return used_[address / kPage]; }
  static constexpr std::uint32_t kPage = 256;
  std::uint8_t byte(std::uint32_t address) const { return memory_[address]; }
  /// Those from `first` to before `end`.
  std::vector<std::uint8_t> bytes(std::uint32_t first, std::uint32_t end) const {
    return {memory_.begin() + first, memory_.begin() + end};
  }

 private:
  static constexpr std::int64_t kEnd = 0x10000;
  // Past these, everything takes its longest form, and values that still change never settle.
  static constexpr int kPatience = 20;
  static constexpr int kMostPasses = 60;

  bool pass(int number);
  void emit(int number);
  Value value_of(int node, int line, bool final_pass) const;
  Value operand_of(const Statement& statement, bool final_pass) const;
  bool define(const Statement& statement, int number, std::int64_t value);
  bool assign(Statement& statement, int number, bool final_pass);
  /// The value of a directive that needs it at once; its fallback if it has none.
  std::int64_t directive(const Statement& statement, int index, std::int64_t least, std::int64_t most,
                         std::int64_t fallback, bool final_pass);
  std::int64_t space(const Statement& statement, bool final_pass);
  void use(std::size_t address);
  void place(int index, std::span<const std::uint8_t> bytes);
  void data(int index);
  void fault(const char* id, const Statement& statement, int node, Words words);

  Program& program_;
  Encoder encoder_;
  int number_ = 0;
  std::int64_t location_ = 0;
  int direct_page_ = 0;
  bool past_end_ = false;
  // Set where a page is used.
  std::array<bool, 65536 / kPage> used_{};
  std::array<std::uint8_t, 65536> memory_;
  std::array<std::int32_t, 65536> owner_;
};

}  // namespace prewire::assembler
