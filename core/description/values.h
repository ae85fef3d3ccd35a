// What the readers of all parts of a description share: keys, settings with units, addresses, and the faults in them.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "description/fault_list.h"
#include "description/json_text.h"
#include "description/spec.h"
#include "prewire/chip_type.h"

namespace prewire {

/// Whether the value is of that kind; else it is a fault of `subject`.
bool check_kind(const JsonValue& value, JsonKind kind, const std::string& subject, const std::string& expected,
                FaultList& faults);

/// Every key of the object must be one of `keys`.
void check_keys(const JsonValue& object, const std::string& subject, const std::vector<std::string>& keys,
                FaultList& faults);

/// The member with that key, which must be there.
std::optional<JsonValue> need(const JsonValue& object, std::string_view key, const std::string& subject,
                              const std::string& expected, FaultList& faults);

/// A moment or a span of time, in words.
inline constexpr const char* kMomentExample = "a time such as \"10 ms\", or a count of cycles such as \"1200 cycles\"";

/// Which of `words` a text is.
std::optional<std::size_t> read_choice(const JsonValue& value, const std::vector<std::string>& words,
                                       const std::string& subject, FaultList& faults);

/// A number with its unit, a word from a list, or a flag; `owner` is empty or such as " of PIA".
std::optional<std::int64_t> read_setting(const JsonValue& value, const ParameterSpec& setting, const std::string& owner,
                                         FaultList& faults);

/// "$4000", or "0x4000" if one likes.
std::optional<std::uint16_t> read_address(const JsonValue& value, const std::string& subject, FaultList& faults);
/// "$4000-$4003", or one address.
std::optional<Range> read_range(const JsonValue& value, const std::string& subject, FaultList& faults);

// Settings that are no parameters of a chip; the schema describes them too.

/// "clock", or "crystal" for a processor with an oscillator of its own.
ParameterSpec clock_setting(const CpuType& cpu);
ParameterSpec ram_setting();
ParameterSpec keeper_setting();
ParameterSpec seed_setting();
ParameterSpec image_format_setting();

}  // namespace prewire
