// What an instruction is about, as far as its bytes and those behind it tell.
#pragma once

#include <cstdint>
#include <optional>

namespace prewire {

struct Intent {
  bool modifies = false;               ///< it writes back what it has made of the byte
  bool frame = false;                  ///< it pulls a frame that was prepared, whose byte need not matter
  bool verifies = false;               ///< it is held against its complement or summed up, to know a warm start
  bool probes = false;                 ///< it goes by an index: it may try one address after the other
  std::optional<std::uint8_t> mark{};  ///< the byte is compared with that, for equality
};

}  // namespace prewire
