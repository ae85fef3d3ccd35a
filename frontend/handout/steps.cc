// Puts the wires in the order in which a board is built: supply, clock and reset, the bus chip by chip, ports, parts.
#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <tuple>

#include "builder.h"

namespace prewire::handout {

namespace {

class Steps {
 public:
  explicit Steps(Board& board) : board_(board) {}

  void make() {
    sort_ends();
    for (std::size_t net = 0; net < board_.nets.size(); ++net) {
      const std::vector<End> ends = holes(board_.nets[net].ends);
      for (std::size_t i = 1; i < ends.size(); ++i) {
        const Wire wire{board_.nets[net].rail ? ends[0] : ends[i - 1], ends[i], static_cast<int>(net)};
        wires_[place_of(wire)].push_back(wire);
      }
    }
    for (auto& [place, wires] : wires_) {
      std::stable_sort(wires.begin(), wires.end(), [&](const Wire& a, const Wire& b) { return key(a) < key(b); });
      Step step = heading(place);
      step.wires = std::move(wires);
      if (place.first == kSupply) add_capacitors(step);
      board_.steps.push_back(std::move(step));
    }
  }

 private:
  enum Stage { kSupply, kProcessor, kBus, kDecoder, kPorts, kParts };
  using Place = std::pair<int, int>;  // stage, and the part for `kBus`

  const Part& part(int index) const { return board_.parts[static_cast<std::size_t>(index)]; }

  /// Sources first, then chips, then loose parts, the decoder last.
  int rank(int index) const {
    switch (part(index).kind) {
      case Part::Kind::rail: return -2;
      case Part::Kind::block: return part(index).ref == "DEC" ? 3 : -1;
      case Part::Kind::chip: return 0;
      case Part::Kind::loose: return 1;
    }
    return 2;
  }

  /// A pin of a package that several of its parts have in common is one hole.
  std::vector<End> holes(const std::vector<End>& ends) const {
    std::vector<End> list;
    for (const End end : ends) {
      const auto same = [&](End other) {
        return !part(end.part).package.empty() && part(end.part).package == part(other.part).package &&
               board_.terminal(end).number == board_.terminal(other).number;
      };
      if (std::none_of(list.begin(), list.end(), same)) list.push_back(end);
    }
    return list;
  }

  void sort_ends() {
    for (Net& net : board_.nets) {
      std::stable_sort(net.ends.begin(), net.ends.end(), [&](End a, End b) {
        return std::tuple(rank(a.part), a.part, board_.terminal(a).number) <
               std::tuple(rank(b.part), b.part, board_.terminal(b).number);
      });
    }
  }

  bool on_bus(int index) const {
    return std::any_of(board_.selects.begin(), board_.selects.end(),
                       [&](const Select& select) { return select.part == index; });
  }

  /// Pins that belong to the bus side of a chip.
  bool bus_side(Purpose purpose) const {
    return purpose == Purpose::data || purpose == Purpose::address || purpose == Purpose::control ||
           purpose == Purpose::select;
  }

  Place place_of(const Wire& wire) const {
    const Net& net = board_.nets[static_cast<std::size_t>(wire.net)];
    const Part &from = part(wire.from.part), &to = part(wire.to.part);
    if (net.rail) {
      if (board_.terminal(wire.to).kind == PinKind::supply) return {kSupply, 0};
      if (to.chip == -1 || (to.kind == Part::Kind::loose && to.chip == Part::kNoChip && at_processor(wire.to.part))) {
        return {kProcessor, 0};
      }
      if (to.kind == Part::Kind::loose) return {kParts, 0};
      const std::string& name = board_.terminal(wire.to).name;
      const bool select = name.starts_with("CS") || name == "PGM";
      return on_bus(wire.to.part) && select ? Place{kBus, wire.to.part} : Place{kPorts, 0};
    }
    if (to.ref == "DEC") {
      if (net.purpose == Purpose::select || is_strobe(net)) return {kBus, wire.from.part};
      return {kDecoder, 0};
    }
    if (bus_side(net.purpose) && on_bus(wire.to.part)) return {kBus, wire.to.part};
    if (to.chip == -1 || from.ref == "CLK" || from.ref == "RST") return {kProcessor, 0};
    if (at_processor(wire.to.part)) return {kProcessor, 0};
    return to.kind == Part::Kind::loose || from.kind == Part::Kind::loose ? Place{kParts, 0} : Place{kPorts, 0};
  }

  bool is_strobe(const Net& net) const { return net.name == "RD" || net.name == "WR"; }

  /// A part that the handout added at a pin of the processor: crystal, pull-up of RESET.
  bool at_processor(int index) const {
    if (part(index).chip != Part::kNoChip || part(index).kind != Part::Kind::loose) return false;
    for (const Net& net : board_.nets) {
      const auto has = [&](auto wanted) { return std::any_of(net.ends.begin(), net.ends.end(), wanted); };
      if (!net.rail && has([&](End end) { return end.part == index; }) &&
          has([&](End end) { return part(end.part).chip == -1; })) {
        return true;
      }
    }
    return false;
  }

  /// Within a step: by purpose where it is a bus, else as the nets come.
  std::tuple<int, int, int> key(const Wire& wire) const {
    const Net& net = board_.nets[static_cast<std::size_t>(wire.net)];
    if (place_of(wire).first != kBus && place_of(wire).first != kDecoder) return {0, wire.net, 0};
    int number = 0;
    for (const char c : net.name) {
      if (c >= '0' && c <= '9') number = number * 10 + (c - '0');
    }
    const int group = net.rail ? 9 : static_cast<int>(net.purpose);
    return {group, bus_side(net.purpose) ? number : 0, wire.net};
  }

  Step heading(const Place& place) const {
    switch (place.first) {
      case kSupply: return {"Supply", "Supply off. Every chip gets its supply and its capacitor first.", {}, {}};
      case kProcessor: return {"Processor: clock, reset, fixed inputs", "", {}, {}};
      case kBus: {
        const Part& chip = part(place.second);
        return {fmt::format("Bus of {} {}, {}", chip.ref, chip.name, chip.what), "", {}, {}};
      }
      case kDecoder: return {"Address decoder DEC: inputs", "What it has to do stands under \"Selects\".", {}, {}};
      case kPorts: return {"Ports: chip to chip", "", {}, {}};
      default: return {"Parts", "", {}, {}};
    }
  }

  void add_capacitors(Step& step) const {
    for (std::size_t i = 0; i < board_.parts.size(); ++i) {
      const Part& chip = board_.parts[i];
      if (!chip.packaged()) continue;
      int plus = 0, ground = 0;
      for (const Terminal& pin : chip.pins) {
        if (pin.kind != PinKind::supply) continue;
        int& at = pin.microvolts > 0 ? plus : ground;
        if (at == 0 || pin.name == "VCC") at = pin.number;
      }
      if (plus == 0 || ground == 0) continue;
      step.also.push_back(fmt::format("100 nF ceramic at {} ({}), between pins {} and {}, short leads", chip.ref,
                                      chip.name, plus, ground));
    }
    step.also.push_back("47 uF electrolytic where the supply enters the board; mind its polarity");
  }

  Board& board_;
  std::map<Place, std::vector<Wire>> wires_;
};

}  // namespace

void add_steps(Builder& builder) { Steps(builder.board()).make(); }

}  // namespace prewire::handout
