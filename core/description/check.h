// The static check: what is wrong with a circuit before it runs, as far as a look at the wiring can tell.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "description/json_text.h"
#include "description/spec.h"
#include "prewire/description.h"

namespace prewire {

/// A description, read and checked.
struct CheckedMachine {
  MachineSpec spec;
  std::vector<Fault> faults;  ///< of data and wiring, worst first
  bool data_faults = false;   ///< `spec` is incomplete and must not be built
  bool wiring_faults =
      false;  ///< faults of weight `stop` in the wiring: a bad circuit, which `run_faulty` lets through
};

/// Also the faults of the wiring and of the address map.
CheckedMachine read_and_check(std::string_view json, const std::string& name, const std::filesystem::path& folder,
                              const Registry& registry, const LoadOptions& options);

}  // namespace prewire
