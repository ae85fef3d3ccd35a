// What the readers of all image formats share: lines, hex digits, faults, and the bytes found so far.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "prewire/image.h"

namespace prewire {

inline constexpr std::string_view kBlanks = " \t";
inline constexpr std::uint64_t kAddressEnd = std::uint64_t{1} << 32;

/// The value of a hex digit, or -1.
int hex_digit(char c);
/// The number that `bytes` (at most four) make, highest byte first.
std::uint32_t big_endian(std::span<const std::uint8_t> bytes);
/// Text from the input for a message: in quotes, shortened, nothing unprintable.
std::string quote(std::string_view text);

/// A line that is not blank, without its line end and the blanks around it.
struct Line {
  int number = 0;  ///< from 1; 0 for input without lines
  int column = 0;  ///< of the first character of `text`
  std::string_view text;
};

/// One input on its way to an image.
class Reading {
 public:
  Reading(std::string_view bytes, std::string name);

  /// The next line that is not blank; none at the end, or when so much is wrong that reading on helps nobody.
  std::optional<Line> next_line();

  Place at(const Line& line, std::size_t offset) const;
  void add(Fault fault);

  /// Bytes for `start` and up, from a line that names the address at `offset`. `limit` is one past the last address
  /// that the line may reach.
  void add_data(const Line& line, std::size_t offset, std::uint64_t start, std::span<const std::uint8_t> bytes,
                std::uint64_t limit = kAddressEnd);

  /// For what a reader sets itself: header and entry.
  Image& image() { return image_; }

  /// Merges the bytes. Throws `InputError` if anything of weight `stop` was found.
  Image finish() &&;

 private:
  struct Chunk {
    std::uint32_t start;
    std::size_t first;  // index in data_
    std::size_t size;
    int line;
    int column;
  };

  void merge();
  void add_overlap(const Chunk& one, const Chunk& two, std::uint32_t address);
  std::uint8_t byte_at(const Chunk& chunk, std::uint32_t address) const;

  std::string name_;
  std::string_view rest_;
  int line_number_ = 0;
  std::vector<std::uint8_t> data_;
  std::vector<Chunk> chunks_;
  std::vector<Fault> faults_;
  Image image_;
};

/// Whether a line starts with one of `marks`; else reports that it is not `record`, such as "an S-record".
bool check_mark(Reading& reading, const Line& line, std::string_view marks, std::string_view record);

/// How a line of hex pairs that starts with a length and ends with a checksum is built.
struct RecordShape {
  std::size_t prefix;     ///< characters before the length
  std::size_t uncounted;  ///< bytes of the line that the length leaves out
  std::size_t least;      ///< bytes of the shortest line
  std::uint8_t total;     ///< low byte of the sum over the whole line
};

/// The bytes of a record from its length on, without the checksum; nothing if a fault was found.
std::optional<std::vector<std::uint8_t>> read_record(Reading& reading, const Line& line, const RecordShape& shape);
/// Reports a missing end record (`kinds` says which would do), or lines behind it.
void check_end(Reading& reading, bool ended, std::string_view kinds);

void read_s_record(Reading& reading);
void read_intel_hex(Reading& reading);
void read_key_in(Reading& reading);
bool looks_like_key_in(std::string_view line);

}  // namespace prewire
