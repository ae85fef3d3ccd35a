#include "machine/fingerprint.h"

#include "machine/hash.h"

namespace prewire {

namespace {

// Raised whenever the core's own part of a state changes.
constexpr int kCoreVersion = 3;

void add(Hash& hash, const BusSpec& bus) {
  hash.number(static_cast<int>(bus.kind));
  hash.number(bus.size);
  hash.number(bus.data_mask);
  hash.number(bus.reads + 2 * bus.writes);
}

void add(Hash& hash, const std::optional<Range>& range) {
  hash.number(range ? 1 : 0);
  if (!range) return;
  hash.number(range->first);
  hash.number(range->last);
}

void add(Hash& hash, const ChipType& type) {
  hash.text(type.name);
  hash.number(type.state_version);
  hash.number(static_cast<std::int64_t>(type.pins.size()));
  for (const PinSpec& pin : type.pins) {
    hash.text(pin.name);
    hash.number(static_cast<int>(pin.kind));
    hash.number(static_cast<int>(pin.implied));
    hash.number(pin.listens + 2 * pin.silent + 4 * pin.latched + 8 * pin.takes_beat);
  }
  hash.number(static_cast<std::int64_t>(type.links.size()));
  for (const LinkSpec& link : type.links) {
    hash.number(link.pin_a);
    hash.number(link.pin_b);
  }
  hash.number(type.input.empty() ? 0 : 1);
}

void add(Hash& hash, const ChipSpec& chip) {
  hash.text(chip.name);
  add(hash, *chip.type);
  hash.number(static_cast<std::int64_t>(chip.type->parameters.size()));
  for (const ParameterSpec& parameter : chip.type->parameters) {
    hash.text(parameter.name);
    hash.number(chip.parameters[parameter.name]);
    hash.number(chip.parameters.given(parameter.name) ? 1 : 0);
  }
  add(hash, chip.at);
  add(hash, chip.mirror);
  add(hash, chip.bus);
  hash.number(static_cast<int>(chip.power_up));
}

}  // namespace

std::uint64_t fingerprint_of(const MachineSpec& spec) {
  Hash hash;
  hash.number(kCoreVersion);
  add(hash, spec.cpu->chip);
  hash.number(spec.e_millihertz);
  hash.number(spec.ram_enabled ? 1 : 0);
  hash.number(static_cast<int>(spec.keeper));
  hash.number(static_cast<std::int64_t>(spec.chips.size()));
  for (const ChipSpec& chip : spec.chips) add(hash, chip);
  hash.number(static_cast<std::int64_t>(spec.wires.size()));
  for (const WireSpec& wire : spec.wires) {
    hash.number(static_cast<std::int64_t>(wire.pins.size()));
    for (const PinRef& pin : wire.pins) {
      hash.number(pin.chip);
      hash.number(pin.pin);
    }
    hash.number(wire.rail_microvolts ? 1 : 0);
    hash.number(wire.rail_microvolts.value_or(0));
    hash.text(wire.label);
  }
  hash.number(static_cast<std::int64_t>(spec.programs.size()));
  for (const ProgramSpec& program : spec.programs) {
    hash.number(static_cast<std::int64_t>(program.image.segments.size()));
    for (const Segment& segment : program.image.segments) {
      hash.number(segment.start);
      hash.number(static_cast<std::int64_t>(segment.bytes.size()));
      hash.add(segment.bytes);
    }
  }
  // Somebody looks at their edges, so that they come one by one.
  hash.number(static_cast<std::int64_t>(spec.probes.size()));
  for (const std::string& probe : spec.probes) hash.text(probe);
  return hash.value();
}

}  // namespace prewire
