// The one way in which the library reads files.
#pragma once

#include <cstddef>
#include <filesystem>
#include <string>

namespace prewire {

struct FileBytes {
  std::string bytes;
  std::string trouble;     ///< why it cannot be read, such as "No such file or directory"; empty if it could
  bool too_large = false;  ///< there are more bytes than asked for: what is here is only the beginning
};

/// Reads a file of at most `most` bytes; of a larger one a little more than that. Folders, pipes and devices are not
/// opened: a pipe may never have an end, and a device may do something when it is read.
FileBytes read_bytes(const std::filesystem::path& path, std::size_t most);

}  // namespace prewire
