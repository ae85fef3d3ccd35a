#include "prewire/calls.h"

#include <algorithm>
#include <cstdlib>

#include "prewire/machine.h"

namespace prewire {

namespace {

constexpr int kMostStacked = 12;    // by one instruction or interrupt
constexpr int kAnotherStack = 256;  // a move by more than that is no room for variables

}  // namespace

CallKind kind_of(Entry entry) {
  switch (entry) {
    case Entry::nmi: return CallKind::nmi;
    case Entry::firq: return CallKind::firq;
    default: return CallKind::irq;
  }
}

std::string_view to_string(CallKind kind) {
  switch (kind) {
    case CallKind::call: return "call";
    case CallKind::software_interrupt: return "SWI";
    case CallKind::irq: return "IRQ";
    case CallKind::firq: return "FIRQ";
    case CallKind::nmi: return "NMI";
  }
  return "";
}

CallFollower::CallFollower(const Machine& machine, CallListener* listener) : machine_(machine), listener_(listener) {
  const auto registers = machine.cpu().registers();
  const auto found =
      std::find_if(registers.begin(), registers.end(), [](const RegisterInfo& info) { return info.name == "S"; });
  register_ = static_cast<std::size_t>(found - registers.begin());
}

void CallFollower::forget() {
  stack_.clear();
  known_ = top_known_ = false;
  entry_ = 0;
  alert_ = true;
}

void CallFollower::catch_up() {
  const Cpu& cpu = machine_.cpu();
  if (cpu.cycles_into_instruction() > 0) return;
  const std::uint16_t pointer = cpu.get(register_);
  // Where a wait has stacked its registers belongs to the interrupt that is to come.
  if (known_ && take_in(pointer, cpu.pc(), machine_.now()) == Flow::wait) return;
  known_ = false;
  entry_ = 0;
  pointer_ = pointer;
  alert_ = true;
}

/// At an instruction or entry that needs more than a note of where it is.
void CallFollower::look(std::uint16_t pointer, std::uint16_t pc, int opcode, Cycle cycle) {
  const bool reset = opcode == static_cast<int>(Entry::reset);
  if (reset) {
    // It does not wait for the end of an instruction, so the one before may not have happened.
    while (!stack_.empty()) leave(Leave::reset, {pc, Flow::plain, pc, cycle});
    top_known_ = false;
  } else {
    const Flow before = known_ ? take_in(pointer, pc, cycle) : Flow::plain;
    outside_ = before == Flow::wait ? pointer_ : pointer;
  }
  known_ = !reset;
  entry_ = reset ? 0 : std::min(opcode, 0);
  pointer_ = pointer;
  alert_ = reset || entry_ < 0 || loose(pointer);
}

/// What the instruction or entry before this moment has done. Returns what it was.
Flow CallFollower::take_in(std::uint16_t pointer, std::uint16_t pc, Cycle cycle) {
  const bool interrupt = entry_ < 0;
  const Outline before = interrupt ? Outline{Flow::call, 0} : outline(machine_, pc_);
  switch (before.flow) {
    case Flow::call:
    case Flow::software_interrupt: {
      const CallKind kind = interrupt                   ? kind_of(static_cast<Entry>(entry_))
                            : before.flow == Flow::call ? CallKind::call
                                                        : CallKind::software_interrupt;
      const auto back = static_cast<std::uint16_t>(pc_ + before.bytes);
      stack_.push_back({kind, pc_, pc, back, interrupt ? outside_ : pointer_, pointer, cycle_, cycle});
      if (listener_ != nullptr) listener_->on_enter(stack_.back());
      break;
    }
    case Flow::jump:
    case Flow::ret:
    case Flow::interrupt_return: depart(pointer, {pc_, before.flow, pc, cycle}); break;
    case Flow::plain:
    case Flow::branch:
    case Flow::wait: break;
  }
  measure(pointer, cycle, before.flow);
  return before.flow;
}

/// Finds the frames that a jump or a return has ended.
void CallFollower::depart(std::uint16_t pointer, const Departure& departure) {
  // Frames whose return address was off the stack before: a program may have taken it to jump there.
  std::size_t kept = stack_.size();
  while (kept > 0 && stack_[kept - 1].inside < pointer_) --kept;
  const bool by_return = departure.flow != Flow::jump;
  const bool proper =
      by_return && kept > 0 && stack_[kept - 1].back == departure.to && stack_[kept - 1].outside == pointer;
  for (std::size_t i = stack_.size(); !proper && i-- > kept;) {
    if (stack_[i].back != departure.to) continue;
    while (stack_.size() > i + 1) leave(Leave::dropped, departure);
    return leave(Leave::returned, departure);
  }
  while (stack_.size() > kept) leave(Leave::dropped, departure);
  if (!by_return) return;
  if (proper) return leave(Leave::returned, departure);
  if (!loose(pointer)) {
    if (listener_ != nullptr) listener_->on_stray_return(departure);
    return;
  }
  leave(Leave::elsewhere, departure);
  while (loose(pointer)) leave(Leave::dropped, departure);
}

void CallFollower::leave(Leave how, const Departure& departure) {
  const CallFrame frame = stack_.back();
  stack_.pop_back();
  if (listener_ != nullptr) listener_->on_leave(frame, how, departure);
}

void CallFollower::measure(std::uint16_t pointer, Cycle cycle, Flow flow) {
  const int moved = pointer - pointer_;
  if (moved == 0) return;
  const bool by_itself = flow == Flow::plain;
  // The first that happens to it after a reset is that a program sets it up, as a rule.
  const bool set_up = !top_known_ && (moved > 0 || moved < -kMostStacked);
  if (by_itself && (set_up || std::abs(moved) > kAnotherStack)) {
    top_ = pointer;
  } else if (!top_known_) {
    top_ = pointer_;
  }
  top_known_ = true;
  top_ = std::max(top_, pointer);
  if (top_ - pointer <= deepest_.bytes) return;
  deepest_ = {top_ - pointer, top_, pointer, pc_, cycle, stack_};
}

}  // namespace prewire
