#include "diagram_buses.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>
#include <tuple>

namespace prewire::handout {

namespace {

/// "PA" of "PA7"; nothing of "a", so that the segments of a digit are one bus.
std::string stem(const std::string& name) {
  std::string result = name;
  while (!result.empty() && result.back() >= '0' && result.back() <= '9') result.pop_back();
  return result.size() == name.size() && name.size() == 1 ? "" : result;
}

}  // namespace

std::vector<DrawnBus> drawn_buses(const Board& board) {
  // Nets of one bus begin at like pins of one part and touch the same parts; data and address lines are buses anyway.
  std::map<std::tuple<int, int, std::string, std::set<int>>, std::vector<int>> groups;
  for (std::size_t i = 0; i < board.nets.size(); ++i) {
    const Net& net = board.nets[i];
    if (net.rail || net.ends.size() < 2) continue;
    const bool system = net.purpose == Purpose::data || net.purpose == Purpose::address;
    if (net.purpose == Purpose::control || net.purpose == Purpose::select) continue;
    const End first = net.ends.front();
    std::set<int> parts;
    if (!system) {
      for (const End end : net.ends) parts.insert(end.part);
    }
    groups[{system ? static_cast<int>(net.purpose) : kPurposes, system ? 0 : first.part,
            system ? "" : stem(board.terminal(first).name), std::move(parts)}]
        .push_back(static_cast<int>(i));
  }
  std::vector<DrawnBus> buses;
  for (auto& [key, nets] : groups) {
    if (nets.size() < 3) continue;
    const auto first_end = [&](int net) { return board.nets[static_cast<std::size_t>(net)].ends.front(); };
    const auto earlier = [&](int a, int b) {
      const std::string &x = board.terminal(first_end(a)).name, &y = board.terminal(first_end(b)).name;
      return std::pair(x.size(), x) < std::pair(y.size(), y);
    };
    const auto [low_net, high_net] = std::minmax_element(nets.begin(), nets.end(), earlier);
    const Terminal &from = board.terminal(first_end(*low_net)), &to = board.terminal(first_end(*high_net));
    const bool system = std::get<0>(key) != kPurposes;
    const std::string owner = system ? "" : board.part(first_end(nets.front())).name + " ";
    const char* what = std::get<0>(key) == static_cast<int>(Purpose::data)      ? " data bus"
                       : std::get<0>(key) == static_cast<int>(Purpose::address) ? " address bus"
                                                                                : "";
    std::vector<std::string> names{from.name, to.name};
    if (system) {
      int low = 99, high = 0;
      for (const int net : nets) {
        const int number = std::stoi(board.nets[static_cast<std::size_t>(net)].name.substr(1));
        low = std::min(low, number);
        high = std::max(high, number);
      }
      const std::string letter = board.nets[static_cast<std::size_t>(nets.front())].name.substr(0, 1);
      names = {fmt::format("{}{}", letter, low), fmt::format("{}{}", letter, high)};
    }
    buses.push_back({fmt::format("{}{}-{}{}", owner, names[0], names[1], what), std::move(nets)});
  }
  return buses;
}

}  // namespace prewire::handout
