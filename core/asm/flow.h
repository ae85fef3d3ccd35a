// What one instruction is, where it goes, and which address it names.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "asm/mnemonics.h"

namespace prewire::assembler {

/// How an address is used, as bits of a set.
enum Use : unsigned {
  kCalled = 0x01,    ///< by a call
  kJumped = 0x02,    ///< by a branch or a jump
  kEntry = 0x04,     ///< the caller says so
  kAccessed = 0x08,  ///< the memory there is read or written
  kWord = 0x10,      ///< two bytes of it are
  kValue = 0x20,     ///< a number that may be an address
  kListed = 0x40,    ///< a table or a vector holds it
};

/// The way to an instruction set: which part, and what direct addressing reaches.
struct Reading {
  std::string cpu;
  const Target* target = nullptr;
  std::uint8_t direct_page = 0;
};

/// One instruction.
struct Step {
  const Instruction* row = nullptr;  ///< null where nothing is defined
  bool cut = false;                  ///< nothing, because bytes are missing
  int size = 1;
  std::string text;                      ///< in the language of the assembler, numbers only
  std::optional<std::uint16_t> named;    ///< the address that its operand names
  unsigned use = 0;                      ///< what it does with that
  unsigned way = 0;                      ///< of a branch, jump or call
  std::optional<std::uint16_t> target;   ///< where it may go
  std::optional<std::uint16_t> pointer;  ///< where it may go stands there
  bool lost = false;                     ///< it goes where only the run decides
  bool goes_on = false;                  ///< the instruction behind it may be next
};

/// The instruction that `code` begins with, if it holds all of it.
Step read_step(const Reading& reading, std::uint16_t address, std::span<const std::uint8_t> code);

/// The text with a name in place of the address. While the assembler looks for the shortest forms, the name may stand
/// for addresses from `least` on.
std::string with_name(const Reading& reading, const Step& step, const std::string& name, std::uint16_t least);

/// Whether the assembler makes these bytes of the text.
bool comes_back(const Reading& reading, std::uint16_t address, std::string_view text,
                std::span<const std::uint8_t> bytes);

}  // namespace prewire::assembler
