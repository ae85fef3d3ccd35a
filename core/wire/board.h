// The board: pins, the nets that join them, and the rounds in which levels settle.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "clock/clock.h"
#include "prewire/chip.h"
#include "prewire/clock.h"
#include "prewire/wire.h"
#include "wire/drivers.h"
#include "wire/solver.h"

namespace prewire {

using PinId = std::int32_t;
using NetId = std::int32_t;
using LinkId = std::int32_t;

/// Who is told what happens on the board.
class BoardClient {
 public:
  /// Whether to call `on_net`; asked once for all nets that change together.
  virtual bool wants_nets() const = 0;
  virtual void on_net(NetId net, Stamp when) = 0;
  virtual void on_contention(NetId net) = 0;
  virtual void on_unsettled(NetId net) = 0;
  /// A link has another resistance now; nets settle later.
  virtual void on_link() = 0;

 protected:
  ~BoardClient() = default;
};

/// The chip, if any, that is told of edges at a pin.
struct Listener {
  Chip* chip = nullptr;
  int index = 0;                   ///< by which it knows the pin
  bool analog = false;             ///< it is also told of another voltage
  bool silent = false;             ///< it is told nothing, and looks for itself
  std::uint32_t latch = kNoLatch;  ///< whose data pin it is

  static constexpr std::uint32_t kNoLatch = 0;
};

class Board {
 public:
  Board(BoardClient& client, Clock& clock) : client_(client), clock_(clock) {}

  // Building: pins, then joins, ties and links, then `finish`.
  PinId add_pin(std::string name, Listener listener = {});
  void join(PinId a, PinId b);
  /// The pin's net is a supply rail of this voltage.
  void tie(PinId pin, std::int32_t microvolts);
  LinkId add_link(PinId a, PinId b);
  void label(PinId pin, std::string name);
  void finish();

  /// After `finish`: the net is low and stays so, whatever its pins do. Nobody on it listens who minds.
  void hush(NetId net);
  bool hushed(NetId net) const { return nets_[net].hushed; }

  // Running.
  void drive(PinId pin, const Drive& drive);
  void link(LinkId link, std::int32_t ohms);
  /// While a latch is shut, its data pins are not told of edges between low and high.
  void shut_latch(std::size_t latch, bool shut) { shut_[latch] = shut ? 1 : 0; }
  std::int32_t ohms(LinkId link) const { return ohms_[link]; }
  bool dirty() const { return !marked_.empty(); }
  /// First every marked net gets its new level, then listeners are told; what they drive waits for the next round.
  void settle(Stamp when);
  /// Levels without edges: for power-on.
  void settle_silently();

  NetId net(PinId pin) const { return pin_net_[pin]; }
  const NetState& state(NetId net) const { return states_[net]; }
  const NetState& at(PinId pin) const { return states_[pin_net_[pin]]; }
  /// The level that the net last had for sure.
  bool last_high(NetId net) const { return last_high_[net] != 0; }
  /// What a net is to keep that nobody has driven yet.
  void charge(NetId net, bool high) { last_high_[net] = high; }
  /// The net and those that closed contacts make one with it, up to the rails, sorted.
  std::vector<NetId> joined(NetId net) const;
  /// Through what the net gets its voltage: 0 if something stiff holds it, else the resistances to what does, side by
  /// side; below 0 if nothing does.
  double source_ohms(NetId net) const { return source_ohms(net, -1, 0); }
  bool is_rail(NetId net) const { return nets_[net].rail; }
  std::span<const PinId> pins(NetId net) const { return {&pins_[nets_[net].first_pin], nets_[net].pins}; }
  std::size_t nets() const { return nets_.size(); }
  const std::string& net_name(NetId net) const { return net_names_[net]; }
  const std::string& pin_name(PinId pin) const { return names_[pin]; }
  const Drive& driving(PinId pin) const { return drives_[pin]; }
  bool listens(PinId pin) const { return ears_[pin].chip != nullptr; }
  /// Whether a link could join the net to another one.
  bool linked(NetId net) const { return nets_[net].cluster >= 0; }

  void archive(Archive& archive);

 private:
  struct Net {
    Drivers drivers;
    bool plain = false;  // neither rail nor linked: digital drivers alone decide
    bool marked = false;
    bool rail = false;
    bool hushed = false;
    std::int32_t microvolts = 0;                 // of a rail
    std::uint32_t listeners = 0, listening = 0;  // where its listeners begin, and how many
    std::uint32_t first_pin = 0, pins = 0;       // the same of all its pins
    std::int32_t cluster = -1;                   // nets that links may join; -1: none
  };
  struct Link {
    PinId a, b;
  };
  struct Change {
    NetId net = 0;
    NetState before;
  };
  /// A list that has room for an entry of each net from the start.
  template <class T>
  class Batch {
   public:
    void make_room(std::size_t nets) { items_.resize(nets); }
    void add(const T& item) { items_[count_++] = item; }
    void clear() { count_ = 0; }
    bool empty() const { return count_ == 0; }
    const T* begin() const { return items_.data(); }
    const T* end() const { return items_.data() + count_; }

   private:
    std::vector<T> items_;
    std::size_t count_ = 0;
  };
  struct Cluster {
    std::vector<NetId> nets;  // first those without rails, `inside` of them
    std::size_t inside = 0;
    std::vector<LinkId> links;
    std::vector<std::pair<int, int>> ends;  // of each link, as indexes into `nets`
    // Of a single net among rails, as long as no link changes.
    bool known = false;
    bool closed = false;  // by a contact
    NetState idle;        // where the links alone decide
  };

  double source_ohms(NetId net, LinkId by, int depth) const;
  void mark(NetId net);
  void check(const Archive& archive) const;
  void look_at_links(Cluster& cluster) const;
  std::optional<NetState> among_rails(const Net& net);
  void resolve(NetId net);
  void resolve_any(NetId net);
  void resolve_joined(const Net& net);
  void update(NetId net, const NetState& state);
  void resolve_marked();
  void tell_client(bool of_nets, Stamp when);

  BoardClient& client_;
  Clock& clock_;
  std::vector<std::string> names_;
  std::vector<Listener> ears_;  // by pin
  std::vector<NetId> pin_net_;  // while building: union-find parents
  std::vector<std::pair<PinId, std::int32_t>> ties_;
  std::vector<std::pair<PinId, std::string>> labels_;
  std::vector<Net> nets_;
  std::vector<std::string> net_names_;
  std::vector<PinId> pins_;          // net by net
  std::vector<Listener> listeners_;  // those among them that are told, net by net
  std::vector<Link> links_;
  std::vector<Cluster> clusters_;
  Batch<NetId> marked_;
  Batch<Change> changed_;
  bool clashes_ = false;  // one of those has become contended
  // Used again and again while a cluster is resolved.
  std::vector<int> parent_;
  std::vector<Node> nodes_;
  std::vector<Resistance> resistances_;
  Solver solver_;

  // Saved and restored.
  std::vector<Drive> drives_;  // by pin
  std::vector<NetState> states_;
  std::vector<std::uint8_t> last_high_;
  std::vector<std::int32_t> ohms_;
  std::vector<std::uint8_t> shut_;  // by latch
};

}  // namespace prewire
