// What both processors share: the slow path of a bus cycle, the journal that lets a run stop after any cycle, the
// interrupt lines and their sampling. A processor's own source holds only registers and instructions.
#pragma once

#include <array>
#include <cstdint>
#include <span>

#include "bus/system_bus.h"
#include "clock/clock.h"
#include "prewire/chip.h"
#include "prewire/cpu.h"
#include "prewire/stop_flag.h"
#include "watch/watchers.h"
#include "wire/board.h"

// Only where a function call, or a register that must live in memory because of one, would be felt. Sanitizers would
// take minutes over what comes of it.
#if defined(__SANITIZE_ADDRESS__)
#define PREWIRE_INLINE inline
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
#define PREWIRE_INLINE inline
#endif
#endif
#ifndef PREWIRE_INLINE
#define PREWIRE_INLINE inline __attribute__((always_inline))
#endif

namespace prewire {

/// What the slow path hands back to the inner loop.
struct Slow {
  std::int64_t left;    ///< cycles to go before the next one that must be slow
  std::uint64_t value;  ///< the byte read; for a fetch the opcode or a pseudo-opcode (see `Pseudo`)
};

/// Pseudo-opcodes: what a processor does at an instruction boundary instead of the next instruction. The first cycle of
/// each has passed when `slow_fetch` returns; a byte read in it stands in bits 16-23.
enum Pseudo : std::uint32_t {
  kLeave = 0x100,  ///< leave the inner loop
  kPass,           ///< a cycle has passed and nothing else happens: waiting, halted, held in reset
  kResetEntry,
  kIrqEntry,
  kNmiEntry,
  kFirqEntry,
  kIrqWake,  ///< out of a wait, registers already stacked
  kNmiWake,
  kFirqWake,
};

/// Bus cycles that the inner loop ran, by mark: bytes that stores overwrote and bytes that came from a chip.
struct TrailEntry {
  std::int64_t mark = -1;
  std::uint32_t where = 0;  ///< address; bit 16 set for a store
  std::uint32_t value = 0;  ///< the overwritten byte, or the byte read
};
inline constexpr std::uint32_t kStored = 0x10000;
/// Stands above the byte of a cycle with VMA low in which somebody drove the data lines all the same.
inline constexpr std::uint32_t kAnswered = 0x100;

/// Who owns the timers.
class Host {
 public:
  virtual void on_timer(const Timer& timer) = 0;
  /// A register has been changed from outside.
  virtual void on_register(std::size_t index, std::uint16_t value) = 0;

 protected:
  ~Host() = default;
};

/// The rest of the machine, as a processor sees it.
struct Surroundings {
  Clock& clock;
  SystemBus& bus;
  Board& board;
  Watchers& watchers;
  Host* host;
};

inline constexpr int kLongestLoan = 15;  // cycles of the buses, by DMA/BREQ (M6809PM section 1.11.14)

class Processor : public Chip, public Cpu {
 public:
  /// When a processor looks at its interrupt inputs.
  struct Latching {
    int quarter = 0;     ///< of the cycle, from its beginning
    int cycles = 0;      ///< how many cycles before the first one of the next instruction
    bool edges = false;  ///< NMI is an edge only if the levels before and after it have both been latched
  };

  /// Pins that have a part to play, by index into the pin table; -1 where the part has no such pin.
  struct Pins {
    int halt = -1, irq = -1, firq = -1, nmi = -1, reset = -1, tsc = -1, dbe = -1, breq = -1;
    int mrdy = -1;  // or MR
    int e = -1, q = -1, rw = -1, vma = -1, ba = -1, bs = -1;
    int avma = -1, busy = -1, lic = -1;  // tell what is to come
    int address = -1, data = -1;         // A0 and D0, which the others follow
  };
  struct Part {
    std::string_view type;
    Pins pins;
    bool by_halves = false;  ///< E is stretched by halves of a cycle, and in every cycle: MR, not MRDY
  };
  /// `type` must outlive the processor.
  static Part part_of(const ChipType& type);

  Processor(Socket& socket, Surroundings surroundings, Part part, Latching latching)
      : Chip(socket), world_(surroundings), part_(part), latching_(latching) {
    heed(nullptr);
  }

  /// Runs until `limit` cycles are over, or something stops the machine earlier. With `one_instruction` at the latest
  /// at the next instruction boundary but the one where it begins.
  Stop run(Cycle limit, bool one_instruction = false);
  /// Another address map is in force: what dead cycles find may be different.
  void map_changed() { watch_dead_reads(); }
  /// Ends the run after the cycle in progress. For observers and chips.
  void request_stop();
  /// Runs end when that flag is up; null: none does. It is looked at in slow cycles in which more happens than an
  /// access, and at least each `Clock::kBreath` cycles.
  void heed(const StopFlag* flag);
  const StopFlag* heeded() const { return flag_; }
  /// When a breakpoint was last reported: a run that begins there goes on. Not part of the state.
  Cycle broken() const { return broken_; }
  void set_broken(Cycle cycle) { broken_ = cycle; }

  std::string_view type() const override { return part_.type; }
  void power_on() override;
  void start() override;
  void on_edge(int pin, Level level, Stamp when) override;
  CpuState state() const override;
  int cycles_into_instruction() const override { return done_; }
  /// What the data lines hold between runs.
  std::uint8_t bus_byte() const { return bus_byte_; }
  void archive(Archive& archive) override;

  // The slow path, called by the inner loop when a cycle needs more than a byte from the flat store.
  Slow slow_fetch(std::uint16_t address, std::int64_t left);
  Slow slow_read(std::uint16_t address, std::int64_t left);
  Slow slow_ignored(std::uint16_t address, std::int64_t left);
  Slow slow_vector(std::uint16_t address, std::int64_t left);
  Slow slow_write(std::uint16_t address, std::uint8_t value, std::int64_t left);
  Slow slow_idle(std::uint16_t address, std::int64_t left);
  /// The next instruction boundary must be slow: an instruction has changed what interrupts may do.
  std::int64_t attend_boundary(std::int64_t left);
  /// What was just read has no meaning: not as an opcode, not as its postbyte. Returns the new `left`.
  std::int64_t undefined(std::int64_t left);

  /// What the inner loop leaves here before each call of the slow path.
  struct Handover {
    std::int64_t start = 0;  ///< `left` before the first cycle of the instruction
    std::uint8_t last = 0;   ///< the byte that the bus last carried
  };
  Handover handover;

  std::uint8_t* flat() { return world_.bus.flat().bytes(); }
  const Cycle& virtual_horizon() const { return world_.clock.virtual_horizon(); }
  std::array<TrailEntry, kTrail>& trail() { return trail_; }
  /// `left` for a run that is about to begin.
  std::int64_t first_left();
  /// An interrupt is asked for, or was when the next boundary will say it was, whatever the masks say.
  bool interrupt_seen(std::int64_t left) const;

 protected:
  enum class Kind : std::uint8_t { fetch, read, ignored, vector, write, idle };
  /// How the next instruction or pseudo-instruction begins.
  struct Begin {
    std::uint32_t op = 0;  ///< a pseudo-opcode, or 0 for the opcode at `address`
    Kind kind = Kind::fetch;
    std::uint16_t address = 0;
    bool steady = true;  ///< after `kPass`: this goes on until something happens
  };
  /// A cycle that an instruction will have.
  struct Coming {
    Kind kind = Kind::fetch;
    std::uint16_t address = 0;

    bool uses_bus() const { return kind != Kind::idle && (kind != Kind::ignored || address != kDeadAddress); }
  };
  /// Levels of the interrupt inputs; true means asserted.
  struct Lines {
    bool irq = false;
    bool firq = false;
    bool nmi = false;  ///< an edge is latched
    bool halt = false;
    bool reset = false;
    bool breq = false;

    void archive(Archive& archive) {
      std::array<std::uint8_t, 6> bits{irq, firq, nmi, halt, reset, breq};
      archive(bits);
      archive.require((bits[0] | bits[1] | bits[2] | bits[3] | bits[4] | bits[5]) <= 1);
      *this = {bits[0] != 0, bits[1] != 0, bits[2] != 0, bits[3] != 0, bits[4] != 0, bits[5] != 0};
    }
    friend bool operator==(const Lines&, const Lines&) = default;
  };

  /// Runs instructions until `slow_fetch` says `kLeave`.
  virtual void execute() = 0;
  /// Decides at an instruction boundary, from registers and sampled lines.
  virtual Begin boundary(const Lines& sampled) = 0;
  /// After a load: as many cycles of the current instruction as are said to be over, and one more, are its own.
  bool coherent();
  /// Registers as they are before the current instruction; `unhold` brings them back.
  virtual void hold() = 0;
  virtual void unhold() = 0;
  /// In which of these cycles, the first one bit 0, BUSY is high. They are those of the instruction that `code` begins
  /// with, or of an entry into an interrupt or reset, which has no code.
  virtual std::uint32_t busy_cycles(std::span<const Coming> /*cycles*/, std::span<const std::uint8_t> /*code*/) const {
    return 0;
  }
  /// Address lines while the processor has let go of them.
  virtual std::uint16_t released_address() const { return 0xFFFF; }

  const Pins& pins() const { return part_.pins; }
  void set_doing(CpuState doing, bool ba = false, bool bs = false);
  void take_nmi() { lines_.nmi = latest_.nmi = before_.nmi = false; }
  void keep_attention(bool on);
  /// A register has been changed from outside, between two instructions.
  void changed(std::size_t index, std::uint16_t value) {
    keep_attention(true);
    world_.host->on_register(index, value);
  }
  const Lines& lines() const { return lines_; }
  /// Whether registers may be changed from outside.
  bool settable() const { return !running_ && done_ == 0; }
  /// As they were latched in the cycle that is just over.
  const Lines& just_latched() const { return latched(world_.clock.e_cycle() - 1); }

 private:
  void set_irq(bool low, Stamp when);
  void set_firq(bool low, Stamp when);
  void set_nmi(bool low, Stamp when);
  void set_halt(bool low, Stamp when);
  void set_reset(bool low, Stamp when);
  void set_breq(bool low, Stamp when);
  void set_tsc(bool high);
  void set_data_enabled(bool on);
  void set_mrdy(bool low);
  void wire_outputs();

  struct Running;
  enum class Mode : std::uint8_t {
    live,
    replay,   ///< cycles that are over come from the journal
    dead,     ///< a stop within the instruction: its other cycles do not happen
    rebuild,  ///< working out what the cycles that are over have read
    preview,  ///< finding out which cycles the instruction will have; they only look at memory
    verify,   ///< finding out whether the instruction has as many cycles as are said to be over
  };

  // Apart, so that none saves registers that only another needs.
  [[gnu::noinline]] Slow register_read(std::uint16_t address, std::int64_t left);
  [[gnu::noinline]] Slow answered_idle(std::uint16_t address, std::int64_t left);
  [[gnu::noinline]] Slow register_write(std::uint16_t address, std::uint8_t value, std::int64_t left);
  void attend_observers();
  Slow watched_fetch(std::uint16_t address, std::int64_t left);
  [[gnu::noinline]] Slow after_watched(std::int64_t left, std::uint64_t value);
  [[gnu::noinline]] Slow due_fetch(std::uint16_t address, std::int64_t left);
  [[gnu::noinline]] Slow due_read(std::uint16_t address, std::int64_t left);
  [[gnu::noinline]] Slow due_write(std::uint16_t address, std::uint8_t value, std::int64_t left);
  [[gnu::noinline]] Slow live_cycle(Kind kind, std::uint16_t address, std::uint8_t value, std::int64_t left);
  Slow offline(Kind kind, std::uint16_t address, std::uint8_t value, std::int64_t left);
  Slow complete(Cycle cycle, std::int64_t left, std::uint64_t value);
  Slow leave(int done, std::uint64_t value);
  Slow leave_before(int position);
  bool stolen_cycles();
  bool ready(Kind kind, std::uint16_t address, std::uint8_t value, int position);
  bool memory_ready(bool used);
  bool pass_cycle();
  bool lends();
  void set_buses(bool ba, bool bs);
  std::uint32_t transfer(Kind kind, std::uint16_t address, std::uint8_t value);
  std::uint32_t recall(std::uint16_t address, int position) const;
  void run_timers(Stamp end) {
    if (world_.clock.next() < end) [[unlikely]]
      run_due_timers(end);
  }
  void run_due_timers(Stamp end);
  void settle(Stamp when) {
    if (!world_.board.dirty()) return;
    world_.clock.moment = when;
    world_.board.settle(when);
  }
  std::int64_t live_again(std::int64_t left);
  void latch(Stamp when);
  /// Of a cycle that is no older than the one before the last change.
  const Lines& latched(Cycle cycle) const {
    if (cycle > latched_) return lines_;
    return cycle == latched_ ? latest_ : before_;
  }
  /// Every boundary to come will see the lines as they are now.
  bool inputs_steady() const {
    return latched_ < world_.clock.e_cycle() - latching_.cycles || (latest_ == lines_ && before_ == lines_);
  }
  void watch_dead_reads();
  void update_signals();
  Slow after_access(std::uint8_t value);
  std::uint8_t write_traced(std::uint16_t address, std::uint8_t value, std::uint8_t kept);
  TrailEntry& next_entry(std::int64_t mark) {
    TrailEntry& entry = trail_[static_cast<std::size_t>(mark) % kTrail];
    entry.mark = mark;
    return entry;
  }
  /// Whether the run shall end with this cycle.
  bool asked() {
    if (flag_->up()) [[unlikely]]
      interrupted_ = true;
    return stop_requested_ || interrupted_;
  }
  void note(std::uint32_t where, std::uint32_t value) {
    TrailEntry& entry = next_entry(world_.clock.mark());
    entry.where = where;
    entry.value = value;
  }
  int index(std::int64_t left) const { return static_cast<int>(handover.start - left - 1); }
  void raise_signals(Kind kind, std::uint16_t address, std::uint8_t value, int position);
  void show_lines(int first, std::uint32_t heard, std::uint32_t value);
  void raise_clocks();
  void drop_e() {
    if (heard_.e >= 0) [[unlikely]]
      socket().drive(heard_.e, drive_low());
  }
  void preview(const Begin& begin);
  Slow end_run(Cycle cycle, std::int64_t left, std::uint64_t value);
  template <Kind kind>
  bool observed_cycle(std::uint16_t address, std::uint8_t& byte, std::int64_t left);
  Slow after_observed(std::int64_t left, std::uint64_t value);
  [[gnu::noinline]] void tell_instruction(int opcode);
  void tell_cycle(Kind kind, std::uint16_t address, std::uint32_t value);

  Surroundings world_;
  const Part part_;
  const Latching latching_;
  Mode mode_ = Mode::live;
  const StopFlag* flag_ = nullptr;
  bool running_ = false;
  bool stop_requested_ = false;
  bool interrupted_ = false;  // the flag was up
  bool at_breakpoint_ = false;
  bool stepping_ = false;  // stop at an instruction boundary...
  int boundaries_ = 0;     // ...after this many
  bool passing_ = false;   // the breakpoint under the program counter has been reported already
  Cycle broken_ = -1;      // when a breakpoint was last reported
  bool aborted_ = false;   // RESET cut the instruction short
  int dead_cycles_ = 0;
  int verified_ = 0;      // cycles that the instruction was found to have
  bool rebuilt_ = false;  // the instruction to rebuild has begun
  int replayed_ = 0;      // cycles whose journal was there when the run began
  std::int64_t replayed_mark_ = -1;
  bool driven_ = false;
  Pins heard_;  // of the outputs those that somebody listens to, else -1
  bool signals_wired_ = false;
  std::uint32_t heard_address_ = 0, heard_data_ = 0;  // lines, a bit each
  bool foresees_ = false;                             // AVMA, BUSY or LIC is heard
  Begin previewed_;
  std::array<Coming, kTrail> coming_{};
  bool memory_may_wait_ = false;  // MRDY can move, so it must be looked at before each transfer
  std::int64_t access_left_ = 0;
  std::array<TrailEntry, kTrail> trail_{};

  // Saved and restored. Cycles are counted as E counts them.
  Lines lines_, latest_, before_;
  Cycle latched_ = -2;    // `latest_` was latched in this cycle, `before_` in the one before
  Cycle nmi_moved_ = -2;  // the latest cycle that latched NMI as it was before its last change
  int lent_ = 0;          // cycles that DMA/BREQ has held the buses; -1: the next one is the processor's own
  bool ba_ = false, bs_ = false;
  bool memory_waits_ = false;  // MRDY is low
  Begin decided_;              // what began with the cycle that is held, if that is the first one
  // Of the cycles of the current instruction, kept while somebody listens: how many, which use the bus, in which BUSY
  // is high.
  std::int32_t cycles_ = 0;
  std::uint32_t using_bus_ = 0, busy_ = 0;
  CpuState doing_ = CpuState::running;
  bool nmi_level_ = false;
  bool tsc_ = false;
  bool tsc_tail_ = false;
  bool data_enabled_ = true;
  bool stuck_ = false;
  std::uint8_t bus_byte_ = 0;    // what the data lines hold between runs
  int done_ = 0;                 // cycles of the current instruction that are over
  std::int64_t first_mark_ = 0;  // of the current instruction
  std::array<std::uint32_t, kTrail> journal_{};
};

/// A processor whose registers are the plain structure `R`, with a member `pc`.
template <class R>
class RegisterProcessor : public Processor {
 public:
  using Processor::Processor;

  std::uint16_t pc() const override { return static_cast<std::uint16_t>(registers_.pc); }
  void archive(Archive& archive) override {
    Processor::archive(archive);
    archive(registers_);
    if (archive.loading()) hold();
    archive.require(coherent());
  }

  R& now() { return registers_; }

 protected:
  void hold() override { held_ = registers_; }
  void unhold() override { registers_ = held_; }

  R registers_;

 private:
  R held_;
};

}  // namespace prewire
