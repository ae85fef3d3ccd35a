// What the drivers on a net come to, and the voltages in a group of nets that resistances and contacts join.
#pragma once

#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <vector>

#include "prewire/wire.h"

namespace prewire {

/// Drivers of one electrical node, gathered one by one.
class Node {
 public:
  void add(const Drive& drive);
  void add_rail(std::int32_t microvolts);
  void add_pull(std::int32_t microvolts, std::int32_t ohms);

  /// Something stiff decides the voltage.
  bool stiff() const { return rail_ || lows_ || highs_ || sources_; }
  bool pulled() const { return conductance_ > 0; }
  /// Of a node that nothing else reaches.
  NetState state() const {
    if (stiff()) return stiff_state();
    return pulled() ? pulled_state(current_ / conductance_) : NetState{};
  }
  /// The state of a stiff node.
  NetState stiff_state() const;
  /// The state of a node that only pulls reach, given its voltage.
  static NetState pulled_state(double microvolts);

  double conductance() const { return conductance_; }  ///< siemens, of the pulls
  double current() const { return current_; }          ///< microamperes that the pulls feed into 0 V

 private:
  bool rail_ = false, lows_ = false, highs_ = false, sources_ = false, clash_ = false;
  std::int32_t rail_microvolts_ = 0, source_microvolts_ = 0;
  double conductance_ = 0, current_ = 0;
};

inline Level level_of(std::int32_t microvolts) {
  if (microvolts <= kInputLow) return Level::low;
  if (microvolts >= kInputHigh) return Level::high;
  return Level::unknown;
}

inline void Node::add(const Drive& drive) {
  switch (drive.kind) {
    case Drive::Kind::release: break;
    case Drive::Kind::low:
    case Drive::Kind::open_low: lows_ = true; break;
    case Drive::Kind::high: highs_ = true; break;
    case Drive::Kind::pull: add_pull(drive.microvolts, drive.ohms); break;
    case Drive::Kind::volts:
      if (sources_ && source_microvolts_ != drive.microvolts) clash_ = true;
      if (!sources_ || drive.microvolts < source_microvolts_) source_microvolts_ = drive.microvolts;
      sources_ = true;
      break;
  }
}

inline void Node::add_rail(std::int32_t microvolts) {
  if (rail_ && rail_microvolts_ != microvolts) clash_ = true;
  if (!rail_ || std::abs(microvolts) < std::abs(rail_microvolts_)) rail_microvolts_ = microvolts;
  rail_ = true;
}

inline void Node::add_pull(std::int32_t microvolts, std::int32_t ohms) {
  const double conductance = 1.0 / ohms;
  conductance_ += conductance;
  current_ += conductance * microvolts;
}

inline NetState Node::stiff_state() const {
  const bool two_kinds = static_cast<int>(lows_) + static_cast<int>(highs_) + static_cast<int>(sources_) > 1;
  if (rail_) {
    const bool against = (lows_ && rail_microvolts_ > kInputLow) || (highs_ && rail_microvolts_ < kInputHigh) ||
                         (sources_ && source_microvolts_ != rail_microvolts_);
    return {level_of(rail_microvolts_), clash_ || against ? Strength::contended : Strength::rail, rail_microvolts_};
  }
  const std::int32_t winner = lows_ ? 0 : sources_ ? source_microvolts_ : kLogicHigh;
  return {level_of(winner), clash_ || two_kinds ? Strength::contended : Strength::driven, winner};
}

inline NetState Node::pulled_state(double microvolts) {
  const auto rounded = static_cast<std::int32_t>(std::lround(microvolts));
  return {level_of(rounded), Strength::pulled, rounded};
}

/// A resistance between two nodes.
struct Resistance {
  int a, b;
  std::int32_t ohms;
};

/// Nodal analysis. Keeps its memory from one time to the next.
class Solver {
 public:
  /// States of all nodes: stiff nodes are given, pulled ones solved, unreached ones float.
  const std::vector<NetState>& solve(const std::vector<Node>& nodes, const std::vector<Resistance>& resistances);

 private:
  std::vector<NetState> states_;
  std::vector<char> reached_;
  std::vector<int> row_;               // of each node in the equations; -1: none
  std::vector<std::size_t> unknowns_;  // the reverse
  std::vector<double> equations_;      // row by row, the right-hand side last
};

}  // namespace prewire
