// The files that a command about program images writes: all of them or none.
#pragma once

#include <list>
#include <string>
#include <string_view>
#include <utility>

#include "shared/new_file.h"

namespace prewire::front::cli {

class OutputFiles {
 public:
  /// Writes beside the file; it takes its name in `finish`. An existing file is replaced only if it begins with `mark`.
  /// Throws `Trouble` if it cannot be written.
  void add(const std::string& option, const std::string& file, std::string_view text, std::string_view mark = {});
  void finish();

 private:
  struct File {
    File(std::string of, const std::string& name, std::string_view mark, NewFile::Words words)
        : option(std::move(of)), file(name, mark, std::move(words)) {}

    std::string option;
    NewFile file;
  };

  std::list<File> files_;
};

}  // namespace prewire::front::cli
