// From the bytes of a program back to a source that makes the same bytes. docs/disassembler.md tells how it finds out
// what is code, and lists every fault.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "prewire/address_range.h"
#include "prewire/assembler.h"
#include "prewire/image.h"

namespace prewire {

class Machine;

struct AddressName {
  std::uint16_t address = 0;
  std::string name;   ///< as docs/assembler.md allows it for a label, at most 100 characters
  std::string about;  ///< a comment for its line; may be empty
};

struct DisassemblerOptions {
  std::string cpu;                       ///< part number such as "mc6809"
  std::vector<std::uint16_t> entries{};  ///< where code begins, beside what the vectors tell
  std::vector<AddressRange> tables{};    ///< words that are addresses of code; within the image
  std::vector<AddressName> names{};      ///< the first for an address counts, and the first use of a name
  std::optional<AddressRange> range{};   ///< what is written; the rest of the image is still followed
  std::uint8_t direct_page = 0;          ///< MC6809: what DP holds
  std::string name{};                    ///< stands for the image in messages
};

/// A program read back from its bytes.
struct DisassembledProgram {
  struct Line {
    std::uint16_t address = 0;
    std::vector<std::uint8_t> bytes;
    LineKind kind = LineKind::data;  ///< `instruction` or `data`
    std::string label;               ///< may be empty
    std::string mnemonic;            ///< of an instruction, or FCB, FDB, FCC, FILL
    std::string operand;             ///< may be empty
    std::string note;                ///< what a reader should know; may be empty
    int cycles = 0;                  ///< of an instruction: the least
    int most_cycles = 0;             ///< with a branch taken; 0 where only an interrupt ends it
    bool ends = false;               ///< the instruction below is not reached from this one
  };
  /// A place where the way of the program is lost.
  struct Loss {
    std::uint16_t address = 0;
    std::string why;
  };

  std::string cpu;    ///< part number
  std::string title;  ///< for NAM; may be empty
  std::uint8_t direct_page = 0;
  std::optional<std::uint16_t> entry;  ///< of the image, for END
  std::vector<AddressName> outside;    ///< addresses that the program names and the lines do not hold, ascending
  std::vector<Line> lines;             ///< ascending
  std::vector<Loss> losses;            ///< ascending

  std::size_t size(LineKind kind) const;  ///< bytes in lines of that kind
};

/// Follows the program from its vectors and the entries, and gives every byte its line. Throws `InputError` for options
/// that the image does not allow.
DisassembledProgram disassemble_program(const Image& image, const DisassemblerOptions& options);

struct SourceStyle {
  bool bytes = false;   ///< addresses and bytes in comments
  bool cycles = false;  ///< cycles in comments
};

/// The program in the language of docs/assembler.md: `assemble` makes the same bytes of it.
std::string source_text(const DisassembledProgram& program, const SourceStyle& style = {});

/// What the description of a machine can tell of addresses: labels of its programs, and the registers of its chips, as
/// the programs name them or else by the data sheet: `PIA.CRA`.
std::vector<AddressName> address_names(const Machine& machine);

}  // namespace prewire
