// Which checks `prewire test` runs.
#pragma once

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "prewire/lab_check.h"

namespace prewire::front::cli {

struct Selection {
  std::string filter;             ///< a pattern for names, with * and ?; empty for all
  std::vector<std::string> tags;  ///< a check needs one of them, if there are any
  std::size_t shard = 1, shards = 1;
  std::filesystem::path root;  ///< files must lie under it; empty: under the folder of the check file
  std::optional<std::pair<std::uint64_t, std::uint64_t>> seeds;  ///< each check with each of these, in place of its own
};

/// One thing to do: a check, or a file that holds none because it is faulty.
struct Task {
  std::string file;  ///< check file, as it is named in messages
  std::optional<LabCheck> check{};
  std::vector<Fault> faults{};          ///< why it cannot run; there are some if there is no check
  std::string again{};                  ///< the command that runs it again
  std::optional<std::uint64_t> seed{};  ///< in place of its own
  std::size_t number = 0;               ///< among all that are chosen, whatever the share; from 1
  std::string owner{};                  ///< whose programs are checked: a name; empty: those of the machine
  std::filesystem::path programs{};     ///< the owner's folder
  std::vector<std::string> given{};     ///< programs that are not the owner's
  std::size_t row = 0, column = 0;      ///< of the class table

  /// Of the check, with the seed; empty if there is none.
  std::string name() const;
};

/// A name for a shell, in single quotes; one that is not printable as the bytes that it has, behind a $.
std::string in_shell(std::string_view text);
/// What runs one check again: " --filter 'half full' --seeds 3", to stand behind a command.
std::string choosing(const Task& task);
/// The K-th of N shares of a list.
template <class Entry>
std::vector<Entry> share_of(std::vector<Entry> all, const Selection& selection) {
  std::vector<Entry> share;
  for (std::size_t i = selection.shard - 1; i < all.size(); i += selection.shards) share.push_back(std::move(all[i]));
  return share;
}

/// Reads the check files among `paths`, and those in folders and the folders in them, in order of name, and chooses.
/// Throws `Trouble` for a path that is not there, and where nothing is found at all.
std::vector<Task> find_tasks(const std::vector<std::string>& paths, const Selection& selection);

/// Whether a pattern with * (any text) and ? (any character) fits all of a name.
bool fits(std::string_view pattern, std::string_view name);

}  // namespace prewire::front::cli
