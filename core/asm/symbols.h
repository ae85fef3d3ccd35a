// Names and what they stand for.
#pragma once

#include <cstdint>
#include <deque>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

#include "asm/source.h"

namespace prewire::assembler {

struct Symbol {
  enum class Kind : std::uint8_t { undefined, label, equ, set };

  std::string name;
  Kind kind = Kind::undefined;
  At defined{-1, 0};
  std::int64_t value = 0;
  bool known = false;     ///< has a value, perhaps that of the pass before
  bool early = false;     ///< its value follows from what stands above it
  bool moves = false;     ///< its value depends on an address
  int pass = -1;          ///< the last one in which its definition was reached
  std::vector<int> uses;  ///< lines, ascending
};

class Symbols {
 public:
  int intern(std::string_view name);
  /// -1 if there is no such name.
  int find(std::string_view name) const;
  Symbol& operator[](int id) { return symbols_[static_cast<std::size_t>(id)]; }
  const Symbol& operator[](int id) const { return symbols_[static_cast<std::size_t>(id)]; }
  int count() const { return static_cast<int>(symbols_.size()); }

  /// The name in the table of what is written `name` there: local labels begin with a point.
  static std::string full_name(std::string_view name, std::string_view scope) {
    return name.front() == '.' ? std::string(scope) + std::string(name) : std::string(name);
  }

  /// What a name that nobody defined was perhaps meant to be.
  std::string near(std::string_view name) const;
  /// The same local name below another label, if `name` is a local one; else empty.
  std::string elsewhere(std::string_view name) const;

 private:
  std::deque<Symbol> symbols_;
  std::unordered_map<std::string_view, int> index_;
};

}  // namespace prewire::assembler
