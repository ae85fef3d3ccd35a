// Quantities and addresses as a person writes them.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "prewire/clock.h"

namespace prewire {

/// Units of parameters and inputs. Values are kept as integers in the unit named here.
enum class Unit : std::uint8_t {
  count,        ///< plain number
  millihertz,   ///< written "640 kHz"
  microvolts,   ///< written "2.56 V"
  ohms,         ///< written "10 kOhm"
  femtofarads,  ///< written "150 pF"
  picoseconds,  ///< written "3 ms"
  millilsb,     ///< thousandths of a converter's step, written "0.5 LSB"
  millionths,   ///< a fraction, written 0.25 or "25 %"
  choice,       ///< one of a list of words; the value is its index
  flag,         ///< true or false
};

/// "640 kHz" to 640'000'000 and so on. Empty where `text` is no quantity of that unit, or does not fit.
/// For `count` and `millionths` a bare number is a quantity too.
std::optional<std::int64_t> parse_quantity(std::string_view text, Unit unit);
/// The inverse, with the largest prefix that keeps the number whole or short: "640 kHz".
std::string format_quantity(std::int64_t value, Unit unit);
/// A moment or a span as `format_quantity` writes it; "9500000 s" where it is too long for picoseconds.
std::string format_time(Stamp stamp, const Timebase& timebase);
/// What a person should write: "a frequency such as \"640 kHz\"".
std::string_view quantity_example(Unit unit);

/// "$8000" or "0x8000", one to four digits. Empty where `text` is no address.
std::optional<std::uint16_t> parse_address(std::string_view text);

}  // namespace prewire
