#include "standstill.h"

#include <cstdint>
#include <limits>
#include <utility>

namespace prewire::front {

namespace {

// What was about to happen at the first look, an interrupt on its way in, has begun long before this many cycles.
constexpr Cycle kPatience = 48;
constexpr std::size_t kInstructions = 24;  // more than fit into `kPatience`

bool jumps_to_itself(const Machine& machine) {
  const std::uint16_t pc = machine.cpu().pc();
  const Outline there = outline(machine, pc);
  return there.flow == Flow::jump && there.target == pc;
}

}  // namespace

bool Standstill::resting() const {
  if (!machine_.nothing_due()) return false;
  const Machine& machine = machine_;  // the other `cpu()` is for changing it
  return machine.cpu().state() != CpuState::running || jumps_to_itself(machine);
}

bool Standstill::only_rested() const {
  const std::uint16_t pc = std::as_const(machine_).cpu().pc();
  for (const PastInstruction& past : machine_.way_here(kInstructions)) {
    if (past.cycle >= since_ && (past.pc != pc || past.opcode < 0)) return false;
  }
  return true;
}

void Standstill::look() {
  if (std::as_const(machine_).cpu().state() == CpuState::stuck) reached_ = true;
  if (reached_) return;
  if (!resting()) {
    since_ = -1;
  } else if (since_ < 0) {
    since_ = machine_.now();
  } else if (machine_.now() >= since_ + kPatience) {
    reached_ = only_rested();
    since_ = machine_.now();
  }
}

Cycle Standstill::look_again() const {
  return since_ < 0 || reached_ ? std::numeric_limits<Cycle>::max() : since_ + kPatience;
}

}  // namespace prewire::front
