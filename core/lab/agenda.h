// What a check looks at, and when, on one machine.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <utility>
#include <vector>

#include "lab/item.h"
#include "lab/plan.h"
#include "prewire/machine.h"
#include "prewire/onlooker.h"

namespace prewire {

struct Agenda {
  Stamp end = 0;
  std::vector<std::pair<Cycle, std::optional<std::uint64_t>>> switches;  ///< off and on, in order; with a seed or not
  std::vector<Item> items;                                               ///< of the expectations, in their order
  std::map<std::uint16_t, std::vector<std::size_t>> visit_at;            ///< items, by place in the program
};

/// The machine gets a breakpoint at each place of `visit_at`. A fault for whatever the plan names and the machine does
/// not have; the agenda, which refers to the plan, is then of no use.
Agenda make_agenda(const LabCheck::Plan& plan, Machine& machine, const std::vector<TimedInput>& inputs,
                   const Onlooker& eye, std::vector<Fault>& faults);

}  // namespace prewire
