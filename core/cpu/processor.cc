// The slow path of a cycle.
#include "cpu/processor.h"

#include <algorithm>
#include <cassert>
#include <utility>

namespace prewire {

namespace {

Entry entry(std::uint32_t pseudo) {
  switch (pseudo) {
    case kNmiEntry:
    case kNmiWake: return Entry::nmi;
    case kIrqEntry:
    case kIrqWake: return Entry::irq;
    case kFirqEntry:
    case kFirqWake: return Entry::firq;
    default: return Entry::reset;
  }
}

}  // namespace

PREWIRE_INLINE std::uint32_t Processor::transfer(Kind kind, std::uint16_t address, std::uint8_t value) {
  Clock& clock = world_.clock;
  const Stamp fall = clock.fall();
  run_timers(fall);

  clock.moment = fall;
  const std::uint8_t kept = handover.last;
  std::uint32_t byte = kept;
  driven_ = false;
  switch (kind) {
    case Kind::fetch:
    case Kind::read:
    case Kind::vector:
    case Kind::ignored: {
      const bool fetch = kind == Kind::fetch;
      if (kind == Kind::vector && world_.bus.own_vectors()) [[unlikely]] {
        const SystemBus::Result result = world_.bus.read_apart(address, Access::vector, kept);
        byte = result.value;
        driven_ = result.driven;
        break;
      }
      if (!(world_.bus.flat().slow(address) & (fetch ? kSlowFetch : kSlowRead))) {
        byte = world_.bus.flat().cell(address);
        driven_ = true;
        break;
      }
      const Access access = fetch ? Access::fetch : kind == Kind::ignored ? Access::ignored : Access::read;
      const SystemBus::Result result = world_.bus.read(address, access, kept);
      byte = result.value;
      driven_ = result.driven;
      break;
    }
    case Kind::write:
      driven_ = data_enabled_;
      byte = write_traced(address, data_enabled_ ? value : kept, kept);
      break;
    case Kind::idle: {
      if (!(world_.bus.flat().slow(address) & kSlowIdle)) break;
      const SystemBus::Result result = world_.bus.read_apart(address, Access::idle, kept);
      byte = result.value;
      driven_ = result.driven;
      note(address, kAnswered | byte);
      break;
    }
  }
  bus_byte_ = static_cast<std::uint8_t>(byte);
  if (heard_data_ != 0) [[unlikely]]
    show_lines(part_.pins.data, heard_data_, byte);
  drop_e();
  settle(fall);
  return byte;
}

PREWIRE_INLINE void Processor::tell_cycle(Kind kind, std::uint16_t address, std::uint32_t value) {
  if (!world_.watchers.want(Observer::kCycles)) return;
  BusCycle seen;
  seen.cycle = world_.clock.now;
  seen.address = address;
  seen.data = static_cast<std::uint8_t>(value);
  seen.vma = kind != Kind::idle;
  seen.rw = kind != Kind::write;
  seen.ba = ba_;
  seen.bs = bs_ || kind == Kind::vector;
  seen.fetch = kind == Kind::fetch;
  seen.driven = driven_;
  seen.late = static_cast<std::uint8_t>(world_.clock.late());
  seen.stretch = static_cast<std::uint32_t>(world_.clock.stretch());
  world_.watchers.tell_cycle(seen);
}

void Processor::tell_instruction(int opcode) {
  world_.watchers.tell_instruction(*this, pc(), opcode, world_.clock.now);
}

PREWIRE_INLINE Slow Processor::complete(Cycle cycle, std::int64_t left, std::uint64_t value) {
  Clock& clock = world_.clock;
  run_timers(clock.fall() + 1);
  if (cycle + 1 >= clock.limit() || asked()) [[unlikely]]
    return end_run(cycle, left, value);
  clock.plan(cycle + 1);
  return {clock.horizon() - 1 - cycle, value};
}

/// A cycle of plain memory, or a dead one, in which nothing happens but that observers see it. False if it is more.
template <Processor::Kind kind>
PREWIRE_INLINE bool Processor::observed_cycle(std::uint16_t address, std::uint8_t& byte, std::int64_t left) {
  if (mode_ != Mode::live) return false;
  Clock& clock = world_.clock;
  clock.now = clock.horizon() - 1 - left;
  if (!clock.merely_observed()) return false;
  Flat& flat = world_.bus.flat();
  constexpr SlowAccess kSlow = kind == Kind::fetch ? kSlowFetch : kind == Kind::write ? kSlowWrite : kSlowRead;
  if (flat.slow(address) & (kind == Kind::idle ? kSlowIdle : kSlow)) return false;
  if (kind != Kind::idle && kind != Kind::write) byte = flat.cell(address);
  if (kind == Kind::idle) byte = handover.last;
  if (kind == Kind::write) {
    note(address | kStored, flat.cell(address));
    flat.cell(address) = byte;
  }
  bus_byte_ = byte;
  clock.moment = clock.fall();
  if (kind == Kind::fetch) {
    passing_ = false;
    if (world_.watchers.want(Observer::kInstructions | Observer::kNewInstructions)) [[unlikely]]
      tell_instruction(byte);
  }
  BusCycle seen;
  seen.cycle = clock.now;
  seen.address = address;
  seen.data = byte;
  seen.vma = kind != Kind::idle;
  seen.rw = kind != Kind::write;
  seen.fetch = kind == Kind::fetch;
  seen.driven = kind != Kind::idle;
  seen.late = static_cast<std::uint8_t>(clock.late());
  world_.watchers.tell_cycle(seen);
  return true;
}

/// What follows such a cycle; an observer may have asked for a stop.
PREWIRE_INLINE Slow Processor::after_observed(std::int64_t left, std::uint64_t value) {
  Clock& clock = world_.clock;
  if (!clock.merely_observed() || flag_->up()) [[unlikely]]
    return after_watched(left, value);
  return {left, value};  // below 0, and so it stays: the next cycle is looked at as well
}

Slow Processor::after_watched(std::int64_t left, std::uint64_t value) {
  return complete(world_.clock.now, left, value);
}

Slow Processor::slow_read(std::uint16_t address, std::int64_t left) {
  return left < 0 ? due_read(address, left) : register_read(address, left);
}

Slow Processor::register_read(std::uint16_t address, std::int64_t left) {
  // Only the address is special. Nothing is due in this cycle, unless the access makes it so.
  Clock& clock = world_.clock;
  clock.begin_access(left);
  access_left_ = left;
  TrailEntry& entry = next_entry(clock.virtual_horizon() - left);
  entry.where = address;
  const std::uint8_t value = world_.bus.read(address, Access::read, handover.last).value;
  entry.value = value;
  if (clock.horizon() <= clock.now) [[unlikely]]
    return after_access(value);
  return {clock.horizon() - 1 - clock.now, value};
}

Slow Processor::slow_ignored(std::uint16_t address, std::int64_t left) {
  std::uint8_t byte = 0;
  if (left < 0 && observed_cycle<Kind::ignored>(address, byte, left)) return after_observed(left, byte);
  return live_cycle(Kind::ignored, address, 0, left);
}

Slow Processor::slow_vector(std::uint16_t address, std::int64_t left) {
  return live_cycle(Kind::vector, address, 0, left);
}

Slow Processor::slow_write(std::uint16_t address, std::uint8_t value, std::int64_t left) {
  return left < 0 ? due_write(address, value, left) : register_write(address, value, left);
}

Slow Processor::register_write(std::uint16_t address, std::uint8_t value, std::int64_t left) {
  Clock& clock = world_.clock;
  clock.begin_access(left);
  access_left_ = left;
  value = write_traced(address, value, handover.last);
  if (clock.horizon() <= clock.now) [[unlikely]]
    return after_access(value);
  return {clock.horizon() - 1 - clock.now, value};
}

/// A dead cycle in which a chip takes part: nobody has told it that VMA is low.
Slow Processor::answered_idle(std::uint16_t address, std::int64_t left) {
  Clock& clock = world_.clock;
  clock.begin_access(left);
  access_left_ = left;
  const std::uint8_t value = world_.bus.read_apart(address, Access::idle, handover.last).value;
  note(address, kAnswered | value);
  if (clock.horizon() <= clock.now) [[unlikely]] {
    Slow slow = after_access(value);
    slow.value |= kAnswered;
    return slow;
  }
  return {clock.horizon() - 1 - clock.now, kAnswered | value};
}

/// An access has moved a net or made something due.
Slow Processor::after_access(std::uint8_t value) {
  settle(world_.clock.fall());
  bus_byte_ = value;
  return complete(world_.clock.now, access_left_, value);
}

/// What the bus then holds: the processor may not be alone on it.
std::uint8_t Processor::write_traced(std::uint16_t address, std::uint8_t value, std::uint8_t kept) {
  if (!(world_.bus.flat().slow(address) & kSlowWrite)) {
    note(address | kStored, world_.bus.flat().cell(address));
    world_.bus.flat().cell(address) = value;
    return value;
  }
  const std::uint8_t held = world_.bus.write(address, value, kept);
  const SystemBus::Overwritten& over = world_.bus.overwritten();
  if (over.any) note(over.cell | kStored, over.old);
  return held;
}

/// A read in a cycle that is due for more than that.
Slow Processor::due_read(std::uint16_t address, std::int64_t left) {
  std::uint8_t byte = 0;
  if (observed_cycle<Kind::read>(address, byte, left)) return after_observed(left, byte);
  return live_cycle(Kind::read, address, 0, left);
}

Slow Processor::due_write(std::uint16_t address, std::uint8_t value, std::int64_t left) {
  if (observed_cycle<Kind::write>(address, value, left)) return after_observed(left, value);
  return live_cycle(Kind::write, address, value, left);
}

Slow Processor::slow_idle(std::uint16_t address, std::int64_t left) {
  std::uint8_t byte = 0;
  if (left >= 0) return answered_idle(address, left);
  if (observed_cycle<Kind::idle>(address, byte, left)) return after_observed(left, 0);
  const Slow slow = live_cycle(Kind::idle, address, 0, left);
  const bool answered = mode_ == Mode::live && (world_.bus.flat().slow(address) & kSlowIdle) != 0;
  return answered ? Slow{slow.left, kAnswered | (slow.value & 0xFF)} : slow;
}

Slow Processor::slow_fetch(std::uint16_t address, std::int64_t left) {
  if (left >= 0 && !(world_.bus.flat().slow(address) & kSlowFetch)) return watched_fetch(address, left);
  std::uint8_t opcode = 0;
  if (observed_cycle<Kind::fetch>(address, opcode, left)) return after_observed(left, opcode);
  return due_fetch(address, left);
}

/// Nothing is due, and nothing special about the address: observers are told of the instruction.
Slow Processor::watched_fetch(std::uint16_t address, std::int64_t left) {
  Clock& clock = world_.clock;
  clock.begin_access(left);
  const std::uint8_t opcode = world_.bus.flat().cell(address);
  bus_byte_ = opcode;
  passing_ = false;
  tell_instruction(opcode);
  if (clock.horizon() <= clock.now || flag_->up()) [[unlikely]]
    return after_watched(left, opcode);  // somebody has asked for a stop
  return {clock.horizon() - 1 - clock.now, opcode};
}

Slow Processor::due_fetch(std::uint16_t address, std::int64_t left) {
  if (mode_ != Mode::live) return offline(Kind::fetch, address, 0, left);
  Clock& clock = world_.clock;
  clock.now = clock.horizon() - 1 - left;
  clock.moment = clock.present();
  bus_byte_ = handover.last;
  if (clock.attending(kSignals) && !stolen_cycles()) return leave(0, kLeave);
  const bool begun = clock.held;
  if (clock.attending(kDeadReads)) watch_dead_reads();
  if (stepping_ && boundaries_-- == 0) return leave(0, kLeave);
  if (world_.bus.breakpoint(address) && !passing_ && !begun && doing_ == CpuState::running) {
    at_breakpoint_ = true;
    broken_ = clock.now;
    return leave(0, kLeave);
  }
  const bool nothing_to_decide = left >= 0;
  passing_ = false;
  const Begin begin = begun               ? std::exchange(decided_, {})
                      : nothing_to_decide ? Begin{0, Kind::fetch, address}
                                          : boundary(latched(clock.e_cycle() - latching_.cycles));
  if (world_.board.dirty()) world_.board.settle(clock.moment);
  // A processor that does nothing until something happens needs no cycle before that.
  const bool alone = begin.kind == Kind::idle || !(world_.bus.flat().slow(begin.address) & kSlowRead);
  if (begin.op == kPass && begin.steady && inputs_steady() && alone && !world_.watchers.want(Observer::kCycles) &&
      !clock.attending(kSignals) && !clock.attending(kStopping)) {
    const Cycle wake = std::min(clock.limit() - 1, clock.cycle_at(clock.next()));
    if (wake > clock.now) clock.now = wake;
  }
  if (foresees_) [[unlikely]]
    preview(begin);
  if (!ready(begin.kind, begin.address, 0, 0)) {
    decided_ = begin;  // it goes on with that, whatever else is asked for by then
    return leave(0, kLeave);
  }
  const Cycle cycle = clock.now;
  const std::uint32_t byte = transfer(begin.kind, begin.address, 0);
  const std::uint32_t value = begin.op == 0 ? byte : begin.op | byte << 16;
  note(begin.address, value);
  if (begin.op != kPass) tell_instruction(begin.op == 0 ? static_cast<int>(byte) : static_cast<int>(entry(begin.op)));
  tell_cycle(begin.kind, begin.address, byte);
  return complete(cycle, left, value);
}

Slow Processor::live_cycle(Kind kind, std::uint16_t address, std::uint8_t value, std::int64_t left) {
  if (mode_ != Mode::live) return offline(kind, address, value, left);
  Clock& clock = world_.clock;
  clock.now = clock.horizon() - 1 - left;
  clock.moment = clock.present();
  const int position = index(left);
  if (clock.attending(kSignals)) {
    if (!stolen_cycles()) return leave_before(position);
    if (lines_.reset && !clock.held) {
      // RESET does not wait for the end of an instruction.
      aborted_ = true;
      mode_ = Mode::dead;
      hold();
      return {0, handover.last};
    }
  }
  if (!ready(kind, address, value, position)) return leave_before(position);
  const Cycle cycle = clock.now;
  const std::uint32_t byte = transfer(kind, address, value);
  if (kind != Kind::write && kind != Kind::idle) note(address, byte);
  tell_cycle(kind, address, byte);
  // `left` may be stale if cycles were stolen; only its distance from the start of the instruction matters now.
  return complete(cycle, left, byte);
}

/// R/W, VMA, BS, AVMA, BUSY, LIC and Q a quarter into the cycle, E halfway, Q down again after three quarters.
void Processor::raise_signals(Kind kind, std::uint16_t address, std::uint8_t value, int position) {
  run_timers(world_.clock.begin() + 1);
  show_lines(part_.pins.address, heard_address_, address);
  if (kind == Kind::write) {
    show_lines(part_.pins.data, heard_data_, value);
  } else {
    for (int line = 0; heard_data_ >> line != 0; ++line) {
      if ((heard_data_ >> line & 1) != 0) socket().drive(part_.pins.data + line, release());
    }
  }
  if (heard_.rw >= 0) socket().drive(heard_.rw, drive(kind != Kind::write));
  if (heard_.vma >= 0) socket().drive(heard_.vma, drive(kind != Kind::idle));
  if (heard_.bs >= 0) socket().drive(heard_.bs, drive(bs_ || kind == Kind::vector));
  if (foresees_) {
    const bool last = position + 1 >= cycles_;
    const bool released = doing_ == CpuState::halted || kind == Kind::idle;
    if (heard_.lic >= 0) socket().drive(heard_.lic, drive(last));
    if (heard_.avma >= 0) socket().drive(heard_.avma, drive(last ? !released : using_bus_ >> (position + 1) & 1));
    if (heard_.busy >= 0) socket().drive(heard_.busy, drive(busy_ >> position & 1));
  }
  raise_clocks();
}

void Processor::show_lines(int first, std::uint32_t heard, std::uint32_t value) {
  for (int line = 0; heard >> line != 0; ++line) {
    if ((heard >> line & 1) != 0) socket().drive(first + line, drive((value >> line & 1) != 0));
  }
}

void Processor::raise_clocks() {
  const Stamp begin = world_.clock.begin();
  run_timers(begin + 1);
  if (heard_.q >= 0) socket().drive(heard_.q, drive_high());
  settle(begin + 1);
  run_timers(begin + 2);
  if (heard_.e >= 0) socket().drive(heard_.e, drive_high());
  settle(begin + 2);
  if (heard_.q < 0) return;
  run_timers(begin + 3);
  socket().drive(heard_.q, drive_low());
  settle(begin + 3);
}

/// Cycles in which the processor stands still, before the one that is due. False: the run ends within them.
bool Processor::stolen_cycles() {
  Clock& clock = world_.clock;
  for (;;) {
    if (clock.held) {
      if (lent_ == 0) return true;  // the processor's own goes on
    } else if (tsc_ || tsc_tail_) {
      // The cycle after the release is too late for a memory access (MC6800 data sheet, three-state control timing).
      tsc_tail_ = tsc_;
      if (!tsc_) update_signals();
    } else if (!lends()) {
      return true;
    }
    if (!pass_cycle()) return false;
  }
}

/// Whether DMA/BREQ takes the cycle that is due away (M6809PM section 1.11.14). BA changes in dead cycles, which are
/// nobody's; after fifteen cycles the processor gets one for its own refresh.
bool Processor::lends() {
  if (lent_ < 0) {
    lent_ = 0;
    update_signals();
    return false;
  }
  const bool wanted = latched(world_.clock.e_cycle() - 1).breq;
  if (lent_ == 0) {
    if (!wanted && !lines_.breq && latest_.breq) {
      latest_.breq = before_.breq = false;  // it was short, and has been seen to
      update_signals();
    }
    if (!wanted || ba_) return false;  // halted or in SYNC, the buses are free as it is
    set_buses(true, true);
  } else if (!wanted || lent_ == kLongestLoan) {
    set_buses(false, false);
    lent_ = -1;
    return true;
  }
  ++lent_;
  return true;
}

/// R/W, VMA, BS, Q and E of the cycle that is due, and the time that slow memory asks for. False: the run ends before
/// the cycle does.
PREWIRE_INLINE bool Processor::ready(Kind kind, std::uint16_t address, std::uint8_t value, int position) {
  if (signals_wired_ && !world_.clock.held) [[unlikely]]
    raise_signals(kind, address, value, position);
  // Cycles that have no use for the bus are not stretched; those of another master are (MC6809 data sheet, MRDY).
  return !memory_may_wait_ || memory_ready(part_.by_halves || (ba_ && bs_) || Coming{kind, address}.uses_bus());
}

/// E stays high while MRDY is low: by a quarter of a cycle each time it is low as the last quarter, in which Q is low,
/// should begin (M6809PM section 1.11.11); MR by halves (MC6802 data sheet, Memory Ready; from memory).
bool Processor::memory_ready(bool used) {
  constexpr Stamp kLook = 3;
  Clock& clock = world_.clock;
  run_timers(clock.begin() + kLook);
  const bool begun = std::exchange(clock.held, false);
  while (memory_waits_ && used) {
    bool full = false;
    for (int quarters = part_.by_halves ? 2 : 1; quarters > 0; --quarters) {
      run_timers(clock.begin() + kLook + 1);
      full = clock.stretch_on() || full;
    }
    // Not after each quarter: `now` tells apart all the places at which a run may end.
    if (!full || (clock.now < clock.limit() && !asked())) continue;
    clock.held = true;
    update_signals();
    return false;
  }
  if (begun) update_signals();
  return true;
}

/// Time passes, and no cycle of the processor's; observers are told what the bus looks like. False: the run ends.
bool Processor::pass_cycle() {
  Clock& clock = world_.clock;
  // The MC6800's clock stands still for TSC; E and Q of the others go on.
  const bool clocked = signals_wired_ && pins().q >= 0;
  if (!clock.held) {
    settle(clock.begin());
    if (clocked) raise_clocks();
  }
  // In the first one the buses are nobody's yet.
  if (memory_may_wait_ && !memory_ready(ba_ && bs_ && lent_ > 1)) return false;
  const Stamp fall = clock.fall();
  run_timers(fall);
  clock.moment = fall;
  if (clocked) drop_e();
  settle(fall);
  BusCycle seen;
  seen.cycle = clock.now;
  seen.address = released_address();
  seen.data = handover.last;
  seen.ba = ba_;
  seen.bs = bs_;
  seen.late = static_cast<std::uint8_t>(clock.late());
  seen.stretch = static_cast<std::uint32_t>(clock.stretch());
  world_.watchers.tell_cycle(seen);
  run_timers(fall + 1);
  clock.steal(1);
  return clock.now < clock.limit() && !asked();
}

void Processor::run_due_timers(Stamp end) {
  Clock& clock = world_.clock;
  Timer timer;
  while (clock.take(end, timer)) {
    clock.moment = timer.when;
    world_.host->on_timer(timer);
    // What happens at one moment settles together.
    if (clock.next() != timer.when) settle(timer.when);
  }
}

}  // namespace prewire
