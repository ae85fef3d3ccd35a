// The rules that a check names: their weights, and whether the lab partner has to watch.
#pragma once

#include "description/fault_list.h"
#include "description/spec.h"
#include "lab/plan.h"

namespace prewire {

/// Gives rules the weights that the check wants. A fault for each name that is no rule, or one that cannot speak.
void set_rules(const LabCheck::Plan& plan, MachineSpec& spec, FaultList& faults);

/// As the check says; else if it names one of the partner's rules.
bool wants_partner(const LabCheck::Plan& plan);

}  // namespace prewire
