// Something that moves for long while what should make use of it never comes.
#pragma once

#include <cstdint>

#include "prewire/chip.h"

namespace prewire::chips {

/// Changes that nobody takes: how many, and since when. Part of a chip's state.
struct Wonder {
  std::int64_t moves = 0;
  Stamp first = 0;

  /// Counts a change. Whether there have been `most` of them, for `longest`.
  bool at(const Socket& socket, Stamp when, std::int64_t most, Picoseconds longest) {
    if (++moves == 1) first = when;
    return moves >= most && when - first >= socket.timebase().stamps(longest);
  }
  void archive(Archive& archive) {
    archive.within(moves, 0, Archive::kFar);
    archive.number(first);
  }
};

}  // namespace prewire::chips
