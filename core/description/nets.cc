#include "description/nets.h"

#include <map>
#include <utility>

namespace prewire {

namespace {

/// Joins pins and labels, and watches for what clashes in one group.
class Joining {
 public:
  int add() {
    parent_.push_back(static_cast<int>(parent_.size()));
    groups_.emplace_back();
    return parent_.back();
  }

  int root(int of) {
    while (parent_[of] != of) of = parent_[of] = parent_[parent_[of]];
    return of;
  }

  void join(int a, int b) {
    a = root(a);
    b = root(b);
    if (a == b) return;
    parent_[b] = a;
    const NetSpec group = std::exchange(groups_[b], {});
    if (group.rail_microvolts) tie(a, *group.rail_microvolts, group.rail);
    if (!group.label.empty()) name(a, group.label);
  }

  void tie(int at, std::int32_t microvolts, const std::string& rail) {
    NetSpec& group = groups_[root(at)];
    if (group.rail_microvolts && *group.rail_microvolts != microvolts) {
      rail_conflicts.push_back({wire, group.rail, rail});
    } else if (!group.rail_microvolts) {
      group.rail_microvolts = microvolts;
      group.rail = rail;
    }
  }

  void name(int at, const std::string& label) {
    NetSpec& group = groups_[root(at)];
    // What a board calls the net inside is its own affair.
    const auto inside = [](const std::string& name) { return name.find('.') != std::string::npos; };
    if (group.label.empty() || (inside(group.label) && !inside(label))) {
      group.label = label;
    } else if (group.label != label && !inside(label)) {
      label_conflicts.push_back({wire, group.label, label});
    }
  }

  const NetSpec& group(int root) const { return groups_[root]; }

  int wire = 0;  ///< the one in hand, for conflicts
  std::vector<NetConflict> rail_conflicts, label_conflicts;

 private:
  std::vector<int> parent_;
  std::vector<NetSpec> groups_;  // of roots: rail and label only
};

}  // namespace

Nets::Nets(const MachineSpec& spec) {
  Joining joining;
  std::vector<std::vector<int>> element;  // by chip and pin
  for (int chip = -1; chip < static_cast<int>(spec.chips.size()); ++chip) {
    const bool known = chip < 0 ? spec.cpu != nullptr : spec.chips[chip].type != nullptr;
    element.emplace_back(known ? spec.pins_of(chip).size() : 0);
    net_of_.emplace_back(element.back().size(), -1);
    for (int& id : element.back()) id = joining.add();
  }
  std::map<std::string, int> labels;
  std::vector<int> head(spec.wires.size(), -1);  // an element of each wire
  for (std::size_t i = 0; i < spec.wires.size(); ++i) {
    const WireSpec& wire = spec.wires[i];
    joining.wire = static_cast<int>(i);
    const auto add = [&](int id) {
      if (head[i] < 0) head[i] = id;
      joining.join(head[i], id);
    };
    for (PinRef pin : wire.pins) add(element[pin.chip + 1][pin.pin]);
    if (!wire.label.empty()) {
      const auto [place, fresh] = labels.try_emplace(wire.label, -1);
      if (fresh) place->second = joining.add();
      add(place->second);
      joining.name(place->second, wire.label);
    }
    if (head[i] >= 0 && wire.rail_microvolts) joining.tie(head[i], *wire.rail_microvolts, wire.rail);
  }

  std::map<int, int> number;  // of the net, by root
  for (std::size_t i = 0; i < spec.wires.size(); ++i) {
    if (head[i] < 0) continue;
    const int root = joining.root(head[i]);
    const auto [place, fresh] = number.try_emplace(root, static_cast<int>(nets_.size()));
    if (fresh) nets_.push_back(joining.group(root));
    NetSpec& net = nets_[place->second];
    net.wires.push_back(static_cast<int>(i));
    for (PinRef pin : spec.wires[i].pins) {
      int& net_of = net_of_[pin.chip + 1][pin.pin];
      if (net_of < 0) net.pins.push_back(pin);
      net_of = place->second;
    }
  }
  rail_conflicts_ = std::move(joining.rail_conflicts);
  label_conflicts_ = std::move(joining.label_conflicts);
}

int Nets::index_at(PinRef pin) const { return net_of_[pin.chip + 1][pin.pin]; }

const NetSpec* Nets::at(PinRef pin) const {
  const int index = index_at(pin);
  return index < 0 ? nullptr : &nets_[index];
}

}  // namespace prewire
