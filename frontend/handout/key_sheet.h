// The program as one types it in: address, bytes, what they are, and a checksum for each line.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "prewire/machine.h"

namespace prewire::handout {

struct KeyLine {
  std::uint16_t address = 0;
  std::vector<std::uint8_t> bytes;  ///< 1 to 8
  std::string text;                 ///< "LDAA $4001", "data", "vector of RESET"
  std::string source;               ///< the line of source; else the label at this address, or empty

  /// 8-bit sum of the bytes of the line. The address is not part of it.
  std::uint8_t sum() const;
};

struct KeySheet {
  std::vector<KeyLine> lines;  ///< by address

  std::size_t bytes() const;
  /// 16-bit sum of all bytes.
  std::uint16_t sum() const;
};

/// Where no source is known, code is what the disassembler can follow from the vectors.
KeySheet make_key_sheet(const Machine& machine);

/// One line as a key-in listing (docs/images.md) has it, with room for `most` bytes; the checksum and the rest are its
/// comment.
std::string to_text(const KeyLine& line, std::size_t most);
/// All lines, with what the checksum means; an image in the format `key-in`.
std::string to_text(const KeySheet& sheet);

}  // namespace prewire::handout
