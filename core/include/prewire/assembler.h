// Assembling programs for the MC6800 and the MC6809. docs/assembler.md specifies the language and lists every fault.
#pragma once

#include <compare>
#include <cstdint>
#include <exception>
#include <filesystem>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "prewire/image.h"

namespace prewire {

struct AssemblyOptions {
  /// Part number such as "mc6809". Empty: the source names it with the directive CPU.
  std::string cpu;
  /// Folder of the source, where INCLUDE looks for files. Empty: nothing can be included.
  std::filesystem::path folder;
  /// Included files must lie under this folder, symbolic links resolved. Empty: under `folder`.
  std::filesystem::path root;
  /// Asked every few hundred lines, in every pass; `true` ends the assembly with `AssemblyStopped`. Empty: nobody is
  /// asked. It runs on the caller's thread, should take no longer than a look at a flag or a clock, and may throw: what
  /// it throws leaves `assemble`. Nothing is kept of an assembly that has ended so.
  std::function<bool()> stop{};
  /// Whether the map of the image (`Image::source`) has lines and symbols. Without them it tells the processor, the
  /// title and the files, and assembling is faster.
  bool lines = true;
};

/// `AssemblyOptions::stop` has said so. No fault of the source.
class AssemblyStopped : public std::exception {
 public:
  const char* what() const noexcept override { return "the assembly was stopped"; }
};

/// What a line of source stands for in memory.
enum class LineKind : std::uint8_t {
  nothing,      ///< a comment, a directive without a value, a line that was skipped
  value,        ///< names a number: EQU, SET; `SourceMap::Line::address` holds its low 16 bits
  place,        ///< moves to an address: ORG, or a label of its own
  instruction,  ///< bytes to execute
  data,         ///< FCB, FDB, FCC, FILL
  space,        ///< RMB: addresses without bytes
};

std::string_view to_string(LineKind kind);

/// Where the bytes of an image come from, and what its names mean.
struct SourceMap {
  struct Line {
    int file = 0;           ///< index into `files`
    int number = 0;         ///< from 1
    bool expanded = false;  ///< a line of a macro, with its arguments put in
    LineKind kind = LineKind::nothing;
    std::uint16_t address = 0;  ///< of its first byte
    std::uint32_t size = 0;     ///< bytes that it fills or reserves
    int cycles = 0;             ///< of an instruction: the least
    int most_cycles = 0;        ///< of an instruction: with a branch taken; 0 where only an interrupt ends it
    bool block = false;         ///< begins a block: the running count of cycles starts again
    std::string text;
  };

  struct Use {
    int file = 0;
    int line = 0;
    friend auto operator<=>(const Use&, const Use&) = default;  // NOLINT(modernize-use-nullptr): no null here
  };

  enum class SymbolKind : std::uint8_t { label, constant, variable, macro };

  struct Symbol {
    std::string name;  ///< a local label comes with its scope: `show.loop`
    SymbolKind kind = SymbolKind::label;
    std::int32_t value = 0;  ///< the last one of a variable; 0 for a macro
    int file = 0;
    int line = 0;           ///< where it is defined
    std::vector<Use> uses;  ///< ascending
  };

  std::string cpu;                 ///< part number
  std::string title;               ///< of NAM, or empty
  std::vector<std::string> files;  ///< the source, then what it includes, as messages name them
  std::vector<Line> lines;         ///< in the order in which they were assembled
  std::vector<Symbol> symbols;     ///< by name

  /// The instruction or data that the byte at `address` belongs to; null if none does.
  const Line* at(std::uint16_t address) const;
  /// Null if there is none. Names are case-sensitive.
  const Symbol* find(std::string_view name) const;
};

std::string_view to_string(SourceMap::SymbolKind kind);

/// Assembles a source. `name` is used in messages only. The image has a `source`, and the warnings as `remarks`: those
/// of one kind in one, and no more than `InputError::kMost`. Throws `InputError` with every fault, and the warnings
/// behind them: file, line, column, the line with a caret under the column. Whatever the source is, memory and time are
/// bounded (docs/assembler.md, "Limits").
Image assemble(std::string_view source, const std::string& name, const AssemblyOptions& options = {});

/// Assembles a file of at most 4 MiB; if `options` names no folder, that of the file.
Image assemble_file(const std::filesystem::path& path, AssemblyOptions options = {});

/// The parts that `AssemblyOptions::cpu` and the directive CPU take.
std::vector<std::string> assembler_cpus();

/// What a person prints: addresses, bytes, cycles and their sum, source; then the symbols with their uses, and the
/// memory that is used. The image must have a `source`.
std::string listing(const Image& image);

/// Symbols and lines as a JSON document for other tools. The image must have a `source`.
std::string symbol_file(const Image& image);

}  // namespace prewire
