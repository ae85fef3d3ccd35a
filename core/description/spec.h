// A machine file after reading: what it says, with the place of each part for messages. No chip exists yet.
#pragma once

#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "cpu/cpus.h"
#include "description/json_text.h"
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
  int package = -1;                    ///< index into `MachineSpec::packages`, of a part of one
};

/// A package of several parts, each of which is a chip of the machine: "BAR-1", "BAR-2" and so on.
struct PackageSpec {
  std::string name;
  const ChipType* type = nullptr;
  int first = 0;        ///< index into `MachineSpec::chips`; the others follow
  std::string pointer;  ///< JSON pointer of its object
};

/// A pin of a chip or of the processor.
struct PinRef {
  int chip = -1;  ///< index into `MachineSpec::chips`; -1 for the processor
  int pin = -1;   ///< index into the type's pins
};

/// What a connector of a board leads to: pins or a rail.
struct ConnectorSpec {
  std::vector<PinRef> pins{};
  std::optional<std::int32_t> rail_microvolts{};
  std::string name{};  ///< of the rail
};

/// A board that the machine has taken in. Its chips are called "TRAINER.PIA".
struct BoardSpec {
  std::string name;
  std::shared_ptr<const JsonText> text;  ///< where pointers that begin with "TRAINER:" lead; null: it cannot be read
  std::map<std::string, ConnectorSpec> connectors{};
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
  std::vector<ChipSpec> chips;  ///< in file order
  std::vector<PackageSpec> packages;
  std::vector<BoardSpec> boards;
  std::vector<std::shared_ptr<const ChipType>> types;  ///< of the registry, which need not live on
  std::vector<Rule> chip_rules;                        ///< of the registry, too
  std::vector<WireSpec> wires;
  std::vector<ProgramSpec> programs;
  std::vector<DisplaySpec> displays;
  RuleWeights weights;              ///< that somebody gave to rules; not in the file
  std::vector<std::string> probes;  ///< pins or labels of nets whose edges are to come one by one; not in the file

  /// The chip of that name, or the only one on a board that has it behind the board's; -1: none.
  int chip_named(std::string_view chip) const {
    int found = -1;
    bool several = false;
    for (std::size_t i = 0; i < chips.size(); ++i) {
      if (chips[i].name == chip) return static_cast<int>(i);
      if (!is_behind_board(chips[i].name, chip)) continue;
      several = several || found >= 0;
      found = static_cast<int>(i);
    }
    return several ? -1 : found;
  }
  /// Whether `name` is `short_name` behind the name of a board.
  bool is_behind_board(std::string_view name, std::string_view short_name) const {
    for (const BoardSpec& board : boards) {
      const std::size_t length = board.name.size();
      if (name.size() == length + 1 + short_name.size() && name.starts_with(board.name) && name[length] == '.' &&
          name.ends_with(short_name)) {
        return true;
      }
    }
    return false;
  }

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
