// Reads a machine description: every fault of its data in one go. docs/machine-file.md specifies the format.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "description/json_text.h"
#include "description/spec.h"
#include "prewire/description.h"

namespace prewire {

/// What messages call the text.
inline constexpr const char* kMachineDescription = "a machine description";

/// Reads `json` and the images that it names. Never throws for what a user wrote: faults are added to `faults`. Those
/// of weight `stop` mean that the description is incomplete and must not be built. What `options.stop` leads to is
/// thrown.
///
/// `name` stands for the file in messages. Images are looked for in `folder`, or in `options.root` if that is empty; if
/// both are, none can be read. (The folder of a plain file name is ".", not empty.)
MachineSpec parse_machine(std::string_view json, const std::string& name, const std::filesystem::path& folder,
                          const Registry& registry, const LoadOptions& options, std::vector<Fault>& faults);

/// The same for a text that is a tree already.
MachineSpec parse_machine(const JsonText& json, const std::string& name, const std::filesystem::path& folder,
                          const Registry& registry, const LoadOptions& options, std::vector<Fault>& faults);

}  // namespace prewire
