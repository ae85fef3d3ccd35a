// Instructions as bytes: which form an operand takes, and what it looks like.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>

#include "asm/program.h"

namespace prewire::assembler {

/// The bytes of one instruction.
class Code {
 public:
  void push_back(std::uint8_t byte) { bytes_[count_++] = byte; }
  std::size_t size() const { return count_; }
  const std::uint8_t* data() const { return bytes_.data(); }
  const std::uint8_t* begin() const { return bytes_.data(); }
  const std::uint8_t* end() const { return bytes_.data() + count_; }
  std::uint8_t operator[](std::size_t index) const { return bytes_[index]; }

 private:
  std::array<std::uint8_t, 7> bytes_{};
  std::uint8_t count_ = 0;
};

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
  Code encode(const Statement& statement, const Value& value, int direct_page);

 private:
  bool fits(const Statement& statement, std::int64_t value, std::int64_t least, std::int64_t most, const char* what,
            const char* hint = "");
  void indexed(const Statement& statement, const Value& value, Code& bytes);
  void branch(const Statement& statement, const Value& value, Code& bytes);

  Program& program_;
};

}  // namespace prewire::assembler
