// A memory dump from the real board against the key-in sheet: what differs, and which slip it looks like.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "key_sheet.h"
#include "prewire/image.h"

namespace prewire::handout {

struct Difference {
  std::uint16_t address = 0;
  std::uint8_t expected = 0, found = 0;
  std::string line;  ///< the line of the sheet that it belongs to: "LDAA $4001"
  std::string slip;  ///< what it looks like; may be empty
};

/// Addresses of the program that the dump lacks.
struct Gap {
  std::uint16_t first = 0, last = 0;
  std::string slip;
};

struct Comparison {
  std::vector<Difference> differences;  ///< by address
  std::vector<Gap> gaps;
  std::size_t compared = 0;   ///< addresses that both hold
  std::size_t elsewhere = 0;  ///< bytes of the dump at other addresses, which do not count
  std::string pattern;        ///< what all differences have in common; may be empty

  bool same() const { return differences.empty() && gaps.empty(); }
};

Comparison compare(const KeySheet& sheet, const Image& dump);

std::string to_text(const Comparison& comparison);

}  // namespace prewire::handout
