#include "partner/loop_rules.h"

#include <fmt/format.h>

#include <algorithm>

#include "partner/vector_rules.h"

namespace prewire::partner {

namespace {

constexpr int kLongest = 64;
constexpr int kRounds = 3;

// Opcodes that the MC6800 and the MC6809 share.
constexpr bool is_clear(int opcode) { return opcode == 0x7F || opcode == 0x6F || opcode == 0x0F; }
constexpr bool is_test(int opcode) { return opcode == 0x7D || opcode == 0x6D || opcode == 0x0D; }
constexpr bool on_accumulator(int opcode) { return opcode >= 0x40 && opcode < 0x60; }
/// Of an operation on an accumulator and a byte, as LDAA is 6.
constexpr int operation(int opcode) { return opcode >= 0x80 ? opcode & 0x0F : -1; }
constexpr int kAnd = 4, kBit = 5, kLoad = 6, kOr = 10;

}  // namespace

std::vector<std::uint16_t> LoopRules::registers(const Cpu& cpu) const {
  std::vector<std::uint16_t> all;
  for (std::size_t i = 0; i < cpu.registers().size(); ++i) all.push_back(cpu.get(i));
  return all;
}

void LoopRules::begin(const Step& step, Around around, Cycle since) {
  around_ = around;
  since_ = since;
  start_ = lowest_ = step.pc;
  before_ = registers(step.cpu);
  tests_ = stores_ = unsure_ = false;
  waits_for_ = -1;
  rounds_ = 0;
  left_ = kLongest;
  polls_.clear();
  followed_ = {};
  latest_ = kFlags;
}

void LoopRules::look(const Step& step) {
  if (step.pc == start_ && left_ < kLongest && registers(step.cpu) == before_) {
    turn_ = kLongest - left_;
    // What reads of chips do is done in the first round: the second one shows that it has stayed.
    if ((polls_.empty() && !stores_) || ++rounds_ == kRounds) {
      left_ = 0;
      return told(step);
    }
    left_ = kLongest;
  }
  --left_;
  lowest_ = std::min(lowest_, step.pc);  // by which the loop is known, wherever it was met
  if (step.op.has(kMoves) && !step.op.has(kRts | kCall)) return give_up();
  if (step.op.has(kBranch)) tests_ = true;
  if (!access(step)) return give_up();
  follow(step);
}

/// Whether the loop can still be judged after what the instruction does with memory.
bool LoopRules::access(const Step& step) {
  const bool clears = is_clear(step.opcode);
  const bool reads = step.op.has(kRead) || (step.op.has(kModify) && !clears);
  const bool writes = step.op.has(kWrites);
  if (!reads && !writes) return true;
  bool wrapped = false;
  const auto address = scene_.effective(step, wrapped);
  if (!address || (reads && writes) || scene_.is(*address, kDevice) == scene_.is(*address, kRam | kRom)) return false;
  if (reads && around_ == Around::everything && !scene_.is(*address, kDevice)) return false;
  if (writes) {
    stores_ = true;
    // What it stores might be what it looks at.
    return scene_.is(*address, kRam) && waits_for_ < 0 && polls_.empty();
  }
  if (stores_) return false;
  if (scene_.is(*address, kDevice)) {
    poll(step, *address);
  } else if (scene_.is(*address, kRam)) {
    waits_for_ = *address;
  }
  return true;
}

void LoopRules::poll(const Step& step, std::uint16_t address) {
  auto known = std::find_if(polls_.begin(), polls_.end(), [&](const auto& each) { return each.address == address; });
  if (known == polls_.end()) known = polls_.insert(polls_.end(), {address, 0});
  const int what = operation(step.opcode);
  const bool loads = what == kLoad || what == kOr;
  const std::size_t into = !loads ? kFlags : step.opcode < 0xC0 ? kA : kB;
  Followed& at = followed_[into];
  if (what != kOr) at = {};
  at.polls.push_back(static_cast<std::size_t>(known - polls_.begin()));
  if (what == kBit) at.value = at.tested = step.opcode < 0xC0 ? scene_.a(step.cpu) : scene_.b(step.cpu);
  latest_ = into;
  unsure_ = unsure_ || !(loads || what == kBit || is_test(step.opcode));
}

/// Bits of the register of the chip that stand at `bits` now.
unsigned LoopRules::original(const Followed& at, unsigned bits) const {
  return (at.shift >= 0 ? bits >> at.shift : bits << -at.shift) & 0xFF;
}

/// What the instruction does with a byte that came from a chip.
void LoopRules::follow(const Step& step) {
  const int opcode = step.opcode;
  if (step.op.has(kBranch)) return decide(opcode);
  if (on_accumulator(opcode)) {
    const std::size_t which = opcode < 0x50 ? kA : kB;
    Followed& at = followed_[which];
    latest_ = which;
    const int kind = opcode & 0x0F;
    const bool left = kind == 8 || kind == 9, right = kind == 4 || kind == 6 || kind == 7;
    if (left || right) {
      const int bit = left ? 7 - at.shift : -at.shift;
      at.carried = bit >= 0 && bit < 8 ? bit : -1;
      at.shift += left ? 1 : -1;
    }
    at.tested = at.value;
    if (kind == 0xF || kind == 0xC || kind == 0xA) at.polls.clear();  // CLR; INC and DEC count something
    return;
  }
  if (step.op.mode == Mode::imm8) {
    const std::size_t which = opcode < 0xC0 ? kA : kB;
    Followed& at = followed_[which];
    const int what = operation(opcode);
    latest_ = which;
    at.carried = -1;
    at.tested = at.value;
    if (what == kLoad) at = {};
    if (what == kBit || what == kAnd) at.tested = at.value & original(at, scene_.peek(step.operand));
    if (what == kAnd) at.value = at.tested;
    return;
  }
  // Transfers between registers, and what else there is.
  if (opcode < 0x20 && opcode != 0x01 && opcode != 0x12 && !step.op.has(kRead)) unsure_ = unsure_ || !polls_.empty();
}

/// The branch at `opcode` looks at bits of what the flags tell of.
void LoopRules::decide(int opcode) {
  const Followed& at = followed_[latest_];
  unsigned bits = at.value;
  if (opcode == 0x2A || opcode == 0x2B) bits = original(at, 0x80) & at.tested;         // BPL, BMI
  if (opcode == 0x26 || opcode == 0x27) bits = at.tested;                              // BNE, BEQ
  if ((opcode == 0x24 || opcode == 0x25) && at.carried >= 0) bits = 1U << at.carried;  // BCC, BCS
  for (const std::size_t poll : at.polls) polls_[poll].mask = static_cast<std::uint8_t>(polls_[poll].mask | bits);
}

void LoopRules::told(const Step& step) {
  // A branch to itself is how a program stops, with a condition or without; a loop that decides something was meant to
  // end.
  if (!tests_ || turn_ == 1) return;
  const bool asks =
      unsure_ || std::any_of(polls_.begin(), polls_.end(), [](const auto& each) { return each.mask != 0; });
  // A handler might change what the loop looks at.
  if (around_ == Around::everything && (asks || VectorRules(scene_).changes_registers())) return;
  if (asks && !polls_.empty()) {
    if (unsure_) {
      for (WakeRules::Poll& poll : polls_) poll.mask = 0xFF;
    }
    wake_.polls(lowest_, polls_, since_);
    return;
  }
  if (waits_for_ >= 0 && around_ == Around::requests) {
    wake_.waits(lowest_, step.cycle);
    return;
  }
  const Occurrence here{.subject = lowest_, .since = since_, .pc = lowest_};
  if (waits_for_ >= 0) {
    const auto address = static_cast<std::uint16_t>(waits_for_);
    scene_.say("no-progress", here, [&] {
      return std::pair(fmt::format("the loop at {} waits for the byte at ${:04X} to change, but it only reads, and no "
                                   "interrupt can come: it is ${:02X} for ever",
                                   scene_.at(lowest_), address, scene_.peek(address)),
                       "who should change it? An interrupt handler needs its mask cleared, with CLI or ANDCC");
    });
    return;
  }
  scene_.say("no-progress", here, [&] {
    return std::pair(fmt::format("the loop at {} comes round with the same registers each time, and nothing in it can "
                                 "change: it never ends",
                                 scene_.at(lowest_)),
                     "is what counts set again in each turn, or never counted? Look where the branch at its end leads, "
                     "and what it tests");
  });
}

}  // namespace prewire::partner
