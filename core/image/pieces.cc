#include "image/pieces.h"

namespace prewire {

void append(std::vector<Segment>& segments, std::uint32_t start, std::span<const std::uint8_t> bytes) {
  if (bytes.empty()) return;
  if (segments.empty() || segments.back().end() != start) segments.push_back({start, {}});
  std::vector<std::uint8_t>& last = segments.back().bytes;
  last.insert(last.end(), bytes.begin(), bytes.end());
}

std::vector<Segment> overlay(const std::vector<Segment>& below, const std::vector<Segment>& above) {
  std::vector<Segment> both;
  for_each_piece(below, above, [&](const Piece& piece) {
    append(both, piece.start, piece.second.empty() ? piece.first : piece.second);
  });
  return both;
}

}  // namespace prewire
