#include "description/text_file.h"

#include <system_error>

#include "description/json_text.h"
#include "image/file_bytes.h"

namespace prewire {

std::string read_text_file(const std::filesystem::path& file, const std::string& subject) {
  FileBytes read = read_bytes(file, JsonText::kMostBytes);
  if (read.trouble.empty()) return std::move(read.bytes);  // if it is too large, the reader says so
  std::error_code error;
  const bool folder = std::filesystem::is_directory(file, error);
  const bool exists = std::filesystem::exists(file, error);
  throw InputError(Fault{.id = "unreadable-file",
                         .weight = Weight::stop,
                         .place = {.file = file.string()},
                         .what = subject + " cannot be read",
                         .expected = "a file that can be opened",
                         .found = exists ? read.trouble : "no such file",
                         .hint = folder ? "name the file in it" : "check the path"});
}

std::filesystem::path folder_of(const std::filesystem::path& file) {
  const std::filesystem::path folder = file.parent_path();
  return folder.empty() ? "." : folder;
}

}  // namespace prewire
