// A session: stop points, and nets beside the bus.
#include "session.h"

#include <fmt/format.h>

#include <algorithm>

namespace prewire::front::desk {

void Session::add_stop_point(StopPoint point) {
  if (!machine_) return;
  if (point.kind == StopPoint::Kind::execute) machine_->set_breakpoint(point.first, true);
  points_.push_back(std::move(point));
}

void Session::remove_stop_point(std::size_t index) {
  if (!machine_ || index >= points_.size()) return;
  const StopPoint point = points_[index];
  points_.erase(points_.begin() + static_cast<std::ptrdiff_t>(index));
  if (point.kind == StopPoint::Kind::execute && !stops_at(point.first)) machine_->set_breakpoint(point.first, false);
}

void Session::toggle_stop_point(std::uint16_t address) {
  if (!machine_) return;
  for (std::size_t i = 0; i < points_.size(); ++i) {
    if (points_[i].kind == StopPoint::Kind::execute && points_[i].first == address) return remove_stop_point(i);
  }
  StopPoint point;
  point.first = point.last = address;
  const std::string_view label = machine_->label_at(address);
  point.text = label.empty() ? fmt::format("${:04X}", address) : std::string(label);
  add_stop_point(std::move(point));
}

bool Session::stops_at(std::uint16_t address) const {
  return std::any_of(points_.begin(), points_.end(), [&](const StopPoint& point) {
    return point.kind == StopPoint::Kind::execute && point.first == address;
  });
}

void Session::arm(bool ends_run, Cycle end) {
  disarm();
  const auto executed = [](const StopPoint& point) { return point.kind == StopPoint::Kind::execute; };
  if (std::all_of(points_.begin(), points_.end(), executed)) return;  // the machine sees to breakpoints
  watch_.arm(*machine_, points_, ends_run, end);
  machine_->watch(watch_);
  armed_ = true;
}

void Session::disarm() {
  if (armed_) machine_->unwatch(watch_);
  armed_ = false;
}

void Session::choose_probes(std::vector<std::string> nets) {
  nets.resize(std::min(nets.size(), BusLog::kProbes));
  bus_.choose(std::move(nets));
  bus_.clear();
  if (machine_) refill_bus();
}

void Session::toggle_probe(const std::string& net) {
  std::vector<std::string> nets = bus_.probes();
  const auto at = std::find(nets.begin(), nets.end(), net);
  if (at != nets.end()) {
    nets.erase(at);
  } else {
    if (nets.size() == BusLog::kProbes) nets.erase(nets.begin());
    nets.push_back(net);
  }
  choose_probes(std::move(nets));
}

}  // namespace prewire::front::desk
