#include "partner/loop_rules.h"

#include <fmt/format.h>

#include <algorithm>

namespace prewire::partner {

namespace {

constexpr int kLongest = 64;
constexpr int kRounds = 3;

}  // namespace

std::vector<std::uint16_t> LoopRules::registers(const Cpu& cpu) const {
  std::vector<std::uint16_t> all;
  for (std::size_t i = 0; i < cpu.registers().size(); ++i) all.push_back(cpu.get(i));
  return all;
}

void LoopRules::begin(const Step& step, bool interrupts) {
  interrupts_ = interrupts;
  left_ = kLongest;
  start_ = lowest_ = step.pc;
  before_ = registers(step.cpu);
  tests_ = false;
  waits_for_ = device_ = -1;
  rounds_ = 0;
}

void LoopRules::look(const Step& step) {
  if (step.pc == start_ && left_ < kLongest && registers(step.cpu) == before_) {
    turn_ = kLongest - left_;
    // What reads of chips do is done in the first round: the second one shows that it has stayed.
    if (device_ >= 0 && ++rounds_ < kRounds) {
      left_ = kLongest;
      return;
    }
    left_ = 0;
    return told(step);
  }
  --left_;
  lowest_ = std::min(lowest_, step.pc);  // by which the loop is known, wherever it was met
  if (step.op.has(kMoves) && !step.op.has(kRts | kCall)) return give_up();
  if (step.op.has(kBranch)) tests_ = true;
  if (!step.op.has(kWrites | kRead)) return;
  bool wrapped = false;
  const auto address = scene_.effective(step, wrapped);
  if (!address) return give_up();
  if (scene_.is(*address, kDevice)) {
    // Only a chip for which nothing is due stays as it is.
    if (step.op.has(kWrites) || !scene_.machine.nothing_due()) return give_up();
    device_ = *address;
  } else if (step.op.has(kWrites) || !scene_.is(*address, kRam | kRom)) {
    return give_up();
  } else if (scene_.is(*address, kRam)) {
    waits_for_ = *address;
  }
}

void LoopRules::told(const Step& step) {
  // A branch to itself is how a program stops, with a condition or without; a loop that decides something was meant to
  // end.
  if (!tests_ || turn_ == 1) return;
  if (device_ >= 0) {
    wake_.polls(lowest_, static_cast<std::uint16_t>(device_));
    return;
  }
  if (waits_for_ >= 0 && interrupts_) {
    wake_.waits(lowest_, step.cycle);
    return;
  }
  if (waits_for_ >= 0) {
    const auto address = static_cast<std::uint16_t>(waits_for_);
    scene_.say("no-progress", lowest_, [&] {
      return std::pair(fmt::format("the loop at {} waits for the byte at ${:04X} to change, but it only reads, and no "
                                   "interrupt can come: it is ${:02X} for ever",
                                   scene_.at(lowest_), address, scene_.peek(address)),
                       "who should change it? An interrupt handler needs its mask cleared, with CLI or ANDCC");
    });
    return;
  }
  scene_.say("no-progress", lowest_, [&] {
    return std::pair(fmt::format("the loop at {} comes round with the same registers each time, and nothing in it can "
                                 "change: it never ends",
                                 scene_.at(lowest_)),
                     "is what counts set again in each turn? Look where the branch at its end leads");
  });
}

}  // namespace prewire::partner
