#include "stops.h"

#include <fmt/format.h>

#include "shared/places.h"

namespace prewire::front::debug {

namespace {

// Of larger ranges nobody asks what they held before.
constexpr int kRemembered = 256;

std::string range_text(const Machine& machine, const Halt& halt) {
  if (halt.first == halt.last) return place_text(machine, halt.first);
  return fmt::format("${:04X}-${:04X}", halt.first, halt.last);
}

}  // namespace

std::string to_string(const Machine& machine, const Halt& halt) {
  std::string text;
  switch (halt.kind) {
    case Halt::Kind::execute: text = fmt::format("break {}: {}", halt.number, range_text(machine, halt)); break;
    case Halt::Kind::read: text = fmt::format("watch {}: read of {}", halt.number, range_text(machine, halt)); break;
    case Halt::Kind::write: text = fmt::format("watch {}: write to {}", halt.number, range_text(machine, halt)); break;
    case Halt::Kind::access:
      text = fmt::format("watch {}: access to {}", halt.number, range_text(machine, halt));
      break;
    case Halt::Kind::net:
      text = fmt::format("watch {}: {} of {}", halt.number,
                         halt.edge == Halt::Edge::rise   ? "rise"
                         : halt.edge == Halt::Edge::fall ? "fall"
                                                         : "change",
                         halt.net);
      break;
  }
  if (halt.test) text += fmt::format(", if {}", halt.test->text());
  if (halt.hits > 0) text += fmt::format(", met {}", halt.hits == 1 ? "once" : fmt::format("{} times", halt.hits));
  return text;
}

const Halt& Halts::add(Halt halt) {
  halt.number = ++numbers_;
  list_.push_back(std::move(halt));
  return list_.back();
}

bool Halts::remove(int number) {
  return std::erase_if(list_, [&](const Halt& halt) { return halt.number == number; }) > 0;
}

Watch::Watch(Machine& machine, Halts& halts, const Test* test) : machine_(machine), halts_(halts), test_(test) {
  for (const Halt& halt : halts.list()) {
    levels_.push_back(halt.kind == Halt::Kind::net ? machine.net(halt.net)->level : Level::low);
    bytes_.emplace_back();
    const bool accesses =
        halt.kind == Halt::Kind::read || halt.kind == Halt::Kind::write || halt.kind == Halt::Kind::access;
    for (int at = halt.first; accesses && halt.last - halt.first < kRemembered && at <= halt.last; ++at) {
      bytes_.back().push_back(machine.peek(static_cast<std::uint16_t>(at)));
    }
  }
  machine.watch(*this);
}

Watch::~Watch() { machine_.unwatch(*this); }

unsigned Watch::wants() const {
  unsigned wants = 0;
  for (const Halt& halt : halts_.list()) {
    if (halt.kind == Halt::Kind::net) wants |= kNets;
    if (halt.kind == Halt::Kind::read || halt.kind == Halt::Kind::write || halt.kind == Halt::Kind::access) {
      wants |= kCycles;
    }
  }
  if (test_ != nullptr && test_->of_nets()) wants |= kNets;
  if (test_ != nullptr && test_->of_values()) wants |= kInstructions;
  return wants;
}

void Watch::end(Halt& halt, std::string what) {
  ++halt.hits;
  reasons_.push_back(fmt::format("{} {}: {}", halt.kind == Halt::Kind::execute ? "break" : "watch", halt.number, what));
  machine_.request_stop();
}

void Watch::on_cycle(const BusCycle& cycle) {
  if (!cycle.vma) return;
  for (std::size_t i = 0; i < halts_.list().size(); ++i) {
    Halt& halt = halts_.list()[i];
    if (cycle.address < halt.first || cycle.address > halt.last) continue;
    const bool meant =
        halt.kind == Halt::Kind::access || halt.kind == (cycle.rw ? Halt::Kind::read : Halt::Kind::write);
    if (!meant) continue;
    const std::size_t at = static_cast<std::size_t>(cycle.address - halt.first);
    std::string before;
    if (at < bytes_[i].size()) {
      if (!cycle.rw) before = fmt::format(", before it ${:02X}", bytes_[i][at]);
      bytes_[i][at] = machine_.peek(cycle.address);
    }
    if (!met(halt)) continue;
    end(halt, fmt::format("{} {} ${:02X}{} in cycle {}", place_text(machine_, cycle.address),
                          cycle.rw ? "read as" : "written", cycle.data, before, cycle.cycle));
  }
}

void Watch::on_instruction(const Cpu& /*cpu*/, std::uint16_t /*pc*/, int /*opcode*/, Cycle cycle) {
  // Told in the first cycle of an instruction, when the one before it has done all it does.
  if (begun_ && !test_met_) {
    look_at_test();
    if (test_met_) met_after_ = cycle;
  }
  begun_ = true;
}

void Watch::on_net(std::string_view net, const NetState& state, Stamp /*when*/) {
  for (std::size_t i = 0; i < halts_.list().size(); ++i) {
    Halt& halt = halts_.list()[i];
    if (halt.kind != Halt::Kind::net || halt.net != net) continue;
    const Level before = levels_[i];
    levels_[i] = state.level;
    const bool rise = state.level == Level::high && before != Level::high;
    const bool fall = state.level == Level::low && before != Level::low;
    if ((halt.edge == Halt::Edge::rise && !rise) || (halt.edge == Halt::Edge::fall && !fall) || !met(halt)) continue;
    const std::string level = before == state.level
                                  ? format_quantity(state.microvolts, Unit::microvolts)
                                  : fmt::format("{}, before it {}", to_string(state.level), to_string(before));
    end(halt, fmt::format("{} {} in cycle {}", net, level, machine_.now()));
  }
  if (test_ != nullptr && test_->of_nets()) look_at_test();
}

void Watch::look_at_test() {
  if (test_met_ || test_ == nullptr || !test_->holds(machine_, {})) return;
  test_met_ = true;
  machine_.request_stop();
}

}  // namespace prewire::front::debug
