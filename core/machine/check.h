// The static check: what is wrong with a circuit before it runs, as far as a look at the wiring can tell.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "machine/json_text.h"
#include "machine/spec.h"
#include "prewire/machine.h"

namespace prewire {

/// Adds the faults of the wiring and of the address map. `places` is the text that `spec` was read from.
///
/// `complete` says that the data was free of faults. Without it only what is there is judged, not what is missing: a
/// driver or a program may stand in a line that could not be read.
void check_wiring(const MachineSpec& spec, const JsonText& places, std::vector<Fault>& faults, bool complete = true);

/// A description, read and checked.
struct CheckedMachine {
  MachineSpec spec;
  std::vector<Fault> faults;  ///< of data and wiring, worst first
  bool data_faults = false;   ///< `spec` is incomplete and must not be built
  bool wiring_faults =
      false;  ///< faults of weight `stop` in the wiring: a bad circuit, which `run_faulty` lets through
};

/// `parse_machine` and `check_wiring` in one go.
CheckedMachine read_and_check(std::string_view json, const std::string& name, const std::filesystem::path& folder,
                              const Registry& registry, const LoadOptions& options);

}  // namespace prewire
