// The caution of all commands that say that a machine is sound.
#pragma once

#include <string_view>

namespace prewire::front {

/// The last line of what `check`, `run` and `debug` say to a person if the exit status is 0.
inline constexpr std::string_view kCaution = "no safety check of real wiring: supply off before you rewire a board";

}  // namespace prewire::front
