// Instructions as bytes: which form an operand takes, and what it looks like.
#pragma once

#include <cstdint>
#include <vector>

#include "asm/program.h"

namespace prewire::assembler {

class Encoder {
 public:
  explicit Encoder(Program& program) : program_(program) {}

  /// Begins with the shortest form of an instruction.
  static void shorten(Statement& statement);
  /// Takes a longer form if the value needs it; never a shorter one. `direct_page` is the high byte of the addresses
  /// that direct addressing reaches.
  static void grow(Statement& statement, const Value& value, int direct_page);
  /// The longest form that the source allows.
  static void widen(Statement& statement);
  /// Bytes in all.
  static std::uint32_t size(const Statement& statement);

  /// The bytes at the statement's address. Reports a value that does not fit.
  std::vector<std::uint8_t> encode(const Statement& statement, const Value& value, int direct_page);

 private:
  bool fits(const Statement& statement, std::int64_t value, std::int64_t least, std::int64_t most, const char* what,
            const char* hint = "");
  void indexed(const Statement& statement, const Value& value, std::vector<std::uint8_t>& bytes);
  void branch(const Statement& statement, const Value& value, std::vector<std::uint8_t>& bytes);

  Program& program_;
};

}  // namespace prewire::assembler
