// Which checks `prewire test` runs.
#pragma once

#include <cstddef>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "prewire/lab_check.h"

namespace prewire::front::cli {

struct Selection {
  std::string filter;             ///< a pattern for names, with * and ?; empty for all
  std::vector<std::string> tags;  ///< a check needs one of them, if there are any
  std::size_t shard = 1, shards = 1;
  std::filesystem::path root;  ///< files must lie under it; empty: under the folder of the check file
};

/// One thing to do: a check, or a file that holds none because it is faulty.
struct Task {
  std::string file;  ///< check file, as it is named in messages
  std::optional<LabCheck> check;
  std::vector<Fault> faults;  ///< why it cannot be run; there are some if there is no check
  std::string root;           ///< as it was given; may be empty

  std::string name() const { return check ? check->name() : ""; }
};

/// Reads the check files among `paths`, and those in folders and the folders in them, in order of name, and chooses.
/// Throws `Trouble` for a path that is not there, and where nothing is found at all.
std::vector<Task> find_tasks(const std::vector<std::string>& paths, const Selection& selection);

/// Whether a pattern with * (any text) and ? (any character) fits all of a name.
bool fits(std::string_view pattern, std::string_view name);

}  // namespace prewire::front::cli
