// A machine file after reading: what it says, with the place of each part for messages. No chip exists yet.
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "cpu/cpus.h"
#include "prewire/bus.h"
#include "prewire/chip_type.h"
#include "prewire/image.h"
#include "prewire/rule.h"
#include "units/address.h"

namespace prewire {

struct ChipSpec {
  std::string name;
  const ChipType* type = nullptr;
  Parameters parameters;  ///< complete and in range
  std::optional<Range> at;
  std::optional<Range> mirror;         ///< contains `at`
  bool wired = false;                  ///< without `at`, wires put it on the bus; see `SelectLogic`
  BusSpec bus;                         ///< of the type, adapted to the parameters; meaningful on the bus
  PowerUp power_up = PowerUp::random;  ///< of a RAM
  std::string pointer;                 ///< JSON pointer of the chip's object
};

/// A pin of a chip or of the processor.
struct PinRef {
  int chip = -1;  ///< index into `MachineSpec::chips`; -1 for the processor
  int pin = -1;   ///< index into the type's pins
};

/// One net as the file's `wires` make it: entries that share a pin, a label or a rail are joined by the builder.
struct WireSpec {
  std::vector<PinRef> pins{};
  std::optional<std::int32_t> rail_microvolts{};  ///< `GND`, `+5V` and the like
  std::string rail{};                             ///< as written
  std::string label{};                            ///< a name for the net, if the entry has one
  std::string pointer{};                          ///< JSON pointer of the entry
};

struct ProgramSpec {
  std::string file;  ///< as written
  Image image;
};

/// Digits that are read together, left to right.
struct DisplaySpec {
  std::string name;
  std::vector<int> chips;
};

struct MachineSpec {
  std::string file;  ///< name for messages
  std::string title;
  std::string about;
  const CpuType* cpu = nullptr;
  std::int64_t e_millihertz = 0;
  bool ram_enabled = true;  ///< MC6802: the RE pin's level
  KeeperPolicy keeper = KeeperPolicy::last;
  std::uint64_t seed = 1;
  std::vector<ChipSpec> chips;                         ///< in file order
  std::vector<std::shared_ptr<const ChipType>> types;  ///< of the registry, which need not live on
  std::vector<Rule> chip_rules;                        ///< of the registry, too
  std::vector<WireSpec> wires;
  std::vector<ProgramSpec> programs;
  std::vector<DisplaySpec> displays;
  RuleWeights weights;              ///< that somebody gave to rules; not in the file
  std::vector<std::string> probes;  ///< pins or labels of nets whose edges are to come one by one; not in the file

  const std::vector<PinSpec>& pins_of(int chip) const { return chip < 0 ? cpu->chip.pins : chips[chip].type->pins; }
  const std::string& name_of(int chip) const {
    static const std::string kCpu = "CPU";
    return chip < 0 ? kCpu : chips[chip].name;
  }
  std::string pin_name(PinRef ref) const {
    return name_of(ref.chip) + "." + std::string(pins_of(ref.chip)[ref.pin].name);
  }
};

}  // namespace prewire
