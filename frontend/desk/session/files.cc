#include "files.h"

#include <algorithm>
#include <fstream>
#include <nlohmann/json.hpp>
#include <set>

namespace prewire::front::desk {

namespace fs = std::filesystem;

void Files::look_at(File& file) {
  std::error_code none;
  file.time = fs::last_write_time(file.path, none);
  if (none) file.time = {};
  file.size = fs::file_size(file.path, none);
  if (none) file.size = 0;
}

void Files::note(const fs::path& opened, const fs::path& machine_file, const Machine* machine,
                 const std::vector<Fault>& faults) {
  const fs::path folder = machine_file.parent_path();
  std::set<fs::path> paths{opened, machine_file};
  const auto add = [&](const std::string& name) {
    std::error_code none;
    for (const fs::path& path : {folder / name, fs::path(name)}) {
      if (!name.empty() && fs::is_regular_file(path, none)) paths.insert(path);
    }
  };
  std::error_code no_file;
  nlohmann::json json;
  if (fs::is_regular_file(machine_file, no_file)) {
    std::ifstream in(machine_file);
    json = nlohmann::json::parse(in, nullptr, false);
  }
  if (json.is_object() && json.contains("program") && json["program"].is_array()) {
    for (const auto& entry : json["program"]) {
      // A file that is missing may come.
      if (entry.is_string()) paths.insert(folder / entry.get<std::string>());
      if (entry.is_object() && entry.contains("file") && entry["file"].is_string()) {
        paths.insert(folder / entry["file"].get<std::string>());
      }
    }
  }
  if (machine != nullptr) {
    for (const Image* image : machine->programs()) {
      if (image->source == nullptr) continue;
      for (const std::string& file : image->source->files) add(file);
    }
  }
  for (const Fault& fault : faults) add(fault.place.file);
  files_.clear();
  for (const fs::path& path : paths) files_.push_back({path, {}, 0});
  look();
}

bool Files::changed() const {
  return std::any_of(files_.begin(), files_.end(), [](const File& known) {
    File now = known;
    look_at(now);
    return now.time != known.time || now.size != known.size;
  });
}

void Files::look() {
  for (File& file : files_) look_at(file);
}

}  // namespace prewire::front::desk
