// What outputs and inputs of LS TTL are good for.
#pragma once

#include "prewire/chip_type.h"

namespace prewire::chips {

// TI, The TTL Data Book; SN74LS00 and SN74LS273: recommended operating conditions and electrical characteristics. What
// usual parts give is the least current into a short circuit.
inline constexpr PinLimits kLsOutput{.sink = 8'000,
                                     .sink_at = 500'000,
                                     .source = 400,
                                     .source_at = 2'700'000,
                                     .source_typical = 20'000,
                                     .high_typical = 3'400'000};
inline constexpr PinLimits kLsInput{.low = 400, .high = 20};

/// Three-state outputs. TI, The TTL Data Book, 74LS373 and 74LS374; Motorola, SN74LS125A and SN74LS126A, what usual
/// parts of these give from memory; SN74LS257B from memory.
inline constexpr PinLimits kLsThreeState{.sink = 24'000,
                                         .sink_at = 500'000,
                                         .source = 2'600,
                                         .source_at = 2'400'000,
                                         .source_typical = 20'000,
                                         .high_typical = 3'100'000,
                                         .high = 20};

}  // namespace prewire::chips
