#include "output_files.h"

#include <fmt/format.h>

#include <filesystem>

#include "shared/ending.h"
#include "shared/trouble.h"

namespace prewire::front::cli {

namespace fs = std::filesystem;

void OutputFiles::add(const std::string& option, const std::string& name, std::string_view text,
                      std::string_view mark) {
  for (const File& other : files_) {
    if (fs::path(other.file.name()).lexically_normal() == fs::path(name).lexically_normal()) {
      const std::string what = other.option == option
                                   ? fmt::format("{} names the same file twice", option)
                                   : fmt::format("{} and {} name the same file", other.option, option);
      throw Trouble(Exit::usage, what, "two names", name);
    }
  }
  const char* replaceable =
      mark.empty() ? "a new file, or a file to replace" : "a new file, or an older one of its kind";
  NewFile& file = files_
                      .emplace_back(option, name, mark,
                                    NewFile::Words{.refused = fmt::format("{} does not write there", option),
                                                   .replaceable = replaceable,
                                                   .failed = fmt::format("the file of {} cannot be written", option)})
                      .file;
  file.write(text);
  file.close();
}

void OutputFiles::finish() {
  const MindsEnding minds;  // all or none
  for (File& each : files_) each.file.take_name();
}

}  // namespace prewire::front::cli
