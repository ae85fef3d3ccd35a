#include "image/file_bytes.h"

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstdint>
#include <cstdio>
#include <memory>
#include <system_error>

namespace prewire {

FileBytes read_bytes(const std::filesystem::path& path, std::size_t most) {
  struct Close {
    void operator()(std::FILE* file) const { std::fclose(file); }
  };
  FileBytes result;
  std::error_code unknown;
  const std::filesystem::file_status status = std::filesystem::status(path, unknown);
  if (std::filesystem::exists(status) && !std::filesystem::is_regular_file(status)) {
    result.trouble = std::filesystem::is_directory(status) ? "a folder" : "a pipe or a device";
    return result;
  }
  const std::unique_ptr<std::FILE, Close> file(std::fopen(path.string().c_str(), "rb"));
  if (!file) {
    result.trouble = std::generic_category().message(errno);
    return result;
  }
  // Room for all of it at once, if it tells how much that is.
  std::error_code no_size;
  const std::uintmax_t size = std::filesystem::file_size(path, no_size);
  if (!no_size) result.bytes.reserve(static_cast<std::size_t>(std::min<std::uintmax_t>(size, most)));
  std::array<char, 16384> block;
  while (const std::size_t count = std::fread(block.data(), 1, block.size(), file.get())) {
    result.bytes.append(block.data(), count);
    result.too_large = result.bytes.size() > most;
    if (result.too_large) return result;
  }
  if (std::ferror(file.get()) != 0) result.trouble = std::generic_category().message(errno);
  return result;
}

}  // namespace prewire
