// What tools see of a processor, whichever it is: its registers, its state, why it stopped.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "prewire/clock.h"

namespace prewire {

/// One register as the data sheet names it.
struct RegisterInfo {
  std::string_view name;   ///< "A", "X", "CC"
  int bits = 8;            ///< 8 or 16
  std::string_view flags;  ///< for a condition code register: one letter per bit from bit 7, '1' for a bit fixed at 1
};

/// What the processor is doing between two bus cycles.
enum class CpuState : std::uint8_t {
  running,
  waiting,  ///< in WAI, registers stacked
  halted,   ///< HALT is low
  reset,    ///< RESET is low
  stuck,    ///< met an opcode that the data sheet does not define; only RESET helps
};

std::string_view to_string(CpuState state);

/// Why a run came back.
enum class StopReason : std::uint8_t {
  limit,             ///< the cycle asked for was reached
  requested,         ///< an observer, a condition or the embedding program asked for it
  breakpoint,        ///< about to execute at an address with a breakpoint
  undefined_opcode,  ///< the processor met an opcode that the data sheet does not define
  interrupted,       ///< the flag that the machine heeds is up (see `Machine::heed`)
};

std::string_view to_string(StopReason reason);

/// How a run ended.
struct Stop {
  StopReason reason = StopReason::limit;
  Cycle cycle = 0;               ///< cycles that are over
  std::uint16_t pc = 0;          ///< address of the current instruction
  bool mid_instruction = false;  ///< the current instruction has begun and is not over
};

/// A processor as seen from outside. Registers show the state before the current instruction when a run has stopped
/// within one: instructions change registers only after their last bus cycle.
class Cpu {
 public:
  virtual ~Cpu() = default;

  /// Part number in lower case, as in a machine file: "mc6800".
  virtual std::string_view type() const = 0;
  virtual CpuState state() const = 0;

  virtual std::span<const RegisterInfo> registers() const = 0;
  /// `index` counts in `registers()`.
  virtual std::uint16_t get(std::size_t index) const = 0;
  /// Changes a register between two instructions; false, and nothing happens, within one, and while the machine runs.
  virtual bool set(std::size_t index, std::uint16_t value) = 0;

  virtual std::uint16_t pc() const = 0;
  /// Bus cycles of the current instruction that are over; 0 between instructions.
  virtual int cycles_into_instruction() const = 0;
};

/// All registers in one line, as in `A=3F B=00 X=0120 S=007F PC=C012 CC=11HINZVC` with lower-case letters for 0 flags.
std::string to_string(const Cpu& cpu);

/// Where the processor goes after an instruction.
enum class Flow : std::uint8_t {
  plain,               ///< on to the next one
  branch,              ///< by a condition, on to the next one or somewhere else
  jump,                ///< somewhere else: JMP, BRA, TFR X,PC
  call,                ///< somewhere else, and the address of the next one is stacked: JSR, BSR
  ret,                 ///< to an address from the stack S: RTS, PULS PC
  interrupt_return,    ///< RTI
  software_interrupt,  ///< SWI, SWI2, SWI3
  wait,                ///< on to the next one after an interrupt: WAI, CWAI, SYNC
};

/// "plain", "branch", "jump", "call", "return", "interrupt return", "software interrupt" or "wait".
std::string_view to_string(Flow flow);

/// What there is to know of an instruction without its notation.
struct Outline {
  Flow flow = Flow::plain;
  int bytes = 1;  ///< 1 to 5
  bool defined = true;
  /// Of a branch, a jump or a call: where to, if its bytes alone say so.
  std::optional<std::uint16_t> target{};
};

/// Much quicker than `disassemble`, with the same arguments.
Outline outline(std::string_view type, std::uint16_t address, std::span<const std::uint8_t> code);

/// One instruction in the trade's notation, from the CPU's own table.
struct Disassembly {
  std::string text;  ///< `LDAA $4001`; `FCB $02` where the opcode is undefined
  int bytes = 1;     ///< 1 to 5
  int cycles = 0;    ///< 0 where undefined
  bool defined = true;
  int undefined_bytes = 0;  ///< where undefined: the bytes that show it, 1 to 3
};

/// `type` is a CPU type of the machine file; `code` holds the bytes from `address` on, missing ones read as 0.
Disassembly disassemble(std::string_view type, std::uint16_t address, std::span<const std::uint8_t> code);

}  // namespace prewire
