#include "asm/confined.h"

#include <fmt/format.h>

#include <algorithm>
#include <system_error>

namespace prewire {

namespace fs = std::filesystem;

namespace {

/// The absolute path without symbolic links, as far as it exists.
fs::path resolve(const fs::path& path, std::error_code& error) {
  const fs::path absolute = fs::absolute(path, error);
  return error ? absolute : fs::weakly_canonical(absolute, error);
}

}  // namespace

Refusal refuse_path(const fs::path& path, const fs::path& root, const std::string& beside) {
  const std::string name_of_file = "the name of a file";
  if (path.native().find('\0') != fs::path::string_type::npos) return {"no file can have this name", name_of_file, ""};
  std::error_code error;
  const fs::path real = resolve(path, error);
  const fs::path top = error ? fs::path() : resolve(root, error);
  if (error) return {fmt::format("the file cannot be looked for: {}", error.message()), name_of_file, ""};
  if (std::mismatch(top.begin(), top.end(), real.begin(), real.end()).first != top.end()) {
    return {"the file is outside the folder that may be read", fmt::format("a file under \"{}\"", root.string()),
            "copy it beside " + beside};
  }
  const fs::file_status status = fs::status(path, error);
  if (fs::is_directory(status)) return {"this is a folder", name_of_file, ""};
  if (fs::exists(status) && !fs::is_regular_file(status)) return {"this is no file", name_of_file, ""};
  return {};
}

}  // namespace prewire
