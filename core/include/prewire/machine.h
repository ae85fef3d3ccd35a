// A machine: a processor, chips and wires, built from its description. What an embedding program holds.
#pragma once

#include <array>
#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "prewire/assembler.h"
#include "prewire/bus.h"
#include "prewire/chip.h"
#include "prewire/clock.h"
#include "prewire/cpu.h"
#include "prewire/description.h"
#include "prewire/error.h"
#include "prewire/snapshot.h"
#include "prewire/stop_flag.h"
#include "prewire/watch.h"
#include "prewire/wire.h"

namespace prewire {

class Machine;

/// Where a chip answers on the bus; both ends are included.
struct BusPlace {
  std::uint16_t first = 0, last = 0;
  std::uint16_t mirror_first = 0, mirror_last = 0;  ///< the range in which it shows again and again; contains the above
  BusSpec spec;                                     ///< adapted to the parameters
  bool wired = false;                               ///< by its wires, and not by `at`
  /// Of a wired chip: other ranges in which it shows, first and last address. It may show in each only now and then.
  std::vector<std::pair<std::uint16_t, std::uint16_t>> elsewhere{};
  std::vector<std::uint16_t> shown{};  ///< of a wired chip: the register at each value of its low address lines

  /// The register at an address.
  unsigned reg(std::uint16_t address) const {
    const unsigned low = address & (spec.size - 1);
    return low < shown.size() ? shown[low] : low;
  }
};

/// What a front end needs to show one chip.
struct ChipView {
  std::string_view name;  ///< in the machine file; "CPU" for the processor
  const ChipType* type;
  std::span<const Lamp> lamps;
  const Parameters* parameters = nullptr;  ///< null for the processor
  std::optional<BusPlace> place{};         ///< of a chip on the bus
  std::string_view package{};              ///< of a part of a package: that name in the machine file…
  const ChipType* package_type = nullptr;  ///< …its type…
  std::size_t unit = 0;                    ///< …and which of its units
};

/// One net: pins that are joined.
struct NetView {
  struct Pin {
    int chip = -1;  ///< counts in `Machine::chips()`; -1 for the processor
    int pin = 0;    ///< counts in the type's pins
  };
  std::string_view name;  ///< its label, its rail or its first pin
  std::vector<Pin> pins;
  bool rail = false;  ///< a supply, whose voltage is that of `state`
  NetState state;     ///< at this moment
};

/// The line of source that a byte in memory comes from.
struct SourcePlace {
  const SourceMap* map = nullptr;
  const SourceMap::Line* line = nullptr;
};

/// "gauge.asm:42".
std::string to_string(const SourcePlace& place);

/// The bytes of the instruction at an address: as `Machine::peek`, but of the instruction at which the processor is
/// those that it has fetched or will fetch, where no chip answers, too.
std::array<std::uint8_t, 5> code_at(const Machine& machine, std::uint16_t address);
/// The instruction that stands in memory at an address, of bytes as in `code_at`.
Disassembly disassemble(const Machine& machine, std::uint16_t address);
Outline outline(const Machine& machine, std::uint16_t address);

/// The byte at an address as `Machine::peek` has it, in two hex digits; - stands for a half that no chip holds.
std::string byte_text(const Machine& machine, std::uint16_t address);

/// One instruction on the way to where the machine is.
struct PastInstruction {
  Cycle cycle = 0;
  std::uint16_t pc = 0;
  int opcode = -1;        ///< below 0: an `Entry`
  std::string registers;  ///< before it
  std::string text;       ///< disassembled
};

/// A machine that has been switched on: cycle 0 is next, and RESET is held low for the first eight cycles.
///
/// The same description and the same inputs give the same cycles, on every computer.
///
/// One thread at a time uses a machine; others may raise the flag that it heeds. Different machines are independent.
///
/// Calls from within. Observers and chips are called while the machine does something. From there they may look at
/// everything, call `request_stop`, `heed`, `report`, `watch`, `unwatch` and `set_breakpoint`; an observer that is
/// added is told of what happens once the call has come back, one that is removed of nothing more. All other calls that
/// run the machine, change it or save it throw `std::logic_error`, and nothing happens; `Cpu::set` returns false. It
/// must not be destroyed or moved from there.
///
/// What an observer throws comes out of the call during which it was told, of several the first, and the others are
/// told all the same. The call is then done: a run has ended after the bus cycle in progress, as after `request_stop`,
/// and going on gives the same cycles as if nothing had been thrown. Looking at the past ends there instead, and the
/// machine is where it was.
///
/// What a chip throws comes out of the call at once, and the machine is left in the middle of it, with the registers as
/// they were before the instruction. It can then be looked at, taken to a whole state by `restore` or `power_cycle`,
/// and destroyed; whatever else would run it, change it or save it throws `std::logic_error`. Where a chip throws while
/// the past is run again, out of `Chip::archive` or out of a function that only looks, nothing has changed.
class Machine {
 public:
  /// Throws `InputError` with all faults of the description and its images, `std::logic_error` if a chip type makes no
  /// chip, and what chips throw.
  static Machine from_file(const std::filesystem::path& file, const Registry& registry,
                           const LoadOptions& options = {});
  /// `name` stands for the file in messages. Images are looked for in `options.root`.
  static Machine from_text(std::string_view json, const std::string& name, const Registry& registry,
                           const LoadOptions& options = {});
  /// Looks at a file in the same way, or throws if it cannot be read.
  static std::vector<Fault> check_file(const std::filesystem::path& file, const Registry& registry,
                                       const LoadOptions& options = {});
  Machine(Machine&&) noexcept;
  Machine& operator=(Machine&&) noexcept;
  ~Machine();

  const std::string& title() const;
  const std::string& about() const;  ///< what the file says it shows; may be empty
  /// Faults of weight `warn` and `hint` that the check found, and those of weight `stop` that `run_faulty` let through.
  const std::vector<Fault>& remarks() const;

  // Time ------------------------------------------------------------------------------------------------------------
  /// Cycles that are over, with the time by which E was stretched: `moment()` in whole cycles, rounded down.
  Cycle now() const;
  /// The present. To an observer: when that happens which it is told of.
  Stamp moment() const;
  /// When the bus cycle in progress began, or between runs the one to come, unless it has begun and is stretched.
  Stamp cycle_began() const;
  const Timebase& timebase() const;
  /// Runs until `cycles` cycles are over since power-on, to the cycle, or until something stops the machine. If E has
  /// been stretched by odd quarters, the last cycle ends up to three quarters after that count is full. A run ends
  /// within a cycle only if E is stretched through the end of the count. After 2^58 cycles, some 9000 years at 1 MHz,
  /// it goes no farther.
  Stop run_until(Cycle cycles);
  Stop run_for(Cycle cycles);
  /// One bus cycle.
  Stop step_cycle() { return run_until(now() + 1); }
  /// To the end of the current instruction, or through the next one. A processor that waits takes one cycle. While TSC,
  /// MRDY or MR holds the processor, that is tried for a million cycles.
  Stop step_instruction();
  /// No chip waits for a moment and no input is to come: while the processor waits, nothing will change.
  bool nothing_due() const;
  /// Ends the run after the bus cycle in progress. For observers and chips; between runs it does nothing.
  void request_stop();
  /// From now on runs end after a bus cycle when the flag is up, and do not begin, with `StopReason::interrupted`.
  /// Going on gives the same cycles as if nothing had happened. The flag is looked at every 16384 cycles of plain
  /// memory and registers, and after every cycle in which a net changes, a timer is due or an observer is told of it:
  /// so it takes what one such cycle takes, or a fraction of a millisecond. Going back and looking back end in the same
  /// way, and have found nothing. Null: no flag is heeded.
  void heed(const StopFlag* flag);
  /// RESET low for eight cycles, beginning now.
  void reset();
  /// Off and on: everything but images and breakpoints as at the start, at cycle 0.
  void power_cycle();
  /// The same with another seed for what is random, such as the contents of RAM.
  void power_cycle(std::uint64_t seed);
  std::uint64_t seed() const;

  // Processor and memory ----------------------------------------------------------------------------------------------
  Cpu& cpu();
  const Cpu& cpu() const;
  /// What a read would give, without its effects.
  std::uint8_t peek(std::uint16_t address) const;
  /// Changes a memory cell, a ROM's too; false if no memory is there.
  bool poke(std::uint16_t address, std::uint8_t value);
  ByteUse use(std::uint16_t address) const;
  /// Names of the chips that answer at an address.
  std::vector<std::string> answering(std::uint16_t address) const;
  /// Data lines, a bit each, on which chips answer a read there: $0F where a pair of four-bit memories lacks one.
  std::uint8_t lines_at(std::uint16_t address) const;
  void set_breakpoint(std::uint16_t address, bool on);

  // Programs ----------------------------------------------------------------------------------------------------------
  /// The images of the description, in its order; those that were assembled have a `source`.
  std::vector<const Image*> programs() const;
  /// Empty where no source is known.
  std::optional<SourcePlace> source_at(std::uint16_t address) const;
  /// "$E012", or a label or constant of the first program that has one. Empty for anything else.
  std::optional<std::uint16_t> address_of(std::string_view text) const;
  /// Label at exactly this address, the first by name; empty if there is none.
  std::string_view label_at(std::uint16_t address) const;

  // Board -----------------------------------------------------------------------------------------------------------
  std::vector<ChipView> chips() const;
  ChipView processor() const;
  /// Every net with two pins or more or with a label, and the rails. Bus lines of chips with a `place` are not among
  /// them.
  std::vector<NetView> nets() const;
  /// The net at a pin such as "PIA.CA2", or with such a label; empty if there is none.
  std::optional<NetState> net(std::string_view name) const;
  /// Why `name` is no net: what was expected, and a hint. Empty for a net.
  std::string net_trouble(std::string_view name) const;
  /// Does to a part what a person would: `set("FLOAT", "2.5 V")`. Throws `InputError`, and nothing happens. "RESET",
  /// "pressed" or "released", is a button on the reset line, which is low as well for eight cycles after power-on and
  /// `reset`.
  void set(std::string_view chip, std::string_view value);
  /// The same at a moment that is yet to come, or else now.
  void schedule(std::string_view chip, std::string_view value, Stamp when);

  // Displays --------------------------------------------------------------------------------------------------------
  /// Names of the groups of digits in the description's "display"; without it one group "display" of all digits, if
  /// there are any.
  std::vector<std::string> displays() const;
  /// The text on a group of digits at this moment: blanks for dark digits, '?' for a pattern that is no character. Of
  /// digits that are lit in turn that is one of them; what a person sees there an `Eye` (prewire/eye.h) tells.
  std::string display(std::string_view group) const;
  /// The digits of a group from left to right; they count in `chips()`.
  std::vector<std::size_t> digits(std::string_view group) const;

  // State -----------------------------------------------------------------------------------------------------------
  Snapshot save() const;
  void save(Snapshot& into) const;  ///< reuses its memory; after an exception it is empty
  /// Continues from a saved state, silently: the seed is that of the state, too. Throws `InputError`, and nothing
  /// happens, if it comes from a machine that is built otherwise (`foreign-snapshot`), or if no machine can be in such
  /// a state (`bad-snapshot`). What the bytes of a snapshot hold is looked at closely enough that the machine then
  /// runs, whatever they are.
  void restore(const Snapshot& snapshot);

  // Watching --------------------------------------------------------------------------------------------------------
  /// The observer must outlive the machine or be removed. `wants` is asked once, here.
  void watch(Observer& observer);
  void unwatch(Observer& observer);
  /// An access that a good program could mean, as one that tests the RAM does, is kept back until it is clear, for
  /// 65,536 cycles at most, or something else is found.
  const std::vector<Finding>& findings() const;
  /// The run ends here: what is still kept back becomes a finding. The state of the machine stays as it is.
  void conclude();
  /// Adds a finding, for observers that judge. `subject` tells occurrences of one id apart; the texts are only used the
  /// first time, later ones are counted.
  void report(std::string_view id, Weight weight, std::uint64_t subject, std::string_view message,
              std::string_view hint);
  /// The same, with what it belongs to and follows from.
  void report(std::string_view id, Weight weight, const Occurrence& occurrence, std::string_view message,
              std::string_view hint);
  /// What was found since that cycle and follows from nothing known is a consequence of that finding, which counts in
  /// `findings`.
  void blame(std::size_t finding, Cycle since);
  /// The program is astray: whatever is found from now on is a consequence of that finding, and of each rule one case.
  /// Below 0: no longer.
  void set_astray(std::int64_t finding);
  /// Observers of `kNewInstructions` need not be told of the instruction at that address again, until `spare_none`.
  void spare(std::uint16_t address);
  void spare_none();
  /// Why an output of a chip stays as it is, in the chip's words; see `Chip::why_not`. Both count as in `NetView::Pin`.
  Blocked why_not(int chip, int pin) const;
  Blocked why_steady(int chip, unsigned reg, std::uint8_t mask) const;
  /// Outputs of logic that take part in selecting a chip which its wires put on the bus, nearest first: "OR.4Y",
  /// "DEC.Y7". By its place in `chips`; empty for other chips, and where none is needed.
  std::vector<std::string> selected_by(int chip) const;
  /// Whether such a finding was reported before.
  bool found(std::string_view id, std::uint64_t subject) const;
  /// The last instructions before now, oldest first, at most `count`. Runs the recent past again, so that a run pays
  /// nothing for it. Fewer if the flag that the machine heeds goes up meanwhile.
  std::vector<PastInstruction> way_here(std::size_t count);

  struct Impl;

 private:
  friend struct Inside;  // the library's own sources
  explicit Machine(std::unique_ptr<Impl> impl);
  std::unique_ptr<Impl> impl_;
};

}  // namespace prewire
