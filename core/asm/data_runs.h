// What data looks like: text, equal bytes, anything.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>

namespace prewire::assembler {

/// Equal bytes that `data` begins with; 0 if they are too few to be worth a FILL.
std::size_t fill_length(std::span<const std::uint8_t> data);
/// Printable characters that it begins with.
std::size_t printable_length(std::span<const std::uint8_t> data);
/// The same if they look like a text that FCC can hold, else 0.
std::size_t text_length(std::span<const std::uint8_t> data);
/// A mark for FCC that the text does not hold; 0 if there is none.
char mark_for(std::span<const std::uint8_t> text);

}  // namespace prewire::assembler
