#include "stop_point.h"

#include "shared/nets.h"

namespace prewire::front::desk {

namespace {

constexpr std::pair<std::string_view, StopPoint::Kind> kWords[] = {{"read", StopPoint::Kind::read},
                                                                   {"write", StopPoint::Kind::write},
                                                                   {"rise", StopPoint::Kind::rise},
                                                                   {"fall", StopPoint::Kind::fall},
                                                                   {"edge", StopPoint::Kind::edge}};

[[noreturn]] void refuse_stop_point(std::string what, std::string expected, std::string found, std::string hint) {
  Fault fault;
  fault.id = "bad-stop-point";
  fault.what = std::move(what);
  fault.expected = std::move(expected);
  fault.found = std::move(found);
  fault.hint = std::move(hint);
  throw InputError(std::move(fault));
}

std::string trimmed(std::string_view text) {
  const auto first = text.find_first_not_of(' ');
  if (first == std::string_view::npos) return {};
  return std::string(text.substr(first, text.find_last_not_of(' ') - first + 1));
}

std::uint16_t address(const Machine& machine, const std::string& text) {
  if (const auto found = machine.address_of(text)) return *found;
  // Hex digits without their sign, as one types them.
  if (const auto bare = parse_address("$" + text); bare && text.size() == 4) return *bare;
  refuse_stop_point("no such address", "an address such as $F800, or a label of the program", text, "");
}

}  // namespace

StopPoint parse_stop_point(const Machine& machine, const std::string& text) {
  StopPoint point;
  point.text = trimmed(text);
  std::string rest = point.text;
  const auto blank = rest.find(' ');
  for (const auto& [word, kind] : kWords) {
    if (blank == std::string::npos || rest.substr(0, blank) != word) continue;
    point.kind = kind;
    rest = trimmed(rest.substr(blank));
    break;
  }
  if (rest.empty())
    refuse_stop_point("nothing to stop at", "an address, read or write and addresses, rise or fall and a net", "", "");
  if (!point.on_address()) {
    const auto net = find_net(machine, rest);
    if (!net) refuse_stop_point("no such net", "a net or a pin that is wired", rest, machine.net_trouble(rest));
    point.net = net->name;
    return point;
  }
  const auto dash = rest.find('-', 1);
  if (dash != std::string::npos && point.kind != StopPoint::Kind::execute) {
    point.first = address(machine, trimmed(rest.substr(0, dash)));
    point.last = address(machine, trimmed(rest.substr(dash + 1)));
    if (point.last < point.first)
      refuse_stop_point("the range ends before it begins", "a range such as $4000-$4003", rest, "");
    return point;
  }
  point.first = point.last = address(machine, rest);
  return point;
}

unsigned StopWatch::wants() const {
  unsigned wants = 0;
  for (const StopPoint& point : *points_) {
    if (point.kind == StopPoint::Kind::read || point.kind == StopPoint::Kind::write) wants |= kCycles;
    if (!point.on_address()) wants |= kNets;
  }
  return wants;
}

void StopWatch::arm(Machine& machine, const std::vector<StopPoint>& points, bool ends_run, Cycle end) {
  machine_ = &machine;
  end_ = end;
  points_ = &points;
  ends_run_ = ends_run;
  met_ = nullptr;
  levels_.clear();
  for (const StopPoint& point : points) {
    levels_.push_back(point.on_address() ? Level::floating : machine.net(point.net).value_or(NetState{}).level);
  }
}

void StopWatch::meet(const StopPoint& point, Cycle over) {
  if (!ends_run_ && over >= end_) return;
  met_ = &point;
  met_at_ = over;
  if (ends_run_) machine_->request_stop();
}

void StopWatch::on_cycle(const BusCycle& cycle) {
  if (!cycle.vma) return;
  for (const StopPoint& point : *points_) {
    if (point.kind != (cycle.rw ? StopPoint::Kind::read : StopPoint::Kind::write)) continue;
    if (cycle.address >= point.first && cycle.address <= point.last) return meet(point, cycle.cycle + 1);
  }
}

void StopWatch::on_net(std::string_view net, const NetState& state, Stamp when) {
  if (!is_sure(state.level)) return;
  for (std::size_t i = 0; i < points_->size(); ++i) {
    const StopPoint& point = (*points_)[i];
    if (point.on_address() || point.net != net || levels_[i] == state.level) continue;
    const bool sure = is_sure(levels_[i]);
    levels_[i] = state.level;
    const bool rose = state.level == Level::high;
    if (!sure || (rose ? point.kind == StopPoint::Kind::fall : point.kind == StopPoint::Kind::rise)) continue;
    meet(point, machine_->now() + (when > machine_->cycle_began() ? 1 : 0));
  }
}

}  // namespace prewire::front::desk
