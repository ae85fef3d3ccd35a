#include "wire/board.h"

#include <algorithm>
#include <numeric>
#include <utility>

namespace prewire {

namespace {

// A ring of gates that has not come to rest after this many rounds never will.
constexpr int kMostRounds = 200;

template <class Id>
Id root(std::vector<Id>& parent, Id of) {
  while (parent[of] != of) of = parent[of] = parent[parent[of]];
  return of;
}

/// The state of a net by the kinds of drive on it, where these alone decide: a bit for each; else null.
const NetState* plain_state(unsigned kinds) {
  constexpr auto bit = [](Drive::Kind kind) { return 1U << static_cast<unsigned>(kind); };
  constexpr unsigned kLows = bit(Drive::Kind::low) | bit(Drive::Kind::open_low), kHighs = bit(Drive::Kind::high);
  static constexpr NetState kLow{Level::low, Strength::driven, 0}, kHigh{Level::high, Strength::driven, kLogicHigh},
      kOff{};
  if ((kinds & ~(kLows | kHighs | bit(Drive::Kind::release))) != 0) return nullptr;
  if ((kinds & kHighs) == 0) return (kinds & kLows) != 0 ? &kLow : &kOff;
  return (kinds & kLows) == 0 ? &kHigh : nullptr;
}

}  // namespace

PinId Board::add_pin(std::string name, Chip* listener, int index, bool analog) {
  const auto pin = static_cast<PinId>(names_.size());
  names_.push_back(std::move(name));
  ears_.push_back({listener, index, analog});
  pin_net_.push_back(pin);
  return pin;
}

void Board::join(PinId a, PinId b) {
  // The lower number stays root, so a net is named by its first pin.
  const PinId first = root(pin_net_, a), second = root(pin_net_, b);
  pin_net_[std::max(first, second)] = std::min(first, second);
}

void Board::tie(PinId pin, std::int32_t microvolts) { ties_.emplace_back(pin, microvolts); }

LinkId Board::add_link(PinId a, PinId b) {
  links_.push_back({a, b});
  ohms_.push_back(Socket::kOpen);
  return static_cast<LinkId>(links_.size() - 1);
}

void Board::label(PinId pin, std::string name) { labels_.emplace_back(pin, std::move(name)); }

void Board::finish() {
  std::vector<NetId> number(names_.size(), -1), net_of(names_.size());
  for (PinId pin = 0; pin < static_cast<PinId>(names_.size()); ++pin) {
    const PinId first = root(pin_net_, pin);
    if (number[first] < 0) {
      number[first] = static_cast<NetId>(net_names_.size());
      net_names_.push_back(names_[first]);
    }
    net_of[pin] = number[first];
  }
  pin_net_ = std::move(net_of);
  nets_.resize(net_names_.size());
  drives_.resize(names_.size());
  slots_.resize(names_.size());
  pins_.resize(names_.size());
  std::iota(pins_.begin(), pins_.end(), 0);
  std::stable_sort(pins_.begin(), pins_.end(), [&](PinId a, PinId b) { return pin_net_[a] < pin_net_[b]; });
  for (std::uint32_t slot = 0; slot < pins_.size(); ++slot) {
    const PinId pin = pins_[slot];
    Net& net = nets_[pin_net_[pin]];
    if (net.pins == 0) {
      net.drives = slot;
      net.listeners = static_cast<std::uint32_t>(listeners_.size());
    }
    slots_[pin] = slot;
    ++net.pins;
    if (!listens(pin)) continue;
    listeners_.push_back(ears_[pin]);
    ++net.listening;
  }

  for (auto& [pin, name] : labels_) net_names_[pin_net_[pin]] = std::move(name);
  for (const auto& [pin, microvolts] : ties_) {
    nets_[pin_net_[pin]].rail = true;
    nets_[pin_net_[pin]].microvolts = microvolts;
  }

  // Rails end a cluster: what happens on one side of a supply does not reach the other.
  std::vector<NetId> parent(nets_.size());
  std::iota(parent.begin(), parent.end(), 0);
  for (const Link& link : links_) {
    const NetId a = pin_net_[link.a], b = pin_net_[link.b];
    if (!nets_[a].rail && !nets_[b].rail) parent[root(parent, a)] = root(parent, b);
  }
  for (LinkId id = 0; id < static_cast<LinkId>(links_.size()); ++id) {
    NetId inside = pin_net_[links_[id].a];
    if (nets_[inside].rail) inside = pin_net_[links_[id].b];
    if (nets_[inside].rail) continue;
    Net& head = nets_[root(parent, inside)];
    if (head.cluster < 0) {
      head.cluster = static_cast<std::int32_t>(clusters_.size());
      clusters_.emplace_back();
    }
    clusters_[head.cluster].links.push_back(id);
  }
  for (NetId net = 0; net < static_cast<NetId>(nets_.size()); ++net) {
    if (nets_[net].rail) continue;
    nets_[net].cluster = nets_[root(parent, net)].cluster;
    if (nets_[net].cluster >= 0) clusters_[nets_[net].cluster].nets.push_back(net);
  }
  for (Cluster& cluster : clusters_) {
    cluster.inside = cluster.nets.size();
    const auto index = [&](NetId of) {
      const auto place = std::find(cluster.nets.begin(), cluster.nets.end(), of) - cluster.nets.begin();
      if (place == static_cast<std::ptrdiff_t>(cluster.nets.size())) cluster.nets.push_back(of);
      return static_cast<int>(place);
    };
    for (LinkId link : cluster.links) {
      const int a = index(pin_net_[links_[link].a]);
      cluster.ends.emplace_back(a, index(pin_net_[links_[link].b]));
    }
  }
  states_.resize(nets_.size());
  last_high_.resize(nets_.size());
  for (NetId net = 0; net < static_cast<NetId>(nets_.size()); ++net) mark(net);
}

void Board::mark(NetId net) {
  if (nets_[net].marked) return;
  nets_[net].marked = true;
  marked_.push_back(net);
  clock_.look_up();
}

void Board::drive(PinId pin, Drive drive) {
  Drive& now = drives_[slots_[pin]];
  if (now == drive) return;
  now = drive;
  mark(pin_net_[pin]);
}

void Board::link(LinkId link, std::int32_t ohms) {
  if (ohms_[link] == ohms) return;
  ohms_[link] = ohms;
  mark(pin_net_[links_[link].a]);
  mark(pin_net_[links_[link].b]);
}

void Board::update(NetId net, const NetState& state, std::vector<Change>& changed) {
  nets_[net].marked = false;
  if (states_[net] == state) return;
  changed.push_back({net, states_[net]});
  states_[net] = state;
  if (state.level == Level::high) last_high_[net] = 1;
  if (state.level == Level::low) last_high_[net] = 0;
}

/// The state of a net that links join to nothing but rails, which takes no equations: a pull-up resistor, say. Empty
/// for others, and where a contact is closed.
std::optional<NetState> Board::among_rails(const Net& net) const {
  const Cluster& cluster = clusters_[net.cluster];
  if (cluster.inside != 1) return std::nullopt;
  Node node;
  for (const Drive& drive : drives(net)) node.add(drive);
  for (std::size_t i = 0; i < cluster.links.size(); ++i) {
    const std::int32_t ohms = ohms_[cluster.links[i]];
    if (ohms == 0) return std::nullopt;
    const auto [a, b] = cluster.ends[i];  // one is the net, at 0
    if (ohms > 0 && a != b) node.add_pull(nets_[cluster.nets[std::max(a, b)]].microvolts, ohms);
  }
  return node.state();
}

void Board::resolve(NetId id, std::vector<Change>& changed) {
  const Net& net = nets_[id];
  if (!net.marked) return;  // its cluster has been resolved already
  if (net.cluster < 0) {
    if (!net.rail) {
      // Most nets have nothing but outputs that are high, low or off.
      unsigned kinds = 0;
      for (const Drive& drive : drives(net)) kinds |= 1U << static_cast<unsigned>(drive.kind);
      if (const NetState* plain = plain_state(kinds)) return update(id, *plain, changed);
    }
    Node node;
    if (net.rail) node.add_rail(net.microvolts);
    for (const Drive& drive : drives(net)) node.add(drive);
    return update(id, node.state(), changed);
  }

  if (const auto alone = among_rails(net)) return update(id, *alone, changed);

  // Closed contacts make one node of several nets, rails included.
  const Cluster& cluster = clusters_[net.cluster];
  const std::vector<NetId>& members = cluster.nets;
  const auto& ends = cluster.ends;
  std::vector<int>& parent = parent_;
  parent.resize(members.size());
  std::iota(parent.begin(), parent.end(), 0);
  for (std::size_t i = 0; i < ends.size(); ++i) {
    if (ohms_[cluster.links[i]] == 0) parent[root(parent, ends[i].first)] = root(parent, ends[i].second);
  }
  std::vector<Node>& nodes = nodes_;
  nodes.assign(members.size(), {});
  for (std::size_t i = 0; i < members.size(); ++i) {
    Node& node = nodes[root(parent, static_cast<int>(i))];
    const Net& member = nets_[members[i]];
    if (member.rail) node.add_rail(member.microvolts);
    // A rail's own drivers are the rail's affair.
    if (!member.rail) {
      for (const Drive& drive : drives(member)) node.add(drive);
    }
  }
  std::vector<Resistance>& resistances = resistances_;
  resistances.clear();
  for (std::size_t i = 0; i < ends.size(); ++i) {
    const std::int32_t ohms = ohms_[cluster.links[i]];
    const int a = root(parent, ends[i].first), b = root(parent, ends[i].second);
    if (ohms > 0 && a != b) resistances.push_back({a, b, ohms});
  }
  const std::vector<NetState>& solved = solver_.solve(nodes, resistances);
  for (std::size_t i = 0; i < cluster.inside; ++i) {
    update(cluster.nets[i], solved[root(parent, static_cast<int>(i))], changed);
  }
}

void Board::settle(Stamp when) {
  for (int rounds = 0; !marked_.empty(); ++rounds) {
    if (rounds == kMostRounds) {
      client_.on_unsettled(marked_.front());
      for (NetId net : marked_) nets_[net].marked = false;
      marked_.clear();
      return;
    }
    round_.swap(marked_);
    changed_.clear();
    for (NetId net : round_) resolve(net, changed_);
    round_.clear();
    for (const Change& change : changed_) {
      client_.on_net(change.net, when);
      const NetState& state = states_[change.net];
      if (state.strength == Strength::contended && change.before.strength != Strength::contended) {
        client_.on_contention(change.net);
      }
    }
    // Listeners may drive, which only marks nets for the next round.
    for (const Change& change : changed_) {
      const Level level = states_[change.net].level;
      const Net& net = nets_[change.net];
      for (std::uint32_t i = net.listeners; i < net.listeners + net.listening; ++i) {
        const Listener& listener = listeners_[i];
        if (level == change.before.level && !listener.analog) continue;
        listener.chip->on_edge(listener.index, level, when);
      }
    }
  }
}

void Board::settle_silently() {
  changed_.clear();
  round_.swap(marked_);
  for (NetId net : round_) resolve(net, changed_);
  round_.clear();
  for (const Change& change : changed_) {
    if (states_[change.net].strength == Strength::contended) client_.on_contention(change.net);
  }
}

void Board::archive(Archive& archive) {
  archive.bytes(drives_.data(), drives_.size() * sizeof(Drive));
  archive.bytes(states_.data(), states_.size() * sizeof(NetState));
  archive.bytes(last_high_.data(), last_high_.size());
  archive.bytes(ohms_.data(), ohms_.size() * sizeof(std::int32_t));
}

}  // namespace prewire
