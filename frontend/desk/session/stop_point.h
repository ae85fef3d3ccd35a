// Where a run shall stop: at an address, at an access, at an edge.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "prewire/machine.h"

namespace prewire::front::desk {

struct StopPoint {
  enum class Kind : std::uint8_t { execute, read, write, rise, fall, edge };
  Kind kind = Kind::execute;
  std::uint16_t first = 0, last = 0;  ///< addresses; both are included
  std::string net;
  std::string text;  ///< as a person wrote it

  bool on_address() const { return kind <= Kind::write; }
};

/// "$F829", "label", "read $4000-$4003", "write level", "rise IRQ", "fall PIA.CA1", "edge IRQ". Otherwise throws
/// `InputError` with what was expected.
StopPoint parse_stop_point(const Machine& machine, const std::string& text);

/// Looks for accesses and edges while the machine runs.
class StopWatch final : public Observer {
 public:
  unsigned wants() const override;
  void on_cycle(const BusCycle& cycle) override;
  void on_net(std::string_view net, const NetState& state, Stamp when) override;

  /// Stops `machine` if `ends_run`; else only remembers the last time before `end`.
  void arm(Machine& machine, const std::vector<StopPoint>& points, bool ends_run, Cycle end);
  /// What was met since `arm`, and after which cycle.
  const StopPoint* met() const { return met_; }
  Cycle met_at() const { return met_at_; }

 private:
  void meet(const StopPoint& point, Cycle over);

  Machine* machine_ = nullptr;
  const std::vector<StopPoint>* points_ = nullptr;
  std::vector<Level> levels_;  // of the nets of `points_`, where sure
  bool ends_run_ = false;
  Cycle end_ = 0;
  const StopPoint* met_ = nullptr;
  Cycle met_at_ = 0;
};

}  // namespace prewire::front::desk
