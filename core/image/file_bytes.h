// The one way in which the library reads files.
#pragma once

#include <cstddef>
#include <filesystem>
#include <string>

namespace prewire {

struct FileBytes {
  std::string bytes;
  int error = 0;           ///< of `errno`; 0 if the file could be read
  bool too_large = false;  ///< there are more bytes than asked for: what is here is only the beginning
};

/// Reads a file of at most `most` bytes; of a larger one a little more than that.
FileBytes read_bytes(const std::filesystem::path& path, std::size_t most);

}  // namespace prewire
