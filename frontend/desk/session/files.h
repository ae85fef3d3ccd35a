// The files that a machine is made of, and whether one of them has changed.
#pragma once

#include <filesystem>
#include <vector>

#include "prewire/machine.h"

namespace prewire::front::desk {

class Files {
 public:
  /// Remembers the opened file, the machine file (the same, or that of the opened check), what it names, and files that
  /// are part of the faults or of the sources.
  void note(const std::filesystem::path& opened, const std::filesystem::path& machine_file, const Machine* machine,
            const std::vector<Fault>& faults);
  /// Whether one of them is not as it was.
  bool changed() const;
  /// They are known as they are now.
  void look();

 private:
  struct File {
    std::filesystem::path path;
    std::filesystem::file_time_type time{};
    std::uintmax_t size = 0;
  };
  static void look_at(File& file);

  std::vector<File> files_;
};

}  // namespace prewire::front::desk
