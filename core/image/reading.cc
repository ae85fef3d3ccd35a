#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "image/readers.h"

namespace prewire {

namespace {

// Past this many faults the input is something else altogether; also bounds the memory that bad input can take.
constexpr std::size_t kMostFaults = 1000;

}  // namespace

int hex_digit(char c) {
  if (c >= '0' && c <= '9') return c - '0';
  if (c >= 'A' && c <= 'F') return c - 'A' + 10;
  if (c >= 'a' && c <= 'f') return c - 'a' + 10;
  return -1;
}

std::uint32_t big_endian(std::span<const std::uint8_t> bytes) {
  std::uint32_t value = 0;
  for (const std::uint8_t byte : bytes) value = value << 8 | byte;
  return value;
}

std::string quote(std::string_view text) {
  constexpr std::size_t kMostShown = 24;
  std::string shown = "'";
  for (const char c : text.substr(0, kMostShown)) {
    if (c >= ' ' && c <= '~') {
      shown += c;
    } else {
      shown += fmt::format("\\x{:02X}", static_cast<unsigned char>(c));
    }
  }
  return shown + (text.size() > kMostShown ? "...'" : "'");
}

Reading::Reading(std::string_view bytes, std::string name) : name_(std::move(name)), rest_(bytes) {
  // Editors on some systems put a byte order mark before the first line.
  if (rest_.substr(0, 3) == "\xEF\xBB\xBF") rest_.remove_prefix(3);
}

std::optional<Line> Reading::next_line() {
  while (!rest_.empty() && faults_.size() < kMostFaults) {
    const std::size_t end = std::min(rest_.find_first_of("\r\n"), rest_.size());
    const std::string_view line = rest_.substr(0, end);
    const std::size_t line_end = rest_.substr(end, 2) == "\r\n" ? 2 : 1;
    rest_.remove_prefix(std::min(end + line_end, rest_.size()));
    ++line_number_;
    const std::size_t first = line.find_first_not_of(kBlanks);
    if (first == std::string_view::npos) continue;
    const std::size_t last = line.find_last_not_of(kBlanks);
    return Line{line_number_, static_cast<int>(first) + 1, line.substr(first, last - first + 1)};
  }
  return std::nullopt;
}

Place Reading::at(const Line& line, std::size_t offset) const {
  return {.file = name_, .line = line.number, .column = line.column + static_cast<int>(offset)};
}

void Reading::add(Fault fault) {
  std::vector<Fault>& list = fault.weight == Weight::stop ? faults_ : image_.remarks;
  if (list.size() < kMostFaults) list.push_back(std::move(fault));
}

void Reading::add_data(const Line& line, std::size_t offset, std::uint64_t start, std::span<const std::uint8_t> bytes,
                       std::uint64_t limit) {
  if (bytes.empty()) return;
  if (start + bytes.size() > limit) {
    add({.id = "image-past-end",
         .weight = Weight::stop,
         .place = at(line, offset),
         .what = fmt::format("the data goes past ${:04X}", limit - 1),
         .expected = fmt::format("no address above ${:04X}", limit - 1),
         .found = fmt::format("${:04X}", start + bytes.size() - 1),
         .hint = "correct the address or shorten the data; it does not go on at the lowest address"});
    return;
  }
  chunks_.push_back({static_cast<std::uint32_t>(start), data_.size(), bytes.size(), line.number,
                     line.column + static_cast<int>(offset)});
  data_.insert(data_.end(), bytes.begin(), bytes.end());
}

Image Reading::finish() && {
  merge();
  if (image_.segments.empty() && faults_.empty()) {
    add({.id = "image-empty",
         .weight = Weight::stop,
         .place = at({}, 0),
         .what = "the image holds no data",
         .expected = "at least one byte",
         .found = "none",
         .hint = "check that this is the right file and that it was written completely"});
  }
  if (!faults_.empty()) {
    faults_.insert(faults_.end(), image_.remarks.begin(), image_.remarks.end());
    throw InputError(std::move(faults_));
  }
  return std::move(image_);
}

void Reading::merge() {
  const auto by_start = [](const Chunk& a, const Chunk& b) { return a.start < b.start; };
  std::stable_sort(chunks_.begin(), chunks_.end(), by_start);

  struct Run {  // bytes of the last segment, from `start` to the next run, came from `chunk`
    std::uint32_t start;
    const Chunk* chunk;
  };
  std::vector<Run> runs;
  for (const Chunk& chunk : chunks_) {
    if (image_.segments.empty() || chunk.start > image_.segments.back().end()) {
      image_.segments.push_back({chunk.start, {}});
      runs.clear();
    }
    Segment& segment = image_.segments.back();
    const auto begin = data_.begin() + static_cast<std::ptrdiff_t>(chunk.first);
    const auto there = segment.bytes.begin() + (chunk.start - segment.start);
    const auto shared = std::min<std::ptrdiff_t>(segment.bytes.end() - there, static_cast<std::ptrdiff_t>(chunk.size));
    if (shared > 0) {
      const std::ptrdiff_t same = std::mismatch(begin, begin + shared, there).first - begin;
      const std::uint32_t address = chunk.start + static_cast<std::uint32_t>(same < shared ? same : 0);
      const auto after = std::upper_bound(runs.begin(), runs.end(), address,
                                          [](std::uint32_t value, const Run& run) { return value < run.start; });
      add_overlap(chunk, *(after - 1)->chunk, address);
    }
    if (shared < static_cast<std::ptrdiff_t>(chunk.size)) {
      runs.push_back({static_cast<std::uint32_t>(segment.end()), &chunk});
      segment.bytes.insert(segment.bytes.end(), begin + shared, begin + static_cast<std::ptrdiff_t>(chunk.size));
    }
  }
}

void Reading::add_overlap(const Chunk& one, const Chunk& two, std::uint32_t address) {
  const auto [early, late] = std::minmax(one, two, [](const Chunk& a, const Chunk& b) { return a.line < b.line; });
  const std::uint8_t first = byte_at(early, address);
  const std::uint8_t second = byte_at(late, address);
  const Place place{.file = name_, .line = late.line, .column = late.column};
  if (first == second) {
    add({.id = "image-repeat",
         .weight = Weight::hint,
         .place = place,
         .what =
             fmt::format("line {} gives ${:04X} again, with the same byte as line {}", late.line, address, early.line),
         .hint = "remove one of the two lines, or correct its address"});
  } else {
    add({.id = "image-overlap",
         .weight = Weight::stop,
         .place = place,
         .what = fmt::format("line {} gives another byte for ${:04X} than line {}", late.line, address, early.line),
         .expected = fmt::format("${:02X}, as in line {}", first, early.line),
         .found = fmt::format("${:02X}", second),
         .hint = "remove one of the two lines, or correct its address"});
  }
}

std::uint8_t Reading::byte_at(const Chunk& chunk, std::uint32_t address) const {
  return data_[chunk.first + (address - chunk.start)];
}

}  // namespace prewire
