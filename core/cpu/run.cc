// A run of a processor, which can end after any cycle: what is left of an instruction runs dead, and when the run goes
// on, what it has done comes from a journal.
#include "cpu/processor.h"

#include <algorithm>
#include <cassert>
#include <optional>
#include <span>

namespace prewire {

namespace {

const StopFlag kDown;  // nobody's

}  // namespace

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
  using Fetches = SystemBus::Fetches;
  const Fetches fetches = world_.watchers.want(Observer::kInstructions)      ? Fetches::all
                          : world_.watchers.want(Observer::kNewInstructions) ? Fetches::fresh
                                                                             : Fetches::none;
  const bool cycles = world_.watchers.want(Observer::kCycles) || (brief && fetches != Fetches::none);
  if (cycles) {
    clock.attend(kObserved);
  } else {
    clock.disregard(kObserved);
  }
  if (!brief) world_.bus.watch_fetches(cycles ? Fetches::none : fetches);
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

std::int64_t Processor::attend_boundary(std::int64_t left) {
  Clock& clock = world_.clock;
  if (mode_ == Mode::dead) clock.attend(kInterrupt);  // the run ends with this instruction, and the next one must look
  if (mode_ != Mode::live) return left;
  clock.now = clock.horizon() - 1 - left;
  clock.attend(kInterrupt);
  return clock.horizon() - 1 - clock.now;
}

// ---------------------------------------------------------------------------------------------------------------------
// Cycles that do not happen now

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
  // It came from the flat store, where a later cycle of the instruction may have stored something else, or another
  // address map has brought something else.
  const std::optional<SystemBus::Past> past = world_.bus.before_change(address, mark);
  const std::int64_t end = past ? std::min(first_mark_ + done_, past->mark + 1) : first_mark_ + done_;
  for (std::int64_t later = mark + 1; later < end; ++later) {
    if (entry(later).mark == later && entry(later).where == (address | kStored)) return entry(later).value;
  }
  return past ? past->value : world_.bus.flat().cell(address);
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

// ---------------------------------------------------------------------------------------------------------------------
// State

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
