// The `program` of a description: image files, and whether the memories of the board hold them.
#pragma once

#include <filesystem>
#include <functional>

#include "description/json_text.h"
#include "description/spec.h"
#include "description/values.h"

namespace prewire {

/// Where images come from.
struct ProgramPlaces {
  struct Folder {
    std::filesystem::path folder;  ///< files are looked for here; empty: none can be read
    std::filesystem::path root;    ///< they must lie under it
  };
  Folder usual;
  Folder given;  ///< for those whose names are in `names`
  std::vector<std::string> names;
  std::function<bool()> stop;  ///< of an assembly, as in `AssemblyOptions`
};

/// Reads the images into `spec`, whose chips must be there already.
void read_program(const JsonValue& program, const ProgramPlaces& places, MachineSpec& spec, FaultList& faults);

}  // namespace prewire
