// Follows calls, returns and interrupts of a running program: who called whom, from where, how deep is the stack.
#pragma once

#include <cstdint>
#include <string_view>
#include <vector>

#include "prewire/clock.h"
#include "prewire/cpu.h"
#include "prewire/watch.h"

namespace prewire {

class Machine;

/// How a subroutine or a handler was entered.
enum class CallKind : std::uint8_t { call, software_interrupt, irq, firq, nmi };

/// "call", "SWI", "IRQ", "FIRQ" or "NMI".
std::string_view to_string(CallKind kind);
/// Of an interrupt; a reset calls nothing.
CallKind kind_of(Entry entry);

/// A subroutine or a handler that has been entered and not left.
struct CallFrame {
  CallKind kind = CallKind::call;
  std::uint16_t caller = 0;   ///< address of the calling instruction; of an interrupt, the one that it came before
  std::uint16_t target = 0;   ///< the first instruction inside
  std::uint16_t back = 0;     ///< where it should return to
  std::uint16_t outside = 0;  ///< stack pointer before the call
  std::uint16_t inside = 0;   ///< stack pointer at the first instruction inside: all is stacked
  Cycle called = 0;           ///< first cycle of the calling instruction or of the interrupt entry
  Cycle entered = 0;          ///< first cycle of the first instruction inside
};

/// How a frame came to its end.
enum class Leave : std::uint8_t {
  returned,   ///< to where it was called from, the stack as it was before the call
  elsewhere,  ///< by a return that took its stacked address, or part of it, to another place
  dropped,    ///< the stack pointer has been moved past its return address
  reset,
};

/// What ended it.
struct Departure {
  std::uint16_t from = 0;  ///< address of the instruction
  Flow flow = Flow::plain;
  std::uint16_t to = 0;  ///< address of the next one
  Cycle cycle = 0;       ///< first cycle of that
};

/// Is told of what a `CallFollower` sees. Override what you need.
class CallListener {
 public:
  virtual ~CallListener() = default;

  /// `frame` is the innermost one now.
  virtual void on_enter(const CallFrame& /*frame*/) {}
  /// `frame` was the innermost one; it is no longer on the stack. When a return passes several, the innermost comes
  /// first.
  virtual void on_leave(const CallFrame& /*frame*/, Leave /*how*/, const Departure& /*departure*/) {}
  /// A return that found no return address where the stack pointer was: a jump by way of the stack, or a mistake.
  virtual void on_stray_return(const Departure& /*departure*/) {}
};

/// Where the stack was deepest.
struct DeepestStack {
  int bytes = 0;                 ///< from `top` down
  std::uint16_t top = 0;         ///< stack pointer with nothing stacked
  std::uint16_t pointer = 0;     ///< stack pointer there
  std::uint16_t pc = 0;          ///< the instruction that stacked the last byte; of an interrupt, where it came
  Cycle cycle = 0;               ///< when the next instruction began
  std::vector<CallFrame> calls;  ///< outermost first
};

/// Keeps a stack of calls by comparing stack pointers, so that programs which put addresses on the stack, take them
/// off, or have several stacks make it wrong only for a while.
///
/// A frame is over when a return or a jump goes back to where it was called from, or when the stack pointer is past its
/// return address at the next jump or return. A return is told from a jump by way of the stack by that, too: it takes a
/// return address that a call has put there. A stack pointer that a plain instruction moves by more than 256 bytes
/// begins another stack, as far as `deepest` goes.
class CallFollower final : public Observer {
 public:
  /// Both must outlive it. To follow from the start of a program, watch before the machine runs.
  explicit CallFollower(const Machine& machine, CallListener* listener = nullptr);

  unsigned wants() const override { return kInstructions; }
  void on_instruction(const Cpu& cpu, std::uint16_t pc, int opcode, Cycle cycle) override {
    const std::uint16_t pointer = cpu.get(register_);
    if (pointer != pointer_ || alert_ || opcode < 0) [[unlikely]]
      look(pointer, pc, opcode, cycle);
    pc_ = pc;
    cycle_ = cycle;
  }

  /// Outermost first. What the instruction that ran last has done to it shows when the next one begins; `catch_up` does
  /// not wait for that.
  const std::vector<CallFrame>& stack() const { return stack_; }
  const DeepestStack& deepest() const { return deepest_; }

  /// Takes in the instruction that is over, in a machine that has stopped between two.
  void catch_up();
  /// The program goes on from somewhere else: the machine was restored, or a person changed registers.
  void forget();

 private:
  void look(std::uint16_t pointer, std::uint16_t pc, int opcode, Cycle cycle);
  Flow take_in(std::uint16_t pointer, std::uint16_t pc, Cycle cycle);
  void depart(std::uint16_t pointer, const Departure& departure);
  void leave(Leave how, const Departure& departure);
  void measure(std::uint16_t pointer, Cycle cycle, Flow flow);
  bool loose(std::uint16_t pointer) const { return !stack_.empty() && stack_.back().inside < pointer; }

  const Machine& machine_;
  CallListener* const listener_;
  std::size_t register_ = 0;  // the stack pointer, as `Cpu::get` counts
  std::vector<CallFrame> stack_;
  DeepestStack deepest_;

  // The instruction before, or the interrupt entry.
  bool known_ = false;
  int entry_ = 0;  // below 0: an `Entry`
  std::uint16_t pc_ = 0, pointer_ = 0;
  Cycle cycle_ = 0;
  std::uint16_t outside_ = 0;  // of an interrupt entry: stack pointer before anything was stacked

  bool alert_ = true;  // the next instruction must be looked at even if the stack pointer stays
  std::uint16_t top_ = 0;
  bool top_known_ = false;
};

}  // namespace prewire
