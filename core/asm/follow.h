// Follows a program through memory: which bytes are code, which are words, and which addresses it uses.
#pragma once

#include <algorithm>
#include <array>
#include <bitset>
#include <cstdint>
#include <deque>
#include <map>
#include <string>
#include <vector>

#include "asm/flow.h"

namespace prewire::assembler {

class Follower {
 public:
  enum class Cell : std::uint8_t { data, code, rest_of_code, word, rest_of_word };

  explicit Follower(Reading reading) : reading_(std::move(reading)) {}

  void put(std::uint16_t address, std::uint8_t value) {
    memory_[address] = value;
    present_.set(address);
    first_present_ = std::min<std::uint32_t>(first_present_, address);
    end_present_ = std::max(end_present_, address + 1U);
  }

  /// A word, which code does not run through. False if one of its bytes is missing or taken.
  bool take_word(std::uint16_t address);
  /// A word that holds an address of code. Whether that is in the image.
  bool list(std::uint16_t address, unsigned use);
  void enter(std::uint16_t address, unsigned use) { use_[address] |= use, ways_.push_back(address); }
  /// Follows all ways, then looks for words among the data that is used.
  void run();

  bool present(std::uint32_t address) const { return address <= 0xFFFF && present_[address]; }
  /// Nothing is present below `first_present`, nor from `end_present` on.
  std::uint32_t first_present() const { return first_present_; }
  std::uint32_t end_present() const { return end_present_; }
  std::uint8_t byte(std::uint16_t address) const { return memory_[address]; }
  std::span<const std::uint8_t> bytes(std::uint16_t address, std::size_t count) const {
    return std::span(memory_).subspan(address, count);
  }
  std::uint16_t word(std::uint16_t address) const {
    return static_cast<std::uint16_t>(memory_[address] << 8 | memory_[address + 1U]);
  }
  Cell cell(std::uint16_t address) const { return cells_[address]; }
  /// Where the instruction or word begins that the byte belongs to; the address itself for other data.
  std::uint16_t owner(std::uint16_t address) const;
  /// Of the instruction that begins there.
  const Step& step(std::uint16_t address) const { return steps_.at(address); }
  /// The bits of `Use`, by address.
  const std::map<std::uint16_t, unsigned>& uses() const { return use_; }
  /// What a reader should know of a place, in the order in which it was found.
  const std::map<std::uint16_t, std::vector<std::string>>& notes() const { return notes_; }
  /// Where the way is lost, and why.
  const std::map<std::uint16_t, std::string>& losses() const { return losses_; }

 private:
  /// As far as memory goes, at most the longest instruction.
  std::span<const std::uint8_t> code_at(std::uint16_t address) const;
  void walk(std::uint16_t address);
  /// Whether the instruction has its bytes for itself.
  bool claim(std::uint16_t address, const Step& step);
  void take_uses(std::uint16_t address, const Step& step);
  bool is_free_word(std::uint32_t address) const;
  void find_words();
  void lose(std::uint16_t address, std::string why);
  void note(std::uint16_t address, std::string text) { notes_[address].push_back(std::move(text)); }

  Reading reading_;
  std::array<std::uint8_t, 65536> memory_{};
  std::bitset<65536> present_, seen_;
  std::uint32_t first_present_ = 0x10000, end_present_ = 0;
  std::array<Cell, 65536> cells_{};
  std::map<std::uint16_t, Step> steps_;
  std::map<std::uint16_t, unsigned> use_;
  std::map<std::uint16_t, std::vector<std::string>> notes_;
  std::map<std::uint16_t, std::string> losses_;
  std::deque<std::uint16_t> ways_;
};

}  // namespace prewire::assembler
