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

}  // namespace

PinId Board::add_pin(std::string name, Listener listener) {
  const auto pin = static_cast<PinId>(names_.size());
  names_.push_back(std::move(name));
  ears_.push_back(listener);
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
  pins_.resize(names_.size());
  std::iota(pins_.begin(), pins_.end(), 0);
  std::stable_sort(pins_.begin(), pins_.end(), [&](PinId a, PinId b) { return pin_net_[a] < pin_net_[b]; });
  for (std::uint32_t slot = 0; slot < pins_.size(); ++slot) {
    const PinId pin = pins_[slot];
    Net& net = nets_[pin_net_[pin]];
    if (net.pins == 0) {
      net.first_pin = slot;
      net.listeners = static_cast<std::uint32_t>(listeners_.size());
    }
    ++net.pins;
    if (!listens(pin) || ears_[pin].silent) continue;
    listeners_.push_back(ears_[pin]);
    shut_.resize(std::max<std::size_t>(shut_.size(), ears_[pin].latch + 1U));
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
  for (Net& net : nets_) net.plain = !net.rail && net.cluster < 0;
  marked_.make_room(nets_.size());
  changed_.make_room(nets_.size());
  states_.resize(nets_.size());
  last_high_.resize(nets_.size());
  for (NetId net = 0; net < static_cast<NetId>(nets_.size()); ++net) mark(net);
}

inline void Board::mark(NetId id) {
  Net& net = nets_[id];
  if (net.marked) return;
  net.marked = true;
  marked_.add(id);
  clock_.look_up();
}

void Board::drive(PinId pin, const Drive& drive) {
  Drive& now = drives_[pin];
  if (now == drive) return;
  const NetId net = pin_net_[pin];
  nets_[net].drivers.exchange(now, drive);
  now = drive;
  mark(net);
}

void Board::hush(NetId net) {
  Batch<NetId> rest;
  rest.make_room(nets_.size());
  for (const NetId other : marked_) {
    if (other != net) rest.add(other);
  }
  marked_ = std::move(rest);
  nets_[net].hushed = nets_[net].marked = true;  // what counts as marked is not marked again
  states_[net] = {Level::low, Strength::driven, 0};
}

void Board::link(LinkId link, std::int32_t ohms) {
  if (ohms_[link] == ohms) return;
  ohms_[link] = ohms;
  for (const PinId end : {links_[link].a, links_[link].b}) {
    const NetId net = pin_net_[end];
    if (linked(net)) clusters_[nets_[net].cluster].known = false;
    mark(net);
  }
  client_.on_link();
}

inline void Board::update(NetId net, const NetState& state) {
  if (nets_[net].hushed) [[unlikely]]
    return;  // joined by links to others
  nets_[net].marked = false;
  NetState& now = states_[net];
  if (now == state) return;
  changed_.add({net, now});
  now = state;
  if (is_sure(state.level)) last_high_[net] = state.level == Level::high;
  if (state.strength == Strength::contended) clashes_ = true;
}

void Board::look_at_links(Cluster& cluster) const {
  cluster.known = true;
  cluster.closed = false;
  Node node;
  for (std::size_t i = 0; i < cluster.links.size(); ++i) {
    const std::int32_t ohms = ohms_[cluster.links[i]];
    const auto [a, b] = cluster.ends[i];  // one is the net, at 0
    if (ohms == 0) cluster.closed = true;
    if (ohms > 0 && a != b) node.add_pull(nets_[cluster.nets[std::max(a, b)]].microvolts, ohms);
  }
  cluster.idle = node.state();
}

/// The state of a net that links join to nothing but rails, and that has digital drivers: a pull-up resistor, say.
/// Empty for others, and where a contact is closed.
std::optional<NetState> Board::among_rails(const Net& net) {
  Cluster& cluster = clusters_[net.cluster];
  if (cluster.inside != 1 || !net.drivers.digital()) return std::nullopt;
  if (!cluster.known) look_at_links(cluster);
  if (cluster.closed) return std::nullopt;
  return net.drivers.off() ? cluster.idle : net.drivers.state();
}

inline void Board::resolve(NetId id) {
  const Net& net = nets_[id];
  if (!net.marked) return;  // its cluster has been resolved already
  if (net.plain && net.drivers.digital()) [[likely]]
    update(id, net.drivers.state());
  else
    resolve_any(id);
}

void Board::resolve_any(NetId id) {
  const Net& net = nets_[id];
  if (net.cluster < 0) {
    Node node;
    if (net.rail) node.add_rail(net.microvolts);
    for (const PinId pin : pins(id)) node.add(drives_[pin]);
    return update(id, node.state());
  }
  if (const auto alone = among_rails(net)) return update(id, *alone);
  resolve_joined(net);
}

/// All nets that links join to this one.
void Board::resolve_joined(const Net& net) {
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
      for (const PinId pin : pins(members[i])) node.add(drives_[pin]);
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
    update(cluster.nets[i], solved[root(parent, static_cast<int>(i))]);
  }
}

double Board::source_ohms(NetId net, LinkId by, int depth) const {
  constexpr int kDeepest = 4;  // resistors one behind the other
  const Strength strength = states_[net].strength;
  if (strength == Strength::none || depth == kDeepest) return -1;
  if (strength != Strength::pulled) return 0;
  double conductance = 0;
  for (PinId pin : pins(net)) {
    if (drives_[pin].kind == Drive::Kind::pull) conductance += 1.0 / drives_[pin].ohms;
  }
  if (nets_[net].cluster >= 0) {
    for (LinkId link : clusters_[nets_[net].cluster].links) {
      const NetId a = pin_net_[links_[link].a], b = pin_net_[links_[link].b];
      if (link == by || a == b || (a != net && b != net) || ohms_[link] < 0) continue;
      const double behind = source_ohms(a == net ? b : a, link, depth + 1);
      if (behind < 0) continue;
      const double whole = behind + ohms_[link];
      if (whole <= 0) return 0;
      conductance += 1.0 / whole;
    }
  }
  return conductance > 0 ? 1.0 / conductance : -1;
}

std::vector<NetId> Board::joined(NetId net) const {
  if (nets_[net].cluster < 0) return {net};
  const Cluster& cluster = clusters_[nets_[net].cluster];
  std::vector<char> in(cluster.nets.size(), 0);
  const auto self = std::find(cluster.nets.begin(), cluster.nets.end(), net);
  if (self == cluster.nets.end()) return {net};
  in[static_cast<std::size_t>(self - cluster.nets.begin())] = 1;
  for (bool more = true; more;) {
    more = false;
    for (std::size_t i = 0; i < cluster.ends.size(); ++i) {
      if (ohms_[cluster.links[i]] != 0) continue;
      const auto a = static_cast<std::size_t>(cluster.ends[i].first),
                 b = static_cast<std::size_t>(cluster.ends[i].second);
      // What else is at a rail has nothing to do with it.
      const auto goes_on = [&](std::size_t from) {
        return in[from] != 0 && (!nets_[cluster.nets[from]].rail || cluster.nets[from] == net);
      };
      if (in[a] == in[b] || !(goes_on(a) || goes_on(b))) continue;
      in[a] = in[b] = 1;
      more = true;
    }
  }
  std::vector<NetId> nets;
  for (std::size_t i = 0; i < in.size(); ++i) {
    if (in[i] != 0) nets.push_back(cluster.nets[i]);
  }
  std::sort(nets.begin(), nets.end());
  return nets;
}

inline void Board::resolve_marked() {
  changed_.clear();
  clashes_ = false;
  for (NetId net : marked_) resolve(net);
  marked_.clear();
}

void Board::settle(Stamp when) {
  for (int rounds = 0; !marked_.empty(); ++rounds) {
    if (rounds == kMostRounds) {
      client_.on_unsettled(*marked_.begin());
      for (NetId net : marked_) nets_[net].marked = false;
      marked_.clear();
      return;
    }
    resolve_marked();
    const bool wanted = client_.wants_nets();
    if (wanted || clashes_) [[unlikely]]
      tell_client(wanted, when);
    // Listeners may drive, which only marks nets for the next round.
    for (const Change& change : changed_) {
      const Level level = states_[change.net].level;
      const bool edge = level != change.before.level, sure = is_sure(level) && is_sure(change.before.level);
      const Net& net = nets_[change.net];
      const Listener* listener = listeners_.data() + net.listeners;
      for (const Listener* end = listener + net.listening; listener != end; ++listener) {
        if (!edge && !listener->analog) continue;
        if (sure && shut_[listener->latch] != 0) continue;
        listener->chip->on_edge(listener->index, level, when);
      }
    }
  }
}

void Board::tell_client(bool of_nets, Stamp when) {
  for (const Change& change : changed_) {
    if (of_nets) client_.on_net(change.net, when);
    const bool contended = states_[change.net].strength == Strength::contended;
    if (contended && change.before.strength != Strength::contended) client_.on_contention(change.net);
  }
}

void Board::settle_silently() {
  resolve_marked();
  if (clashes_) tell_client(false, 0);
}

/// What has been loaded.
void Board::check(const Archive& archive) const {
  // Without a way out of the loops: they take a good part of a load.
  bool possible = true;
  for (const Drive& drive : drives_) {
    possible &= drive.kind <= Drive::Kind::volts && (drive.kind != Drive::Kind::pull || drive.ohms > 0);
  }
  for (const NetState& state : states_) {
    possible &= state.level <= Level::unknown && state.strength <= Strength::contended;
  }
  for (const std::int32_t ohms : ohms_) possible &= ohms >= Socket::kOpen;
  archive.require(possible);
}

void Board::archive(Archive& archive) {
  archive.bytes(drives_.data(), drives_.size() * sizeof(Drive));
  archive.bytes(states_.data(), states_.size() * sizeof(NetState));
  archive.bytes(last_high_.data(), last_high_.size());
  archive.bytes(ohms_.data(), ohms_.size() * sizeof(std::int32_t));
  archive.bytes(shut_.data(), shut_.size());
  // Nets that have yet to settle.
  auto waiting = static_cast<std::uint64_t>(marked_.end() - marked_.begin());
  archive.count(waiting, sizeof(NetId));
  if (!archive.loading()) {
    for (NetId net : marked_) archive(net);
    return;
  }
  for (NetId net : marked_) nets_[net].marked = false;
  marked_.clear();
  for (; waiting > 0; --waiting) {
    NetId net = 0;
    archive.within(net, 0, static_cast<NetId>(nets_.size()) - 1);
    mark(net);
  }
  check(archive);
  for (Cluster& cluster : clusters_) cluster.known = false;
  for (Net& net : nets_) net.drivers = {};
  for (std::size_t pin = 0; pin < drives_.size(); ++pin) nets_[pin_net_[pin]].drivers.add(drives_[pin]);
}

}  // namespace prewire
