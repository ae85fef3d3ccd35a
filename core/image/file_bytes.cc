#include "image/file_bytes.h"

#include <array>
#include <cerrno>
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
  std::array<char, 65536> block;
  while (const std::size_t count = std::fread(block.data(), 1, block.size(), file.get())) {
    result.bytes.append(block.data(), count);
    result.too_large = result.bytes.size() > most;
    if (result.too_large) return result;
  }
  if (std::ferror(file.get()) != 0) result.trouble = std::generic_category().message(errno);
  return result;
}

}  // namespace prewire
