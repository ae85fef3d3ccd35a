// Which pins, labels and rails the wires of a description join into one conductor.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "description/spec.h"

namespace prewire {

struct NetSpec {
  std::vector<PinRef> pins;  ///< in file order, each once
  std::vector<int> wires;    ///< indexes into `MachineSpec::wires`, ascending
  std::optional<std::int32_t> rail_microvolts;
  std::string rail;
  std::string label;
};

/// A wire that joins what must not be joined.
struct NetConflict {
  int wire = 0;
  std::string first, second;  ///< the rails, or the labels
};

class Nets {
 public:
  explicit Nets(const MachineSpec& spec);

  const std::vector<NetSpec>& all() const { return nets_; }
  /// The net at a pin, or null if no wire goes there.
  const NetSpec* at(PinRef pin) const;
  int index_at(PinRef pin) const;

  const std::vector<NetConflict>& rail_conflicts() const { return rail_conflicts_; }
  const std::vector<NetConflict>& label_conflicts() const { return label_conflicts_; }

 private:
  std::vector<std::vector<int>> net_of_;  // by chip (the processor first) and pin
  std::vector<NetSpec> nets_;
  std::vector<NetConflict> rail_conflicts_, label_conflicts_;
};

}  // namespace prewire
