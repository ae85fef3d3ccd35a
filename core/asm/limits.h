// What a source may grow to. A program fills 64 KiB at most, so these bind nobody but those who try: within them the
// assembler takes about a second and 200 MB. docs/assembler.md states them.
#pragma once

#include <cstddef>

namespace prewire::assembler {

/// Of one file.
inline constexpr std::size_t kMostSourceBytes = std::size_t{4} << 20;
/// Of all files, and of the lines that macros make.
inline constexpr std::size_t kMostTextBytes = std::size_t{16} << 20;
inline constexpr int kMostLines = 200'000;
inline constexpr std::size_t kMostLineBytes = 1000;
/// Of one name as written.
inline constexpr std::size_t kMostNameBytes = 100;
/// Different names.
inline constexpr int kMostNames = 100'000;
/// Numbers, names and operators in all expressions.
inline constexpr std::size_t kMostTerms = 1'000'000;
/// Of one macro.
inline constexpr std::size_t kMostParameters = 64;
/// Of a name of a file in INCLUDE: the listing shows it with every use of a name.
inline constexpr std::size_t kMostFileNameBytes = 255;
/// Past so many names, nobody looks for one that was meant.
inline constexpr int kMostSearched = 5000;

}  // namespace prewire::assembler
