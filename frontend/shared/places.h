// Addresses as people write and read them: hex, labels, labels with an offset.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "prewire/machine.h"

namespace prewire::front {

/// "$F867", "0xF867", "converted", "converted+3", "table+$10"; a number alone is no address. Empty for anything else.
std::optional<std::uint16_t> parse_place(const Machine& machine, std::string_view text);

/// "converted+3", from the last label at or before the address that stands for code or data of the same stretch of
/// source; empty if there is none.
std::string near_label(const Machine& machine, std::uint16_t address);

/// "$F867 converted+3", or "$F867".
std::string place_text(const Machine& machine, std::uint16_t address);

/// "gauge.asm:118", or empty.
std::string source_text(const Machine& machine, std::uint16_t address);

/// All labels and constants, by name.
std::vector<std::string> label_names(const Machine& machine);

}  // namespace prewire::front
