// Lab checks on the desk: what one does to its machine is played, and what was done on the desk is written as one.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "deed.h"
#include "prewire/lab_check.h"

namespace prewire::front::desk {

/// By its name, `.check.json`, or because it has checks in it.
bool is_check_file(const std::filesystem::path& file);

/// One check of a file.
struct PlayedCheck {
  LabCheck check;
  std::filesystem::path machine_file;
  std::string text;  ///< of the check, a JSON object
};

/// The check of that name, or the first one if it is empty. Throws `InputError` for a file that is no check file, a
/// name that no check has, and a check that switches off and on, which is left to the keys of the desk.
PlayedCheck read_played_check(const std::filesystem::path& file, const std::string& name,
                              const std::filesystem::path& root);

/// What was done to a machine since power-on.
struct Script {
  std::string machine;  ///< the machine file, as the check file is to name it
  Cycle cycles = 0;     ///< how long it took
  Timebase timebase;
  std::vector<TimedInput> planned;  ///< those that are over count
  std::vector<Deed> deeds;
  std::string base{};  ///< text of the check that was played, whose machine and bounces hold; or empty
};

/// A check file that does the same and does not expect anything yet. Throws `InputError` if a check cannot do it.
std::string script_file(const Script& script);

}  // namespace prewire::front::desk
