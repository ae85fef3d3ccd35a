#include "cpu/processor.h"

#include <algorithm>
#include <cassert>
#include <utility>

namespace prewire {

std::string_view to_string(CpuState state) {
  switch (state) {
    case CpuState::running: return "running";
    case CpuState::waiting: return "waiting";
    case CpuState::halted: return "halted";
    case CpuState::reset: return "reset";
    case CpuState::stuck: return "stuck";
  }
  return "";
}

std::string_view to_string(StopReason reason) {
  switch (reason) {
    case StopReason::limit: return "limit";
    case StopReason::requested: return "requested";
    case StopReason::breakpoint: return "breakpoint";
    case StopReason::undefined_opcode: return "undefined opcode";
    case StopReason::interrupted: return "interrupted";
  }
  return "";
}

std::string_view to_string(Entry entry) {
  switch (entry) {
    case Entry::reset: return "reset";
    case Entry::nmi: return "NMI";
    case Entry::irq: return "IRQ";
    case Entry::firq: return "FIRQ";
  }
  return "";
}

namespace {

const StopFlag kDown;             // nobody's
constexpr int kLongestLoan = 15;  // of the buses, by DMA/BREQ

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

// ---------------------------------------------------------------------------------------------------------------------
// A run

/// Whatever comes out of a run, the processor is ready for what may follow: another one, or another state.
struct Processor::Running {
  explicit Running(Processor& processor) : at(processor) { at.running_ = true; }
  Running(const Running&) = delete;
  Running& operator=(const Running&) = delete;
  ~Running() {
    if (at.mode_ == Mode::preview) at.unhold();
    at.mode_ = Mode::live;
    at.running_ = at.passing_ = at.aborted_ = false;
    at.world_.clock.disregard(kStopping);
  }
  Processor& at;
};

Stop Processor::run(Cycle limit, bool one_instruction) {
  Clock& clock = world_.clock;
  stop_requested_ = at_breakpoint_ = false;
  stepping_ = one_instruction;
  passing_ = broken_ == clock.now;  // it has been reported: go on
  boundaries_ = done_ > 0 ? 0 : 1;
  if (stuck_ && lines_.reset) stuck_ = false;
  interrupted_ = clock.now < limit && flag_->up();
  if (!stuck_ && clock.now < limit && !interrupted_) {
    const Running running(*this);
    clock.set_limit(limit);
    attend_observers();
    if (stepping_) clock.attend(kStopping);
    watch_dead_reads();
    mode_ = done_ > 0 ? Mode::replay : Mode::live;
    replayed_ = done_;
    replayed_mark_ = first_mark_;
    handover.last = bus_byte_;
    execute();
    if (!stuck_ && done_ > 0) {
      // Stopped within an instruction: walk through it once more to learn what its cycles have read.
      mode_ = Mode::rebuild;
      rebuilt_ = false;
      execute();
    }
  }
  clock.moment = clock.present();
  Stop stop;
  stop.cycle = clock.now;
  stop.pc = pc();
  stop.mid_instruction = done_ > 0;
  stop.reason = stuck_            ? StopReason::undefined_opcode
                : at_breakpoint_  ? StopReason::breakpoint
                : stop_requested_ ? StopReason::requested
                : interrupted_    ? StopReason::interrupted
                                  : StopReason::limit;
  return stop;
}

/// Who only wants to know of instructions is told at fetches, and the other cycles stay fast. To mark all addresses for
/// that takes as long as looking at a thousand cycles one by one.
void Processor::attend_observers() {
  constexpr Cycle kBrief = 1000;
  Clock& clock = world_.clock;
  const bool brief = clock.limit() - clock.now < kBrief;
  const bool instructions = world_.watchers.want(Observer::kInstructions);
  const bool cycles = world_.watchers.want(Observer::kCycles) || (brief && instructions);
  if (cycles) {
    clock.attend(kObserved);
  } else {
    clock.disregard(kObserved);
  }
  if (!brief) world_.bus.watch_fetches(instructions && !cycles);
}

std::int64_t Processor::first_left() {
  Clock& clock = world_.clock;
  if (mode_ != Mode::live) return 0;  // every cycle goes through `offline`
  clock.plan(clock.now);
  return clock.horizon() - clock.now;
}

void Processor::heed(const StopFlag* flag) { flag_ = flag == nullptr ? &kDown : flag; }

void Processor::request_stop() {
  stop_requested_ = true;
  world_.clock.attend(kStopping);
}

void Processor::watch_dead_reads() {
  const bool reads = pins().vma < 0;  // without VMA a dead cycle is a read
  if (reads && (world_.bus.flat().slow(kDeadAddress) & kSlowRead)) {
    world_.clock.attend(kDeadReads);
  } else {
    world_.clock.disregard(kDeadReads);
  }
}

CpuState Processor::state() const { return stuck_ ? CpuState::stuck : doing_; }

// ---------------------------------------------------------------------------------------------------------------------
// The slow path of a cycle

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
      byte = data_enabled_ ? value : kept;
      write_traced(address, static_cast<std::uint8_t>(byte));
      break;
    case Kind::idle: break;
  }
  bus_byte_ = static_cast<std::uint8_t>(byte);
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
  world_.watchers.tell(Observer::kInstructions,
                       [&](Observer& observer) { observer.on_instruction(*this, pc(), opcode, world_.clock.now); });
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
  if (kind != Kind::idle && (flat.slow(address) & kSlow)) return false;
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
    if (world_.watchers.want(Observer::kInstructions)) [[unlikely]]
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
  write_traced(address, value);
  if (clock.horizon() <= clock.now) [[unlikely]]
    return after_access(value);
  return {clock.horizon() - 1 - clock.now, value};
}

/// An access has moved a net or made something due.
Slow Processor::after_access(std::uint8_t value) {
  settle(world_.clock.fall());
  bus_byte_ = value;
  return complete(world_.clock.now, access_left_, value);
}

void Processor::write_traced(std::uint16_t address, std::uint8_t value) {
  if (!(world_.bus.flat().slow(address) & kSlowWrite)) {
    note(address | kStored, world_.bus.flat().cell(address));
    world_.bus.flat().cell(address) = value;
    return;
  }
  world_.bus.write(address, value);
  const SystemBus::Overwritten& over = world_.bus.overwritten();
  if (!over.any) return;
  note(over.cell | kStored, over.old);
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
  if (observed_cycle<Kind::idle>(address, byte, left)) return after_observed(left, 0);
  return live_cycle(Kind::idle, address, 0, left);
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
  if (!ready(begin.kind, begin.address, 0)) {
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
  if (!ready(kind, address, position)) return leave_before(position);
  const Cycle cycle = clock.now;
  const std::uint32_t byte = transfer(kind, address, value);
  if (kind != Kind::write && kind != Kind::idle) note(address, byte);
  tell_cycle(kind, address, byte);
  // `left` may be stale if cycles were stolen; only its distance from the start of the instruction matters now.
  return complete(cycle, left, byte);
}

/// Runs the instruction that is about to begin without any effect, to learn its cycles. Memory is only looked at; what
/// a chip would answer decides on no cycle.
void Processor::preview(const Begin& begin) {
  const Handover kept = handover;
  hold();
  mode_ = Mode::preview;
  previewed_ = begin;
  cycles_ = 0;
  execute();
  mode_ = Mode::live;
  unhold();
  handover = kept;
  using_bus_ = 0;
  const std::span<const Coming> coming(coming_.data(), static_cast<std::size_t>(cycles_));
  for (std::size_t i = 0; i < coming.size(); ++i) using_bus_ |= std::uint32_t{coming[i].uses_bus()} << i;
  std::array<std::uint8_t, 3> code{};  // as far as the postbyte
  for (std::size_t i = 0; i < code.size(); ++i) {
    code[i] = world_.bus.peek(static_cast<std::uint16_t>(begin.address + i));
  }
  busy_ = busy_cycles(coming, begin.op == 0 ? std::span<const std::uint8_t>(code) : std::span<const std::uint8_t>());
}

/// R/W, VMA, BS, AVMA, BUSY, LIC and Q a quarter into the cycle, E halfway, Q down again after three quarters.
void Processor::raise_signals(Kind kind, int position) {
  run_timers(world_.clock.begin() + 1);
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

/// The cycle that is over is the last one of this run.
Slow Processor::end_run(Cycle cycle, std::int64_t left, std::uint64_t value) {
  Clock& clock = world_.clock;
  const int done = index(left) + 1;
  first_mark_ = cycle - clock.stolen() + 1 - (done - 1);
  clock.now = cycle + 1;
  return leave(done, value);
}

/// The run ends here, with `done` cycles of the current instruction over. What is left of the instruction runs dead.
Slow Processor::leave(int done, std::uint64_t value) {
  done_ = done;
  dead_cycles_ = 0;
  hold();
  mode_ = Mode::dead;
  return {0, value};
}

/// The run ends here, before the cycle at `position` of the current instruction.
Slow Processor::leave_before(int position) {
  const Clock& clock = world_.clock;
  first_mark_ = clock.mark() - position;
  bus_byte_ = handover.last;
  const Slow end = leave(position, 0);
  dead_cycles_ = 1;  // this one has not happened
  return end;
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
PREWIRE_INLINE bool Processor::ready(Kind kind, std::uint16_t address, int position) {
  if (signals_wired_ && !world_.clock.held) [[unlikely]]
    raise_signals(kind, position);
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

/// Cycles that do not happen now: replayed, dead, or worked out once more.
Slow Processor::offline(Kind kind, std::uint16_t address, std::uint8_t value, std::int64_t left) {
  const int position = index(left);
  switch (mode_) {
    case Mode::replay: {
      // What a store put on the bus is not in the journal; the last one's byte is still there.
      if (position < done_) return {left + 1, kind == Kind::write ? bus_byte_ : journal_[position]};
      // What was over has been replayed. Go on live, at the same position in the instruction.
      done_ = 0;
      mode_ = Mode::live;
      const std::int64_t live_left = live_again(left);
      if (kind == Kind::read) return slow_read(address, live_left);
      if (kind == Kind::write) return slow_write(address, value, live_left);
      return live_cycle(kind, address, value, live_left);
    }
    case Mode::dead:
      if (kind != Kind::fetch) {
        ++dead_cycles_;
        return {left + 1, handover.last};
      }
      if (aborted_) {
        // At the boundary before the instruction that RESET cut short.
        aborted_ = false;
        unhold();
        mode_ = Mode::live;
        return slow_fetch(pc(), live_again(left));
      }
      if (dead_cycles_ > 0) {
        unhold();
      } else {
        done_ = 0;  // the run ended with the last cycle of the instruction
      }
      return {left + 1, kLeave};
    case Mode::rebuild:
      if (kind == Kind::fetch && rebuilt_) {
        unhold();
        return {left + 1, kLeave};
      }
      rebuilt_ = true;
      if (position >= done_) return {left + 1, 0};
      if (first_mark_ != replayed_mark_ || position >= replayed_) journal_[position] = recall(address, position);
      return {left + 1, journal_[position]};
    case Mode::preview: {
      if (kind == Kind::fetch && cycles_ > 0) return {left + 1, kLeave};
      const bool first = cycles_ == 0;
      if (first) kind = previewed_.kind, address = previewed_.address;
      coming_[static_cast<std::size_t>(cycles_++)] = {kind, address};
      const bool reads = kind != Kind::write && kind != Kind::idle;
      const std::uint64_t byte = reads ? world_.bus.peek(address) : 0;
      return {left + 1, first && previewed_.op != 0 ? previewed_.op | byte << 16 : byte};
    }
    case Mode::verify: {
      if (kind == Kind::fetch && verified_ > 0) {
        unhold();
        return {left + 1, kLeave};
      }
      ++verified_;
      return {left + 1, position < done_ ? journal_[position] : 0};
    }
    case Mode::live: break;
  }
  assert(false);
  return {0, kLeave};
}

/// `left` for a cycle that begins now.
std::int64_t Processor::live_again(std::int64_t left) {
  world_.clock.plan(world_.clock.now);
  const std::int64_t live_left = world_.clock.horizon() - 1 - world_.clock.now;
  handover.start += live_left - left;
  return live_left;
}

/// What a cycle that is over has read from `address`.
std::uint32_t Processor::recall(std::uint16_t address, int position) const {
  const std::int64_t mark = first_mark_ + position;
  const auto entry = [&](std::int64_t of) -> const TrailEntry& {
    return trail_[static_cast<std::size_t>(of) % kTrail];
  };
  if (entry(mark).mark == mark) return entry(mark).value;
  // It came from the flat store, where a later cycle of the instruction may have stored something else.
  for (std::int64_t later = mark + 1; later < first_mark_ + done_; ++later) {
    if (entry(later).mark == later && entry(later).where == (address | kStored)) return entry(later).value;
  }
  return world_.bus.flat().cell(address);
}

std::int64_t Processor::attend_boundary(std::int64_t left) {
  Clock& clock = world_.clock;
  if (mode_ == Mode::dead) clock.attend(kInterrupt);  // the run ends with this instruction, and the next one must look
  if (mode_ != Mode::live) return left;
  clock.now = clock.horizon() - 1 - left;
  clock.attend(kInterrupt);
  return clock.horizon() - 1 - clock.now;
}

bool Processor::interrupt_seen(std::int64_t left) const {
  const Clock& clock = world_.clock;
  const Cycle ahead = mode_ == Mode::live ? clock.horizon() - left - clock.now : 0;
  const Lines& seen = latched(clock.e_cycle() + ahead - latching_.cycles);
  return lines_.irq || lines_.firq || lines_.nmi || seen.irq || seen.firq || seen.nmi;
}

std::int64_t Processor::undefined(std::int64_t left) {
  // After the end of a run the rest of an instruction reads no true bytes.
  const bool sure = mode_ == Mode::dead ? dead_cycles_ == 0 && !aborted_ : mode_ == Mode::live || mode_ == Mode::replay;
  if (!sure) return left;
  if (mode_ == Mode::live) world_.clock.now = world_.clock.horizon() - left;
  bus_byte_ = handover.last;
  stuck_ = true;
  leave(0, 0);
  dead_cycles_ = 1;  // so that the registers come back as they were
  return 0;
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

// ---------------------------------------------------------------------------------------------------------------------
// Inputs

/// Inputs are latched at one moment of every cycle. Changes come in order: what is latched before this one is what the
/// lines were so far.
void Processor::latch(Stamp when) {
  const Cycle latest = (world_.clock.e_time(when) - latching_.quarter) >> 2;
  if (latest <= latched_) return;
  before_ = latest == latched_ + 1 ? latest_ : lines_;
  latest_ = lines_;
  latched_ = latest;
}

/// Of a cycle that is no older than the one before the last change.
const Processor::Lines& Processor::latched(Cycle cycle) const {
  if (cycle > latched_) return lines_;
  return cycle == latched_ ? latest_ : before_;
}

/// Every boundary to come will see the lines as they are now.
bool Processor::inputs_steady() const {
  return latched_ < world_.clock.e_cycle() - latching_.cycles || (latest_ == lines_ && before_ == lines_);
}

void Processor::set_irq(bool low, Stamp when) {
  latch(when);
  lines_.irq = low;
  if (low) world_.clock.attend(kInterrupt);
}

void Processor::set_firq(bool low, Stamp when) {
  latch(when);
  lines_.firq = low;
  if (low) world_.clock.attend(kInterrupt);
}

void Processor::set_nmi(bool low, Stamp when) {
  latch(when);
  if (low == nmi_level_) return;
  nmi_level_ = low;
  // A level that no cycle has latched makes no edge.
  const bool unseen = latching_.edges && latched_ == nmi_moved_;
  nmi_moved_ = latched_;
  if (low && !unseen) {
    lines_.nmi = true;
    world_.clock.attend(kInterrupt);
  }
  if (!low && unseen) lines_.nmi = false;
}

void Processor::set_halt(bool low, Stamp when) {
  latch(when);
  lines_.halt = low;
  world_.clock.attend(kInterrupt);
}

void Processor::set_reset(bool low, Stamp when) {
  latch(when);
  lines_.reset = low;
  world_.clock.attend(kInterrupt);
  update_signals();
}

void Processor::set_breq(bool low, Stamp when) {
  latch(when);
  lines_.breq = low;
  update_signals();
}

void Processor::set_tsc(bool high) {
  if (tsc_ && !high) tsc_tail_ = true;
  tsc_ = high;
  update_signals();
}

void Processor::set_mrdy(bool low) {
  memory_waits_ = low;
  if (low) memory_may_wait_ = true;  // tied to GND, too
  update_signals();
}

void Processor::set_data_enabled(bool on) {
  data_enabled_ = on;
  update_signals();
}

Processor::Part Processor::part_of(const ChipType& type) {
  const auto pin = [&](std::string_view name) { return type.pin(name); };
  const int e = pin("E"), mr = pin("MR");
  return {type.name,
          {.halt = pin("HALT"),
           .irq = pin("IRQ"),
           .firq = pin("FIRQ"),
           .nmi = pin("NMI"),
           .reset = pin("RESET"),
           .tsc = pin("TSC"),
           .dbe = pin("DBE"),
           .breq = pin("DMA/BREQ"),
           .mrdy = mr < 0 ? pin("MRDY") : mr,
           .e = e < 0 ? pin("PHI2") : e,  // the MC6800 is given its E
           .q = pin("Q"),
           .rw = pin("R/W"),
           .vma = pin("VMA"),
           .ba = pin("BA"),
           .bs = pin("BS"),
           .avma = pin("AVMA"),
           .busy = pin("BUSY"),
           .lic = pin("LIC")},
          mr >= 0};
}

void Processor::start() {
  const Pins& p = pins();
  for (int pin : {p.halt, p.irq, p.firq, p.nmi, p.reset, p.tsc, p.dbe, p.breq, p.mrdy}) {
    if (pin >= 0) on_edge(pin, socket().level(pin), 0);
  }
}

void Processor::on_edge(int pin, Level level, Stamp when) {
  // An open input is no request; the static check warns about it.
  const bool low = level == Level::low;
  const Pins& p = pins();
  if (pin == p.irq) set_irq(low, when);
  if (pin == p.firq) set_firq(low, when);
  if (pin == p.nmi) set_nmi(low, when);
  if (pin == p.halt) set_halt(low, when);
  if (pin == p.reset) set_reset(low, when);
  if (pin == p.tsc) set_tsc(level == Level::high);
  if (pin == p.dbe) set_data_enabled(!low);
  if (pin == p.breq) set_breq(low, when);
  if (pin == p.mrdy) set_mrdy(low);
}

void Processor::wire_outputs() {
  const Pins& p = pins();
  const auto heard = [&](int pin) { return pin >= 0 && socket().heard(pin) ? pin : -1; };
  memory_may_wait_ = p.mrdy >= 0 && socket().wired(p.mrdy) && !socket().on_rail(p.mrdy);
  if (!memory_may_wait_) {  // else E and Q are not regular
    if (p.e >= 0) socket().offer_beat(p.e, {socket().timebase().millihertz(), e_rise(0)});
    if (p.q >= 0) socket().offer_beat(p.q, {socket().timebase().millihertz(), e_rise(0) - 1});
  }
  heard_ = {.e = heard(p.e),
            .q = heard(p.q),
            .rw = heard(p.rw),
            .vma = heard(p.vma),
            .ba = p.ba,
            .bs = heard(p.bs),
            .avma = heard(p.avma),
            .busy = heard(p.busy),
            .lic = heard(p.lic)};
  foresees_ = heard_.avma >= 0 || heard_.busy >= 0 || heard_.lic >= 0;
  signals_wired_ = foresees_ || heard_.e >= 0 || heard_.q >= 0 || heard_.rw >= 0 || heard_.vma >= 0 || heard_.bs >= 0;
  if (p.ba >= 0) socket().drive(p.ba, drive_low());
  update_signals();
}

void Processor::set_doing(CpuState doing, bool ba, bool bs) {
  set_buses(ba, bs);
  if (doing == doing_) return;
  doing_ = doing;
  update_signals();
}

void Processor::set_buses(bool ba, bool bs) {
  if (ba != ba_ && heard_.ba >= 0) socket().drive(heard_.ba, drive(ba));
  ba_ = ba;
  bs_ = bs;
}

void Processor::keep_attention(bool on) {
  // A short request may be over, and the boundaries to come see it yet.
  if (on || !inputs_steady()) {
    world_.clock.attend(kInterrupt);
  } else {
    world_.clock.disregard(kInterrupt);
  }
}

void Processor::power_on() {
  lines_ = latest_ = before_ = {};
  latched_ = nmi_moved_ = -2;
  lent_ = 0;
  ba_ = bs_ = memory_waits_ = false;
  doing_ = CpuState::running;
  nmi_level_ = tsc_ = tsc_tail_ = stuck_ = false;
  broken_ = -1;
  data_enabled_ = true;
  bus_byte_ = 0;
  done_ = 0;
  decided_ = {};
  cycles_ = 0;
  using_bus_ = busy_ = 0;
  for (TrailEntry& entry : trail_) entry.mark = -1;
  wire_outputs();
}

void Processor::update_signals() {
  const bool cut_short = lines_.reset && doing_ != CpuState::reset;
  const bool held =
      tsc_ || tsc_tail_ || lines_.breq || latest_.breq || lent_ != 0 || memory_waits_ || world_.clock.held;
  if (signals_wired_ || held || !data_enabled_ || cut_short) {
    world_.clock.attend(kSignals);
  } else {
    world_.clock.disregard(kSignals);
  }
}

/// What an archive says of the middle of an instruction decides how it is run again: an instruction that is over before
/// its cycles are would never end.
bool Processor::coherent() {
  if (done_ == 0) return true;
  const std::uint32_t op = journal_[0];
  const std::uint32_t pseudo = op & 0x1FF;
  if (op >= kLeave && (op > 0xFFFFFF || pseudo <= kPass || pseudo > kFirqWake)) return false;
  const Running running(*this);
  mode_ = Mode::verify;
  verified_ = 0;
  execute();
  return verified_ > done_;
}

void Processor::archive(Archive& archive) {
  constexpr auto kLongest = static_cast<std::int32_t>(kTrail);
  archive(lines_);
  archive(latest_);
  archive(before_);
  archive.number(latched_);
  archive.number(nmi_moved_);
  archive.within(lent_, -1, kLongestLoan);
  archive(ba_);
  archive(bs_);
  archive(memory_waits_);
  archive.within(decided_.op, 0, kFirqWake);
  archive.require(decided_.op == 0 || decided_.op >= kPass);
  archive.within(decided_.kind, Kind::fetch, Kind::idle);
  archive(decided_.address);
  archive(decided_.steady);
  archive.within(cycles_, 0, kLongest);
  archive(using_bus_);
  archive(busy_);
  archive.within(doing_, CpuState::running, CpuState::reset);
  archive(nmi_level_);
  archive(tsc_);
  archive(tsc_tail_);
  archive(data_enabled_);
  archive(stuck_);
  archive(bus_byte_);
  archive.within(done_, 0, kLongest - 1);
  if (done_ == 0) first_mark_ = 0;  // a leftover of how the last run ended
  archive.number(first_mark_);
  archive.bytes(journal_.data(), static_cast<std::size_t>(done_) * sizeof journal_[0]);
  if (!archive.loading()) return;
  archive.require(memory_may_wait_ || !(memory_waits_ || world_.clock.held));
  for (TrailEntry& entry : trail_) entry.mark = -1;
  world_.clock.attend(kInterrupt);  // the next boundary decides anew
  update_signals();
}

}  // namespace prewire
