// The `program` of a description: image files, and whether the memories of the board hold them.
#pragma once

#include <filesystem>

#include "description/json_text.h"
#include "description/spec.h"
#include "description/values.h"

namespace prewire {

/// Reads the images into `spec`, whose chips must be there already. Files are looked for in `folder` and must lie under
/// `root`; without a folder none can be read.
void read_program(const JsonValue& program, const std::filesystem::path& folder, const std::filesystem::path& root,
                  MachineSpec& spec, FaultList& faults);

}  // namespace prewire
