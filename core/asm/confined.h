// Which files may be opened: those under one folder, symbolic links resolved.
#pragma once

#include <filesystem>
#include <string>

namespace prewire {

/// Why a path may not be read, and what would do; `what` is empty if it may.
struct Refusal {
  std::string what, expected, hint;
};

/// Looks whether `path` is a regular file, or nothing yet, under `root`. `beside` is what the file should lie beside,
/// such as "the machine file".
Refusal refuse_path(const std::filesystem::path& path, const std::filesystem::path& root, const std::string& beside);

}  // namespace prewire
