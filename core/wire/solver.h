// What the drivers on a net come to, and the voltages in a group of nets that resistances and contacts join.
#pragma once

#include <cstdint>
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
