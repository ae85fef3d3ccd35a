// What a run may take before it is ended.
#pragma once

#include <cstdint>
#include <string>

#include "prewire/clock.h"

namespace prewire::front {

struct Limits {
  Cycle cycles = 1'000'000'000;
  Picoseconds wall = 60'000'000'000'000;
  std::uint64_t memory = std::uint64_t{2} << 30;
  std::uint64_t output = std::uint64_t{64} << 20;  ///< bytes of timeline, trace and waveform
};

/// Reads a size such as "64 MiB" for an option. Throws `Trouble`.
std::uint64_t parse_size(const std::string& option, const std::string& text);

/// Reads a number of cycles for an option. Throws `Trouble`.
Cycle parse_cycles(const std::string& option, const std::string& text);

/// Reads how much real time an option allows. Throws `Trouble`.
Picoseconds parse_wall(const std::string& option, const std::string& text);

/// Limits the address space of this program; going over it is a `std::bad_alloc`.
void limit_memory(std::uint64_t bytes);

}  // namespace prewire::front
