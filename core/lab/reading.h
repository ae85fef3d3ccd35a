// The two lists of a check, read entry by entry. docs/lab-checks.md specifies them.
#pragma once

#include <cstdint>

#include "description/fault_list.h"
#include "description/json_text.h"
#include "lab/plan.h"

namespace prewire {

/// Adds an entry of "stimuli" to the plan, and how often it sets a part to `steps`, those of the file so far.
void add_stimulus(const JsonValue& entry, LabCheck::Plan& plan, std::int64_t& steps, FaultList faults);
/// Adds an entry of "expect", unless there is something wrong with it.
void add_expectation(const JsonValue& entry, LabCheck::Plan& plan, FaultList faults);

}  // namespace prewire
