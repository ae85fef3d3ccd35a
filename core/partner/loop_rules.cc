#include "partner/loop_rules.h"

#include <fmt/format.h>

namespace prewire::partner {

namespace {

constexpr int kLongest = 64;

}  // namespace

std::vector<std::uint16_t> LoopRules::registers(const Cpu& cpu) const {
  std::vector<std::uint16_t> all;
  for (std::size_t i = 0; i < cpu.registers().size(); ++i) all.push_back(cpu.get(i));
  return all;
}

void LoopRules::begin(const Step& step) {
  left_ = kLongest;
  start_ = step.pc;
  before_ = registers(step.cpu);
  tests_ = false;
  waits_for_ = -1;
}

void LoopRules::look(const Step& step) {
  if (step.pc == start_ && left_ < kLongest && registers(step.cpu) == before_) {
    left_ = 0;
    // A branch to itself is how a program stops; a loop that decides something was meant to end.
    if (!tests_ || waits_for_ < 0) return;
    const auto address = static_cast<std::uint16_t>(waits_for_);
    scene_.say("no-progress", start_, [&] {
      return std::pair(fmt::format("the loop at {} waits for the byte at ${:04X} to change, but it only reads, and no "
                                   "interrupt can come: it is ${:02X} for ever",
                                   scene_.at(start_), address, scene_.peek(address)),
                       "who should change it? An interrupt handler needs its mask cleared, with CLI or ANDCC");
    });
    return;
  }
  --left_;
  if (step.op.has(kWrites | kMoves)) return give_up();
  if (step.op.has(kBranch)) tests_ = true;
  if (!step.op.has(kRead)) return;
  bool wrapped = false;
  const auto address = scene_.effective(step, wrapped);
  if (!address || !scene_.is(*address, kRam | kRom) || scene_.is(*address, kDevice)) return give_up();
  if (scene_.is(*address, kRam)) waits_for_ = *address;
}

}  // namespace prewire::partner
