// Repeatable noise: the same seed and number always give the same bits.
#pragma once

#include <cstdint>

namespace prewire {

/// SplitMix64 (Steele, Lea, Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014).
constexpr std::uint64_t mix(std::uint64_t seed, std::uint64_t number) {
  std::uint64_t z = seed + (number + 1) * 0x9E3779B97F4A7C15;
  z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9;
  z = (z ^ (z >> 27)) * 0x94D049BB133111EB;
  return z ^ (z >> 31);
}

}  // namespace prewire
