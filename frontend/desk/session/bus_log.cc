#include "bus_log.h"

#include <algorithm>

namespace prewire::front::desk {

void BusLog::on_cycle(const BusCycle& cycle) {
  if (entries_.size() >= kKept) entries_.pop_front();
  Entry entry{cycle, {}};
  std::copy(std::begin(levels_), std::end(levels_), std::begin(entry.probes));
  entries_.push_back(entry);
}

void BusLog::on_net(std::string_view net, const NetState& state, Stamp /*when*/) {
  for (std::size_t i = 0; i < probes_.size(); ++i) {
    if (probes_[i] == net) levels_[i] = state.level;
  }
}

void BusLog::start(const Machine& machine) {
  if (!entries_.empty() && entries_.back().bus.fall() != machine.cycle_began()) entries_.clear();
  for (std::size_t i = 0; i < probes_.size(); ++i) {
    levels_[i] = machine.net(probes_[i]).value_or(NetState{}).level;
  }
}

bool BusLog::joins(const Machine& machine) const {
  if (machine.now() == 0) return true;
  if (entries_.empty() || entries_.back().bus.fall() != machine.cycle_began()) return false;
  return entries_.front().bus.cycle == 0 || entries_.size() >= kKept / 2;
}

}  // namespace prewire::front::desk
