// Where two images differ, as bytes and as instructions.
#include <fmt/format.h>

#include <algorithm>
#include <tuple>

#include "image/pieces.h"
#include "prewire/image_tools.h"

namespace prewire {

namespace {

constexpr std::size_t kLongestInstruction = 5;
constexpr std::uint64_t kCodeEnd = 0x10000;  // a 6800-family processor has 16 address lines

/// One image read as instructions, from the start of the segment that holds the address asked for.
class Side {
 public:
  Side(const Image& image, const Disassembler& disassembler) : segments_(image.segments), disassembler_(disassembler) {}

  /// Goes to the last instruction that starts at `address` or below. `address` never becomes less, so all calls
  /// together read each instruction once.
  void seek(std::uint64_t address) {
    while (at_ < segments_.size() && segments_[at_].end() <= address) enter(at_ + 1);
    if (at_ == segments_.size() || segments_[at_].start > address) return;
    for (std::size_t step = length(); here() + step <= address; step = length()) offset_ += step;
  }
  /// After `seek(address)`: where the instruction that holds `address` starts; `address` itself if there is none.
  std::uint64_t start(std::uint64_t address) const { return inside(address) ? here() : address; }
  /// After `seek(address)`: whether no instruction goes across `address`.
  bool boundary(std::uint64_t address) const { return !inside(address) || here() == address; }

  /// The instructions from `first` on that start below `end`. Both are boundaries, and `seek` has not passed `first`.
  std::vector<ComparedCode> take(std::uint64_t first, std::uint64_t end) {
    std::vector<ComparedCode> code;
    for (seek(first); at_ < segments_.size() && here() < end; seek(here() + length())) {
      const auto bytes = rest().first(length());
      code.push_back({static_cast<std::uint32_t>(here()), {bytes.begin(), bytes.end()}, text()});
    }
    return code;
  }

 private:
  void enter(std::size_t segment) {
    at_ = segment;
    offset_ = 0;
  }
  std::uint64_t here() const { return segments_[at_].start + offset_; }
  std::span<const std::uint8_t> rest() const { return std::span(segments_[at_].bytes).subspan(offset_); }
  bool inside(std::uint64_t address) const {
    return at_ < segments_.size() && segments_[at_].start <= address && address < segments_[at_].end();
  }

  Disassembly read() const {
    const auto code = rest().first(std::min(rest().size(), kLongestInstruction));
    return disassembler_(static_cast<std::uint16_t>(here()), code);
  }
  /// Whether the bytes from here on hold the whole instruction.
  bool whole(const Disassembly& instruction) const {
    const auto size = static_cast<std::size_t>(instruction.bytes);
    return size <= rest().size() && here() + size <= kCodeEnd;
  }
  std::size_t length() const {
    if (here() >= kCodeEnd) return 1;
    const Disassembly instruction = read();
    return whole(instruction) ? static_cast<std::size_t>(instruction.bytes) : 1;
  }
  std::string text() const {
    if (here() >= kCodeEnd) return "";
    const Disassembly instruction = read();
    return whole(instruction) ? instruction.text : fmt::format("FCB ${:02X}", rest()[0]);
  }

  const std::vector<Segment>& segments_;
  const Disassembler& disassembler_;
  std::size_t at_ = 0;      // segment
  std::size_t offset_ = 0;  // of the instruction in it
};

}  // namespace

std::vector<Difference> compare(const Image& first, const Image& second) {
  std::vector<Difference> found;
  const auto add = [&](Difference::Kind kind, std::uint64_t from, std::uint64_t end) {
    found.push_back({kind, {static_cast<std::uint32_t>(from), static_cast<std::uint32_t>(end - 1)}});
  };
  for_each_piece(first.segments, second.segments, [&](const Piece& piece) {
    if (piece.second.empty()) {
      add(Difference::Kind::only_first, piece.start, piece.start + std::uint64_t{piece.first.size()});
      return;
    }
    if (piece.first.empty()) {
      add(Difference::Kind::only_second, piece.start, piece.start + std::uint64_t{piece.second.size()});
      return;
    }
    auto a = piece.first.begin();
    auto b = piece.second.begin();
    while (true) {
      std::tie(a, b) = std::mismatch(a, piece.first.end(), b);
      if (a == piece.first.end()) break;
      const auto from = a - piece.first.begin();
      while (a != piece.first.end() && *a != *b) ++a, ++b;
      add(Difference::Kind::bytes, piece.start + static_cast<std::uint64_t>(from),
          piece.start + static_cast<std::uint64_t>(a - piece.first.begin()));
    }
  });
  return found;
}

std::vector<CodeDifference> compare_code(const Image& first, const Image& second,
                                         std::span<const Difference> differences, const Disassembler& disassembler) {
  // Ranges are found with one pair of readers, instructions taken with another that follows behind.
  Side a(first, disassembler), b(second, disassembler), take_a(first, disassembler), take_b(second, disassembler);
  std::vector<CodeDifference> found;
  for (std::size_t i = 0; i < differences.size();) {
    const std::uint64_t from = differences[i].range.first;
    std::uint64_t end = from + 1;
    a.seek(from);
    b.seek(from);
    // Since the last boundary of both the sides are alike, so this is one of both, too.
    const std::uint64_t start = std::min(a.start(from), b.start(from));
    for (;; ++end) {
      while (i < differences.size() && differences[i].range.first < end) {
        end = std::max(end, std::uint64_t{differences[i].range.last} + 1);
        ++i;
      }
      a.seek(end);
      b.seek(end);
      if (a.boundary(end) && b.boundary(end)) break;
    }
    found.push_back({{static_cast<std::uint32_t>(start), static_cast<std::uint32_t>(end - 1)},
                     take_a.take(start, end),
                     take_b.take(start, end)});
  }
  return found;
}

}  // namespace prewire
