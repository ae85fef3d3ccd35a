// The address map that wires make of a machine, kept up to date while lines move that only change now and then.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <vector>

#include "description/nets.h"
#include "description/select_logic.h"
#include "machine/impl.h"
#include "prewire/chip.h"

namespace prewire {

class SelectMap final : public Chip {
 public:
  explicit SelectMap(Machine::Impl& machine);

  const SelectLogic& logic() const { return logic_; }
  /// How the lines of `logic().slow()` stand by the map in force.
  const std::vector<Logic>& state() const { return state_; }
  /// Before the board is finished: pins on the lines that move.
  void listen();
  /// The board is finished: nets that only the address map looks at are left alone from now on.
  void hush();
  /// The chips have been placed: puts together the maps that images are loaded by. The first one is in force.
  void begin();
  /// Puts the map in force that the lines ask for as they stand.
  void look();

  /// Where a wired chip shows, however the lines stand; empty: nowhere.
  std::optional<BusPlace> place_of(int chip) const;

  void on_edge(int pin, Level level, Stamp when) override;
  void archive(Archive& archive) override;

 private:
  std::vector<char> heard_nets() const;
  void use(const std::vector<Logic>& state);

  Machine::Impl& machine_;
  const Nets nets_;
  const SelectLogic logic_;
  std::vector<Logic> state_;  // of the lines, by which the map in force was made
  std::map<std::vector<Logic>, int> maps_;
  std::map<int, BusPlace> shown_;  // by chip
  bool ready_ = false;
};

}  // namespace prewire
