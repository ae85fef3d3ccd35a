// What a run may take before it is ended.
#pragma once

#include <CLI/CLI.hpp>
#include <cstdint>
#include <string>

#include "prewire/clock.h"

namespace prewire::front {

struct Limits {
  Cycle cycles = 1'000'000'000;
  Picoseconds wall = 60'000'000'000'000;
  std::uint64_t memory = std::uint64_t{2} << 30;
  std::uint64_t output = std::uint64_t{64} << 20;  ///< bytes of timeline, trace and waveform
  bool wall_given = false, memory_given = false;   ///< by an option
};

/// Reads a size such as "64 MiB" for an option. Throws `Trouble`.
std::uint64_t parse_size(const std::string& option, const std::string& text);

/// Reads a number of cycles for an option. Throws `Trouble`.
Cycle parse_cycles(const std::string& option, const std::string& text);

/// Adds `--max-memory` and `--max-wall`, which all commands have; those that run machines have more limits beside them.
void add_limit_options(CLI::App& app);
inline constexpr const char* kLimitGroup = "Limits";
/// What they were set to. Throws `Trouble`.
Limits limits_of(const CLI::App& app);

/// Limits the address space of this program; going over it is a `std::bad_alloc`.
void limit_memory(std::uint64_t bytes);

}  // namespace prewire::front
