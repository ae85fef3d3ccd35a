// The lines of a program that is read back.
#pragma once

#include <string>
#include <vector>

#include "asm/follow.h"
#include "asm/naming.h"
#include "prewire/disassembler.h"

namespace prewire::assembler {

class LineReader {
 public:
  using Line = DisassembledProgram::Line;

  LineReader(const Reading& reading, const Follower& code, const Written& written, const Naming& names)
      : reading_(reading), code_(code), written_(written), names_(names) {}

  /// All of them, ascending.
  std::vector<Line> read();

 private:
  Line& add(std::uint16_t address, std::size_t size, LineKind kind, std::string mnemonic, std::string operand);
  void instruction(std::uint16_t address);
  /// Words that belong together: up to the next one with a name.
  void words(std::uint16_t address);
  void data(std::uint16_t address);
  /// Bytes up to the next text or fill, or as many as one line holds.
  std::size_t plain_length(std::uint16_t address, std::span<const std::uint8_t> run) const;
  /// The line that begins at `address` may go on with the byte behind `size` others.
  bool joins(std::uint16_t address, std::size_t size, Follower::Cell cell) const;
  std::string hex(std::uint16_t address, std::size_t size) const;
  /// The least address that the assembler may take a name for, before all instructions have the length they need.
  std::uint16_t least(std::uint16_t named) const;

  const Reading& reading_;
  const Follower& code_;
  const Written& written_;
  const Naming& names_;
  std::vector<Line> lines_;
  std::uint32_t page_first_ = 0, page_end_ = 0;  // of the lines without a gap around the end of the direct page
  std::size_t run_end_ = 0;                      // of the data that goes on without a break
  std::size_t text_end_ = 0, text_size_ = 0;  // of the characters that were looked at last; the size is 0 for no text
};

}  // namespace prewire::assembler
