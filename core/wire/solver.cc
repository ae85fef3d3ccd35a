#include "wire/solver.h"

#include <cmath>

namespace prewire {

std::string_view to_string(Level level) {
  switch (level) {
    case Level::low: return "low";
    case Level::high: return "high";
    case Level::floating: return "floating";
    case Level::unknown: return "unknown";
  }
  return "";
}

std::string_view to_string(Strength strength) {
  switch (strength) {
    case Strength::none: return "none";
    case Strength::pulled: return "pulled";
    case Strength::driven: return "driven";
    case Strength::rail: return "rail";
    case Strength::contended: return "contended";
  }
  return "";
}

const std::vector<NetState>& Solver::solve(const std::vector<Node>& nodes, const std::vector<Resistance>& resistances) {
  const std::size_t count = nodes.size();
  std::vector<NetState>& states = states_;
  states.assign(count, {});
  // A node takes part in the equations when a pull or a stiff node reaches it through resistances.
  std::vector<char>& reached = reached_;
  reached.resize(count);
  for (std::size_t i = 0; i < count; ++i) reached[i] = nodes[i].stiff() || nodes[i].pulled();
  for (bool grown = true; grown;) {
    grown = false;
    for (const Resistance& r : resistances) {
      if (reached[r.a] == reached[r.b]) continue;
      reached[r.a] = reached[r.b] = true;
      grown = true;
    }
  }
  std::vector<int>& row = row_;
  row.assign(count, -1);
  std::vector<std::size_t>& unknowns = unknowns_;
  unknowns.clear();
  for (std::size_t i = 0; i < count; ++i) {
    if (nodes[i].stiff()) {
      states[i] = nodes[i].stiff_state();
    } else if (reached[i]) {
      row[i] = static_cast<int>(unknowns.size());
      unknowns.push_back(i);
    }
  }
  const std::size_t n = unknowns.size();
  if (n == 0) return states;

  const std::size_t width = n + 1;
  equations_.assign(n * width, 0);
  const auto equation = [&](std::size_t of) { return equations_.data() + of * width; };
  for (std::size_t k = 0; k < n; ++k) {
    equation(k)[k] = nodes[unknowns[k]].conductance();
    equation(k)[n] = nodes[unknowns[k]].current();
  }
  const auto stamp = [&](int from, int to, double conductance) {
    if (row[from] < 0) return;
    double* const terms = equation(static_cast<std::size_t>(row[from]));
    terms[row[from]] += conductance;
    if (row[to] >= 0) {
      terms[row[to]] -= conductance;
    } else {
      terms[n] += conductance * states[to].microvolts;
    }
  };
  for (const Resistance& r : resistances) {
    if (!reached[r.a]) continue;
    stamp(r.a, r.b, 1.0 / r.ohms);
    stamp(r.b, r.a, 1.0 / r.ohms);
  }
  // Elimination without pivoting: a conductance matrix is diagonally dominant.
  for (std::size_t k = 0; k < n; ++k) {
    for (std::size_t i = k + 1; i < n; ++i) {
      const double factor = equation(i)[k] / equation(k)[k];
      if (factor == 0) continue;
      for (std::size_t j = k; j <= n; ++j) equation(i)[j] -= factor * equation(k)[j];
    }
  }
  for (std::size_t k = n; k-- > 0;) {
    double* const terms = equation(k);
    for (std::size_t j = k + 1; j < n; ++j) terms[n] -= terms[j] * equation(j)[n];
    terms[n] /= terms[k];
    states[unknowns[k]] = Node::pulled_state(terms[n]);
  }
  return states;
}

}  // namespace prewire
