// The `wires` of a description: lists of pins, ranges of pins, rails and labels that are joined.
#pragma once

#include <string>
#include <vector>

#include "description/json_text.h"
#include "description/ranges.h"
#include "description/spec.h"
#include "description/values.h"

namespace prewire {

/// Reads a list of wires, in addition to those that `spec` has. The processor and the chips must be in `spec` already;
/// those of unknown type have no pins, and what the wires say of them is passed over.
void read_wires(const JsonValue& wires, MachineSpec& spec, FaultList& faults);

/// The wires of the last of the spec's boards, in whose file chips and labels have no prefix.
void read_board_wires(const JsonValue& wires, MachineSpec& spec, FaultList& faults);
/// The connectors of that board: a name or a range of names, and the end that each stands for.
void read_connectors(const JsonValue& connectors, MachineSpec& spec, FaultList& faults);

/// The pins of one end of a wire, which is a pin or a range of pins.
std::vector<PinRef> read_pins(const JsonValue& end, MachineSpec& spec, FaultList& faults);

/// Whether a text could name a chip: a letter, then letters, digits, '_' and '-'.
bool is_chip_name(std::string_view text);

// Regular expressions (ECMA-262) for the schema.
inline constexpr const char* kNamePattern = "^[A-Za-z][A-Za-z0-9_-]*$";
inline constexpr const char* kChipKeyPattern = "^[A-Za-z][A-Za-z0-9_-]*([.][.][A-Za-z0-9_-]+)?$";
std::string wire_end_pattern();

}  // namespace prewire
