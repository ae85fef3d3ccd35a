#include "prewire/profile.h"

#include <fmt/format.h>

#include <algorithm>

#include "prewire/machine.h"
#include "watch/add.h"

namespace prewire {

namespace {

bool is_interrupt(CallKind kind) { return kind != CallKind::call && kind != CallKind::software_interrupt; }

/// Cycles that a frame costs begin here: an interrupt's entry is part of it, a calling instruction is not.
Cycle beginning(const CallFrame& frame) { return is_interrupt(frame.kind) ? frame.called : frame.entered; }

/// Quarter cycles as cycles: "17" or "17.25".
std::string cycles_of(std::int64_t quarters) {
  static constexpr const char* kParts[] = {"", ".25", ".5", ".75"};
  return fmt::format("{}{}", quarters / 4, kParts[quarters % 4]);
}

std::int64_t mean(std::int64_t sum, std::uint64_t count) {
  const auto divisor = static_cast<std::int64_t>(count);
  return count == 0 ? 0 : (sum + divisor / 2) / divisor;
}

/// Tenths of a percent: "12.5 %".
std::string share(Cycle part, Cycle all) {
  const Cycle tenths = all == 0 ? 0 : (part * 1000 + all / 2) / all;
  return fmt::format("{}.{} %", tenths / 10, tenths % 10);
}

}  // namespace

void Profile::Spread::add(std::int64_t value) {
  least = count == 0 ? value : std::min(least, value);
  most = count == 0 ? value : std::max(most, value);
  sum += value;
  ++count;
}

Profile::Profile(const Machine& machine)
    : machine_(machine), follower_(machine, this), begin_(machine.now()), since_(begin_) {
  const ChipView processor = machine.processor();
  for (const NetView& net : machine.nets()) {
    for (const NetView::Pin& pin : net.pins) {
      if (pin.chip != -1) continue;
      const std::string_view name = processor.type->pins[static_cast<std::size_t>(pin.pin)].name;
      for (const CallKind kind : {CallKind::irq, CallKind::firq, CallKind::nmi}) {
        if (name == to_string(kind)) lines_.push_back({kind, std::string(net.name), net.state.level == Level::low});
      }
    }
  }
  for (Line& line : lines_) {
    if (line.low && line.kind != CallKind::nmi) line.asked = machine_.moment();
  }
}

Profile::Line* Profile::line_of(CallKind kind) {
  const auto found = std::find_if(lines_.begin(), lines_.end(), [&](const Line& line) { return line.kind == kind; });
  return found == lines_.end() ? nullptr : &*found;
}

void Profile::on_net(std::string_view net, const NetState& state, Stamp when) {
  for (Line& line : lines_) {
    if (line.net != net) continue;
    const bool low = state.level == Level::low;
    // An edge of NMI waits until it is served; a level asks from its latest beginning.
    if (low && !line.low && (line.kind != CallKind::nmi || line.asked < 0)) line.asked = when;
    line.low = low;
  }
}

/// An interrupt is being entered.
void Profile::note_request(int opcode) {
  Line* line = line_of(kind_of(static_cast<Entry>(opcode)));
  requested_ = line == nullptr ? -1 : std::exchange(line->asked, -1);
}

void Profile::spend(Cycle until) {
  nodes_[here_].own += until - since_;
  since_ = until;
}

void Profile::step_into(Key key) {
  for (const std::size_t inside : nodes_[here_].inside) {
    if (nodes_[inside].key == key) {
      here_ = inside;
      return;
    }
  }
  nodes_[here_].inside.push_back(nodes_.size());
  nodes_.push_back({.key = key, .parent = here_, .own = 0, .inside = {}});
  here_ = nodes_.size() - 1;
}

void Profile::on_enter(const CallFrame& frame) {
  spend(beginning(frame));
  const Key key{frame.kind, frame.target};
  step_into(key);
  Tally& tally = tallies_[key];
  ++tally.calls;
  ++tally.open;
  if (!is_interrupt(frame.kind)) return;
  Interrupt& interrupt = interrupts_[key];
  ++interrupt.count;
  if (requested_ < 0) return;
  const std::int64_t latency = machine_.cycle_began() - requested_;
  if (latency > interrupt.latency.most || interrupt.latency.count == 0) interrupt.slowest_at = frame.called;
  interrupt.latency.add(latency);
}

void Profile::on_leave(const CallFrame& frame, Leave /*how*/, const Departure& departure) {
  spend(departure.cycle);
  here_ = nodes_[here_].parent;
  const Key key{frame.kind, frame.target};
  Tally& tally = tallies_[key];
  const Cycle took = departure.cycle - beginning(frame);
  if (--tally.open == 0) tally.total += took;
  if (took > tally.worst) {
    tally.worst = took;
    tally.worst_at = beginning(frame);
  }
  if (!is_interrupt(frame.kind)) return;
  interrupts_[key].duration.add(took);
  Line* line = line_of(frame.kind);
  // A line that is still low asks again.
  const bool again = line != nullptr && line->low && line->asked < 0 && line->kind != CallKind::nmi;
  if (again) line->asked = machine_.cycle_began();
}

Cycle Profile::cycles() const { return machine_.now() - begin_; }

std::string Profile::name_of(Key key) const {
  const std::string_view label = machine_.label_at(key.address);
  const std::string name = label.empty() ? fmt::format("${:04X}", key.address) : std::string(label);
  return key.kind == CallKind::call ? name : fmt::format("{}:{}", to_string(key.kind), name);
}

std::vector<Profile::Routine> Profile::routines() const {
  std::map<Key, Cycle> own;
  for (std::size_t node = 1; node < nodes_.size(); ++node) own[nodes_[node].key] += nodes_[node].own;
  const Cycle pending = machine_.now() - since_;
  if (here_ != 0) own[nodes_[here_].key] += pending;

  std::vector<Routine> routines;
  for (const auto& [key, tally] : tallies_) {
    Routine routine{name_of(key), key.address, tally.calls, own[key], tally.total, tally.worst, tally.worst_at};
    // A call that is not over: so far.
    for (const CallFrame& frame : follower_.stack()) {
      if (Key{frame.kind, frame.target} != key) continue;
      routine.total += machine_.now() - beginning(frame);
      break;  // the outermost
    }
    routines.push_back(std::move(routine));
  }
  std::stable_sort(routines.begin(), routines.end(), [](const Routine& a, const Routine& b) { return a.own > b.own; });
  Routine main{.name = std::string(kFoldedMark), .own = nodes_[0].own + (here_ == 0 ? pending : 0), .total = cycles()};
  routines.insert(routines.begin(), std::move(main));
  return routines;
}

std::vector<Profile::Interrupt> Profile::interrupts() const {
  std::vector<Interrupt> all;
  for (const auto& [key, interrupt] : interrupts_) {
    all.push_back(interrupt);
    all.back().kind = key.kind;
    all.back().handler = name_of({CallKind::call, key.address});
  }
  return all;
}

std::string Profile::folded() const {
  std::vector<std::string> lines;
  for (std::size_t node = 0; node < nodes_.size(); ++node) {
    const Cycle own = nodes_[node].own + (node == here_ ? machine_.now() - since_ : 0);
    if (own == 0) continue;
    std::string way;
    for (std::size_t at = node; at != 0; at = nodes_[at].parent) way.insert(0, ";" + name_of(nodes_[at].key));
    lines.push_back(fmt::format("{}{} {}\n", kFoldedMark, way, own));
  }
  std::sort(lines.begin(), lines.end());
  std::string text;
  for (const std::string& line : lines) text += line;
  return text;
}

std::string Profile::text() const {
  std::string text = fmt::format("{}{} over {}\n", kTextMark, machine_.title(), counted(cycles(), "cycle"));
  add(text, "\n{:>12} {:>8} {:>12} {:>12} {:>10} {:>10}  {:<12} {}\n", "own cycles", "share", "total cycles", "calls",
      "mean", "worst", "at cycle", "routine");
  for (const Routine& routine : routines()) {
    const bool main = routine.calls == 0;
    const std::string calls = main ? "" : std::to_string(routine.calls);
    const std::string each = main ? "" : std::to_string(mean(routine.total, routine.calls));
    const std::string worst = routine.worst == 0 ? "" : std::to_string(routine.worst);
    const std::string at = routine.worst == 0 ? "" : std::to_string(routine.worst_at);
    add(text, "{:>12} {:>8} {:>12} {:>12} {:>10} {:>10}  {:<12} {}\n", routine.own, share(routine.own, cycles()),
        routine.total, calls, each, worst, at, routine.name);
  }

  if (!interrupts_.empty()) {
    add(text, "\n{:<9} {:>8}  {:^29}  {:<12} {:^29}  {}\n", "", "", "cycles from line to handler", "slowest",
        "cycles in all", "");
    add(text, "{:<9} {:>8}  {:>9} {:>9} {:>9}  {:<12} {:>9} {:>9} {:>9}  {}\n", "interrupt", "count", "least", "mean",
        "most", "at cycle", "least", "mean", "most", "handler");
  }
  for (const Interrupt& each : interrupts()) {
    const Spread& latency = each.latency;
    const Spread& duration = each.duration;
    const auto known = [](const Spread& spread, const std::string& number) { return spread.count == 0 ? "-" : number; };
    add(text, "{:<9} {:>8}  {:>9} {:>9} {:>9}  {:<12} {:>9} {:>9} {:>9}  {}\n", to_string(each.kind), each.count,
        known(latency, cycles_of(latency.least)), known(latency, cycles_of(mean(latency.sum, latency.count))),
        known(latency, cycles_of(latency.most)), known(latency, std::to_string(each.slowest_at)),
        known(duration, std::to_string(duration.least)),
        known(duration, std::to_string(mean(duration.sum, duration.count))),
        known(duration, std::to_string(duration.most)), each.handler);
  }

  const DeepestStack& deep = deepest();
  if (deep.bytes == 0) return text;
  const auto place = [&](std::uint16_t address) {
    const auto source = machine_.source_at(address);
    return source ? fmt::format("${:04X}, {}", address, to_string(*source)) : fmt::format("${:04X}", address);
  };
  add(text, "\nDeepest stack: {}, S from ${:04X} down to ${:04X} before cycle {}, by the instruction at {}\n",
      counted(deep.bytes, "byte"), deep.top, deep.pointer, deep.cycle, place(deep.pc));
  for (const CallFrame& frame : deep.calls) {
    add(text, "  {} from {}\n", name_of({frame.kind, frame.target}), place(frame.caller));
  }
  return text;
}

}  // namespace prewire
