// Pure logic: outputs as a function of inputs, without state and without time.
#pragma once

#include <cstdint>

namespace prewire {

/// What a line of logic is. As an input it is never `off`: an open input counts as what its technology makes of it.
enum class Logic : std::uint8_t {
  low,
  high,
  unknown,  ///< one of the two, and nobody can say which
  off,      ///< of an output: it lets go
};

constexpr Logic to_logic(bool high) { return high ? Logic::high : Logic::low; }
constexpr bool known(Logic a) { return a == Logic::low || a == Logic::high; }

constexpr Logic operator!(Logic a) {
  return a == Logic::low ? Logic::high : a == Logic::high ? Logic::low : Logic::unknown;
}
/// One that is low decides, whatever the other is.
constexpr Logic operator&(Logic a, Logic b) {
  if (a == Logic::low || b == Logic::low) return Logic::low;
  return a == Logic::high && b == Logic::high ? Logic::high : Logic::unknown;
}
constexpr Logic operator|(Logic a, Logic b) { return !((!a) & (!b)); }
constexpr Logic operator^(Logic a, Logic b) { return known(a) && known(b) ? to_logic(a != b) : Logic::unknown; }

}  // namespace prewire
