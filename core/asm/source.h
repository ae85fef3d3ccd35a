// The text that is assembled: files, and the lines in the order in which they are assembled.
#pragma once

#include <deque>
#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "asm/limits.h"
#include "prewire/error.h"

namespace prewire::assembler {

struct SourceFile {
  std::string name;              ///< as messages show it
  std::filesystem::path folder;  ///< where its INCLUDE lines look; empty: they may not
  std::string text;
};

/// How far a file has been read.
struct FilePosition {
  std::size_t offset = 0;
  int line = 0;  ///< the number of the last one that was read
};

/// One line, from a file or out of a macro.
struct SourceLine {
  std::string_view text;
  int file = 0;
  int number = 0;   ///< from 1; of the macro's own line
  int caller = -1;  ///< the line that called the macro; -1 if none did
};

struct Fix;

/// A position in a line.
struct At {
  int line = 0;            ///< index into `Source::lines`
  std::size_t offset = 0;  ///< bytes from its start
};

class Source {
 public:
  void make_room(std::size_t lines) { lines_.reserve(lines); }
  int add_file(std::string name, std::filesystem::path folder, std::string text);
  const SourceFile& file(int index) const { return files_[static_cast<std::size_t>(index)]; }
  int file_count() const { return static_cast<int>(files_.size()); }
  /// The next line of a file, without its end. False behind the last one.
  bool next_line(int file, FilePosition& position, std::string_view& line) const;

  int add_line(const SourceLine& line) {
    lines_.push_back(line);
    return static_cast<int>(lines_.size()) - 1;
  }
  /// A line of a macro with its arguments put in.
  std::string_view keep(std::string text) {
    bytes_ += text.size();
    return kept_.emplace_back(std::move(text));
  }
  /// Of all files, and of all lines that were kept.
  std::size_t bytes() const { return bytes_; }
  const SourceLine& line(int index) const { return lines_[static_cast<std::size_t>(index)]; }
  int line_count() const { return static_cast<int>(lines_.size()); }

  /// `gauge.asm:12`.
  std::string shown(int line) const;
  /// Columns count characters, not bytes.
  Place place(At at) const;
  /// The line, with a caret below the place.
  std::string excerpt(At at) const;
  /// The line as it should read.
  std::string mended(int line, const Fix& fix) const;

 private:
  std::deque<SourceFile> files_;
  std::deque<std::string> kept_;
  std::vector<SourceLine> lines_;
  std::size_t bytes_ = 0;
};

/// Reads a file; what is wrong with it comes back as `error`, such as "no such file".
std::string read_source(const std::filesystem::path& path, std::string& error);

}  // namespace prewire::assembler
