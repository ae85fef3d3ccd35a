// A number for a sequence of bytes: FNV-1a, 64 bits (draft-eastlake-fnv). It tells apart what differs by accident; no
// more is asked of it.
#pragma once

#include <cstdint>
#include <span>
#include <string_view>

namespace prewire {

class Hash {
 public:
  void add(std::uint8_t byte) { value_ = (value_ ^ byte) * 0x100000001B3; }
  void add(std::span<const std::uint8_t> bytes) {
    for (const std::uint8_t byte : bytes) add(byte);
  }
  void number(std::int64_t number) {
    for (int i = 0; i < 8; ++i) add(static_cast<std::uint8_t>(static_cast<std::uint64_t>(number) >> 8 * i));
  }
  /// With its length, so that "ab", "c" is not "a", "bc".
  void text(std::string_view text) {
    number(static_cast<std::int64_t>(text.size()));
    for (const char c : text) add(static_cast<std::uint8_t>(c));
  }
  std::uint64_t value() const { return value_; }

 private:
  std::uint64_t value_ = 0xCBF29CE484222325;
};

}  // namespace prewire
