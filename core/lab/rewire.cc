#include "lab/rewire.h"

#include <fmt/format.h>

#include "description/fault_list.h"
#include "description/values.h"
#include "description/wires.h"
#include "lab/judging.h"
#include "lab/moved_wire.h"
#include "machine/inside.h"
#include "units/text.h"

namespace prewire {

namespace {

using Kind = ExpectationPlan::Kind;

/// Takes pins off their wires.
void remove_wires(const JsonValue& ends, MachineSpec& spec, FaultList& faults) {
  if (!check_kind(ends, JsonKind::array, "\"remove\"", "a list of pins, such as [\"ADC.INTR\"]", faults)) return;
  for (const JsonValue& end : ends.children()) {
    for (const PinRef pin : read_pins(end, spec, faults)) {
      std::size_t removed = 0;
      for (WireSpec& wire : spec.wires) {
        removed += std::erase_if(wire.pins, [&](PinRef at) { return at.chip == pin.chip && at.pin == pin.pin; });
      }
      if (removed > 0) continue;
      faults.add("no-wire", end.place(), fmt::format("there is no wire at {}", spec.pin_name(pin)),
                 "a pin that a wire goes to", end.shown(), "name the other end, or leave it out");
    }
  }
}

void set_bounce(const BouncePlan& bounce, MachineSpec& spec, FaultList& faults) {
  std::vector<std::string> names;
  const int wanted = spec.chip_named(bounce.part.text);
  for (int i = 0; i < static_cast<int>(spec.chips.size()); ++i) {
    ChipSpec& chip = spec.chips[static_cast<std::size_t>(i)];
    const bool bounces = chip.type->has_parameter("bounce");
    if (bounces) names.push_back(chip.name);
    if (!bounces || i != wanted) continue;
    chip.parameters.set("bounce", bounce.length, true);
    return;
  }
  faults.add("check-bounce", bounce.part.place, fmt::format("{} is no part that bounces", in_quotes(bounce.part.text)),
             names.empty() ? "a machine with a button or a switch" : one_of(names), in_quotes(bounce.part.text),
             meant(bounce.part.text, names, "leave \"bounce\" out"));
}

}  // namespace

Machine rewired(const LabCheck::Plan& plan, const Description& description) {
  MachineSpec spec = Inside::of(description).spec;
  std::vector<Fault> found;
  FaultList faults(found);
  if (plan.seed) spec.seed = *plan.seed;
  set_rules(plan, spec, faults);
  if (plan.remove) remove_wires(*plan.remove, spec, faults);
  if (plan.shorts) read_wires(*plan.shorts, spec, faults);
  for (const WireMove& move : plan.wire_moves) add_moved_wires(move, spec, faults);
  for (const BouncePlan& bounce : plan.bounces) set_bounce(bounce, spec, faults);
  for (const ExpectationPlan& expectation : plan.expectations) {
    const Kind kind = expectation.kind;
    const bool net = kind == Kind::net || kind == Kind::frequency || kind == Kind::pulse || kind == Kind::duty ||
                     kind == Kind::latency;
    if (net) spec.probes.push_back(expectation.subject.text);
  }
  if (!found.empty()) throw InputError(std::move(found));
  return Inside::build(description, std::move(spec));
}

}  // namespace prewire
