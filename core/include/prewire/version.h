// The version of the library, for programs that embed it.
#pragma once

namespace prewire {

inline constexpr int kVersionMajor = 0;
inline constexpr int kVersionMinor = 1;
inline constexpr int kVersionPatch = 0;
inline constexpr const char* kVersion = "0.1.0";

}  // namespace prewire
