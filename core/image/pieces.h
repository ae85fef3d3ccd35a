// Runs of addresses: put together to segments, and two images taken apart side by side.
#pragma once

#include <algorithm>
#include <cstdint>
#include <limits>
#include <span>
#include <vector>

#include "prewire/image.h"

namespace prewire {

/// Appends bytes at `start`, which lies behind all that is there, and keeps segments from touching.
void append(std::vector<Segment>& segments, std::uint32_t start, std::span<const std::uint8_t> bytes);

/// Both together; `above` counts where both have a byte.
std::vector<Segment> overlay(const std::vector<Segment>& below, const std::vector<Segment>& above);

/// Addresses that each of two images either has all, or has none of. What an image does not have is empty here.
struct Piece {
  std::uint32_t start = 0;
  std::span<const std::uint8_t> first, second;
};

/// Calls `visit` for each piece, ascending.
template <typename Visit>
void for_each_piece(const std::vector<Segment>& first, const std::vector<Segment>& second, Visit visit) {
  constexpr std::uint64_t kNever = std::numeric_limits<std::uint64_t>::max();
  auto a = first.begin(), b = second.begin();
  std::uint64_t at = 0;
  const auto begin = [&](auto segment, const auto& list) {
    return segment == list.end() ? kNever : std::max<std::uint64_t>(segment->start, at);
  };
  while (a != first.end() || b != second.end()) {
    const std::uint64_t from_a = begin(a, first), from_b = begin(b, second);
    at = std::min(from_a, from_b);
    const std::uint64_t end = std::min(from_a == at ? a->end() : from_a, from_b == at ? b->end() : from_b);
    const auto part = [&](auto segment, std::uint64_t from) -> std::span<const std::uint8_t> {
      if (from != at) return {};
      return std::span(segment->bytes).subspan(at - segment->start, end - at);
    };
    visit(Piece{static_cast<std::uint32_t>(at), part(a, from_a), part(b, from_b)});
    at = end;
    if (a != first.end() && a->end() == at) ++a;
    if (b != second.end() && b->end() == at) ++b;
  }
}

}  // namespace prewire
