// The last bus cycles, and the levels of chosen nets in them.
#pragma once

#include <deque>
#include <string>
#include <vector>

#include "prewire/machine.h"

namespace prewire::front::desk {

class BusLog final : public Observer {
 public:
  static constexpr std::size_t kKept = 1024;
  static constexpr std::size_t kProbes = 4;

  struct Entry {
    BusCycle bus;
    Level probes[kProbes];  ///< at the end of the cycle
  };

  unsigned wants() const override { return kCycles | (probes_.empty() ? 0U : static_cast<unsigned>(kNets)); }
  void on_cycle(const BusCycle& cycle) override;
  void on_net(std::string_view net, const NetState& state, Stamp when) override;

  /// Chosen nets by name, at most `kProbes`.
  void choose(std::vector<std::string> nets) { probes_ = std::move(nets); }
  const std::vector<std::string>& probes() const { return probes_; }
  /// The machine stands where recording begins. Forgets the past if it does not join on.
  void start(const Machine& machine);
  void clear() { entries_.clear(); }

  const std::deque<Entry>& entries() const { return entries_; }
  /// Whether it knows all of the last cycles that it could know.
  bool joins(const Machine& machine) const;

 private:
  std::vector<std::string> probes_;
  Level levels_[kProbes] = {};
  std::deque<Entry> entries_;
};

}  // namespace prewire::front::desk
