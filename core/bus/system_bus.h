// The address map: which chip answers where, the flat store behind plain memory, and what the keeper holds.
#pragma once

#include <algorithm>
#include <array>
#include <compare>
#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "bus/bus_map.h"
#include "bus/intent.h"
#include "clock/clock.h"
#include "prewire/bus.h"
#include "prewire/chip.h"
#include "watch/findings.h"

namespace prewire {

/// Bits of `Flat::slow`: accesses that must not take the fast path. `kWatchedFetch` stands at all addresses while an
/// observer wants to know of instructions.
/// `kSlowIdle`: a chip takes part in cycles with VMA low.
enum SlowAccess : std::uint8_t {
  kSlowFetch = 1,
  kSlowRead = 2,
  kSlowWrite = 4,
  kSlowAll = 7,
  kWatchedFetch = 8,
  kSlowIdle = 16
};

/// What dead cycles read where the processor has no VMA.
inline constexpr std::uint16_t kDeadAddress = 0xFFFF;

/// One byte and one attribute per address, side by side for the processor's inner loop.
class Flat {
 public:
  static constexpr std::size_t kSlow = 65536;           ///< distance from a byte to its attribute
  static constexpr std::size_t kIdleHeard = 2 * kSlow;  ///< not 0: `kSlowIdle` stands somewhere

  std::uint8_t* bytes() { return bytes_.data(); }
  std::uint8_t& cell(std::uint32_t address) { return bytes_[address]; }
  std::uint8_t cell(std::uint32_t address) const { return bytes_[address]; }
  std::uint8_t& slow(std::uint32_t address) { return bytes_[kSlow + address]; }
  void hear_idle() { bytes_[kIdleHeard] = 1; }
  bool idle_heard() const { return bytes_[kIdleHeard] != 0; }

 private:
  alignas(64) std::array<std::uint8_t, 2 * kSlow + 1> bytes_{};
};

/// Why a byte was asked for; decides what becomes known of it.
enum class Access : std::uint8_t { fetch, read, vector, ignored, idle };

/// A chip's place in the map.
struct Placement {
  std::string name;
  Chip* device = nullptr;  ///< null for memory
  BusSpec spec;
  std::uint16_t first = 0, last = 0;                ///< the window named by `at`
  std::uint16_t mirror_first = 0, mirror_last = 0;  ///< equal to it without partial decoding
  PowerUp power_up = PowerUp::random;
  bool wired = false;  ///< wires say where it answers: see `SystemBus::learn`. The addresses above mean nothing
  int bank = -1;       ///< of such a chip, by the bus: its number among them
};

struct Doubt;
class Doubts;

class SystemBus {
 public:
  /// `pc` tells where the program is, and `intent` what the instruction there is about that reads a byte which nobody
  /// has written, or tries an address where nobody answers. `second`: it is the second byte of two.
  using Intents = std::function<Intent(std::uint16_t address, bool second)>;
  SystemBus(Clock& clock, Findings& findings, std::function<std::uint16_t()> pc, Intents intent);
  ~SystemBus();

  // Building.
  void place(Placement placement);
  void set_keeper(KeeperPolicy policy, std::uint64_t seed);
  void finish();
  /// An address map for the chips that are wired, one place for each in the order in which they were placed. Returns
  /// its number. The first one is in force at once.
  int learn(const std::vector<WiredPlace>& places);
  /// Puts a map in force from the next cycle on. What it alters is worked out the first time.
  void use_map(int number);
  int map() const { return map_; }
  /// No cycle has passed yet.
  void settle_map() { changed_.clear(); }
  /// Drops all maps that are not in use; their numbers may come again.
  void forget_maps();
  /// Whether chips answer a cycle with BS high in another way than a read.
  bool own_vectors() const { return own_vectors_; }
  /// What memory showed at an address in the cycle with that mark, if another map has come into force since.
  struct Past {
    std::uint8_t value;
    Cycle mark;  ///< of the last cycle with the map of that time
  };
  std::optional<Past> before_change(std::uint16_t address, Cycle mark) const;

  /// Memory contents of an image: into the memory that the address shows by the first map in which it shows any.
  void load(std::uint16_t address, std::uint8_t value);
  /// Cells as power-on leaves them, images kept.
  void power_on();

  // A cycle, on the slow path. `kept` is what the bus holds before it.
  struct Result {
    std::uint8_t value;
    bool driven;  ///< by somebody, on all eight lines
  };
  Result read(std::uint16_t address, Access access, std::uint8_t kept) {
    const Sole& sole = soles_[decode_[address]];
    if (sole.device != nullptr) [[likely]] {
      const std::uint8_t value = sole.device->read(address & sole.mask);
      if (holding_) hold(sole.device, address, value);
      return {value, true};
    }
    return read_any(decodes_[decode_[address]], address, access, kept);
  }
  /// Returns what the bus holds then: not always what the processor has put there.
  std::uint8_t write(std::uint16_t address, std::uint8_t value, std::uint8_t kept) {
    const Sole& sole = soles_[decode_[address]];
    overwritten_.any = false;
    if (sole.device != nullptr) [[likely]] {
      sole.device->write(address & sole.mask, value);
      return value;
    }
    return write_any(decodes_[decode_[address]], address, value, kept);
  }
  /// A cycle with BS high, or with VMA low: only wires can tell.
  Result read_apart(std::uint16_t address, Access access, std::uint8_t kept) {
    return read_any(decodes_[decode_[address]], address, access, kept);
  }

  /// The cell that the last write changed and what it held, for the processor's trail.
  struct Overwritten {
    bool any = false;
    std::uint16_t cell = 0;
    std::uint8_t old = 0;
  };
  const Overwritten& overwritten() const { return overwritten_; }

  /// The last opcode that was fetched where not all data lines were driven.
  struct OpenFetch {
    std::uint16_t address = 0;
    std::uint8_t value = 0;
    Cycle when = -1;  ///< below 0: there was none
  };
  const OpenFetch& open_fetch() const { return open_fetch_; }

  // Registers that a chip lets programs read without asking it: see `Socket::hold_reading`.
  void hold_reading() { holding_ = true; }
  void drop_readings(const Chip* device) {
    if (!held_.empty()) drop_held(device);
  }

  // Looking and patching, without effects on chips.
  std::uint8_t peek(std::uint16_t address) const;
  /// The data lines, a bit each, on which somebody answers a read.
  std::uint8_t lines_at(std::uint16_t address) const;
  /// What a program would read in a cycle, if the bus held `kept` before it.
  std::uint8_t readable(std::uint16_t address, std::uint8_t kept, Cycle when) const;
  bool poke(std::uint16_t address, std::uint8_t value);
  ByteUse use(std::uint16_t address) const;
  /// Names of the chips that answer at an address.
  std::vector<std::string> answering(std::uint16_t address) const;

  /// Which fetches observers are told of: of those that are not new, addresses that were spared are left out.
  enum class Fetches : std::uint8_t { none, fresh, all };
  void watch_fetches(Fetches which);
  void spare(std::uint16_t address);
  void spare_none();
  void set_breakpoint(std::uint16_t address, bool on);
  bool breakpoint(std::uint16_t address) const {
    return std::find(breaks_.begin(), breaks_.end(), address) != breaks_.end();
  }

  /// Tells of all accesses that are in doubt, as if they were faults. What they are is still found out.
  void tell_doubts() { tell_doubts(Clock::kNever); }
  /// Of those that are too old to become clear.
  void tell_old_doubts();

  Flat& flat() { return flat_; }
  void archive(Archive& archive);

 private:
  enum Known : std::uint8_t { kLoaded = 1, kWritten = 2, kRead = 4, kExecuted = 8, kPoked = 16, kDoubted = 32 };
  /// What one chip does at an address.
  struct Part {
    int placement = 0;
    std::array<std::uint8_t, kBusKinds> drives{};  // data lines, by kind of cycle
    std::uint8_t takes = 0, stale = 0;             // kinds, a bit each
    std::array<std::uint16_t, kBusKinds> cells{};  // of a wired chip, indexes into `cells_`
    friend auto operator<=>(const Part&, const Part&) = default;
  };
  /// Who answers at an address.
  struct Decode {
    std::vector<Part> parts;
    bool plain = false;      ///< a read finds memory on all eight lines: fast, at its own window, once it has been used
    bool plain_ram = false;  ///< and a write finds the same
    bool plain_rom = false;
    bool idle = false;  ///< somebody takes part with VMA low
  };
  /// An address map.
  struct Map {
    std::vector<std::uint16_t> decode;  // by address
    std::vector<std::int32_t> home;     // of each cell of wired memory: where it stands in the flat store, or -1
  };
  /// Cells that stand elsewhere in another map.
  struct Move {
    std::uint32_t cell = 0, count = 0;  // the first one, counted among those of wired memory
    std::int32_t from = -1, to = -1;    // addresses
    std::uint8_t lines = 0xFF;
  };
  struct Change {
    std::vector<Move> moves;
    std::vector<std::pair<std::uint32_t, std::uint32_t>>
        touched;  // addresses whose slow bits are others: from, to before
  };
  /// What part of the state a wired memory is.
  struct Bank {
    int placement = 0;
    std::uint32_t first = 0, size = 0;  // cells
    WiredPlace lines;                   // without modes and cells
  };

  /// The chip of a set that has only one, on all data lines: the common case, kept apart to be found in few steps.
  struct Sole {
    Chip* device = nullptr;
    std::uint32_t mask = 0;
  };

  static constexpr Cycle kLongAgo = -static_cast<Cycle>(kTrail);
  static constexpr std::uint8_t kAnew = 0x80;
  struct Held {
    std::uint16_t address;
    const Chip* device;
  };

  // Cells are numbered: those of memory placed by `at` as their addresses, those of wired memory from `kWired` on.
  static constexpr std::uint32_t kWired = 65536;
  std::uint32_t cell(const Part& part, BusKind kind, std::uint16_t address) const;
  std::uint32_t reg(const Part& part, BusKind kind, std::uint16_t address) const;
  /// Where the cell stands in the flat store, or -1.
  std::int32_t home(std::uint32_t cell) const {
    return cell < kWired ? static_cast<std::int32_t>(cell) : homes_[cell - kWired];
  }
  std::uint8_t& byte(std::uint32_t cell);
  std::uint8_t byte(std::uint32_t cell) const { return const_cast<SystemBus&>(*this).byte(cell); }
  /// What is known of the cell has changed.
  void refresh_cell(std::uint32_t cell);
  bool is_memory(const Part& part) const {
    return placements_[static_cast<std::size_t>(part.placement)].device == nullptr;
  }
  const Placement& of(const Part& part) const { return placements_[static_cast<std::size_t>(part.placement)]; }
  const WiredPlace* wires(const Part& part) const;
  std::uint16_t number_of(Decode decode);
  void find_homes(Map& map) const;
  const Change& change(int from, int to);
  void bring_back(const Move& move);
  void load_into(const Map& map, std::uint16_t address, std::uint8_t value);
  bool has_memory(const Map& map, std::uint16_t address) const;
  void mark_idle(bool on);
  void snoop(const Decode& decode, BusKind kind, std::uint16_t address, std::uint8_t byte, std::uint8_t kept);
  void take(const Part& part, BusKind kind, std::uint16_t address, std::uint8_t byte, std::uint8_t kept);
  void archive_bank(Archive& archive, const Bank& bank, bool was_patched);
  const Bank& bank_of(const Part& part) const;
  /// Where an access to the cell is shown: at its home, or where it took place.
  std::uint64_t address_of(std::uint32_t cell, std::uint16_t address) const {
    const std::int32_t at = home(cell);
    return at >= 0 ? static_cast<std::uint64_t>(at) : address;
  }
  std::string memory_name(std::uint16_t address) const;
  void store(std::uint32_t where, std::uint8_t lines, std::uint8_t value);
  std::uint8_t keeper(std::uint8_t kept, Cycle when) const;
  Result read_any(const Decode& decode, std::uint16_t address, Access access, std::uint8_t kept);
  std::uint8_t write_any(const Decode& decode, std::uint16_t address, std::uint8_t value, std::uint8_t kept);
  void unwritten_read(std::uint32_t cell, std::uint16_t address);
  void write_doubted(std::uint32_t cell, std::uint8_t value);
  void read_doubted(std::uint32_t cell);
  void nobody(std::uint16_t address, bool write, std::uint8_t value);
  void tell_doubts(Cycle until);
  void tell(const Doubt& doubt);
  void report_unwritten(std::uint16_t address, Occurrence occurrence);
  void report_undriven(std::uint16_t address, std::uint8_t shown, Occurrence occurrence);
  void report_untaken(std::uint16_t address, std::uint8_t value, Occurrence occurrence);
  void decide_old();
  void make_room();
  /// Whether that byte of a RAM answers at an address.
  bool is_ram(std::uint16_t address, std::uint32_t where) const;
  void mark(const Doubt& doubt, bool doubted);
  void close(const Doubt& doubt);
  Occurrence in_window(std::uint16_t address) const;
  void note_contention(const Decode& decode, BusKind kind, std::uint16_t address);
  void hold(const Chip* device, std::uint16_t address, std::uint8_t value);
  void drop_held(const Chip* device);
  void forget_held();
  void mark_fetches();
  std::uint8_t watched(std::uint16_t address) const {
    if (watched_ == Fetches::none) return 0;
    return watched_ == Fetches::fresh && !spared_.empty() && spared_[address] != 0 ? 0 : kWatchedFetch;
  }
  /// Works out the slow bits of one address from what is known of it.
  void refresh(std::uint16_t address);

  Clock& clock_;
  Findings& findings_;
  std::function<std::uint16_t()> pc_;
  Intents intent_;
  std::unique_ptr<Doubts> doubts_;
  bool telling_ = false;
  KeeperPolicy policy_ = KeeperPolicy::last;
  std::uint64_t seed_ = 0;
  std::vector<Placement> placements_;
  std::vector<Decode> decodes_;
  std::vector<Sole> soles_;  // by decode
  std::map<std::vector<Part>, std::uint16_t> numbers_;
  std::vector<Bank> banks_;  // of all placements that are wired, in order
  std::vector<CellIndex> cells_;
  std::vector<std::unique_ptr<Map>> maps_;
  std::map<std::pair<int, int>, Change> changes_;
  int map_ = 0, learned_ = 0;
  bool own_vectors_ = false;
  struct Changed {
    Cycle mark = 0;  // the last cycle with...
    int map = 0;     // ...that map
  };
  std::vector<Changed> changed_;         // since the current instruction began, and before
  std::vector<std::uint8_t> hidden_;     // cells of wired memory that stand nowhere in the flat store
  std::vector<std::uint8_t> set_aside_;  // their slow bits, for the time when they come back; or `kAnew`
  std::vector<std::uint16_t> noise_;     // what a wired cell's contents at power-on are drawn by
  std::vector<std::uint16_t> base_;      // what chips with an `at` make of each address
  const std::uint16_t* decode_ = nullptr;
  const std::int32_t* homes_ = nullptr;
  std::vector<std::uint32_t> borders_;       // addresses from which on others answer than before
  std::vector<std::uint8_t> known_, image_;  // by cell
  std::vector<std::uint16_t> breaks_;        // a handful
  bool patched_rom_ = false;
  Fetches watched_ = Fetches::none;
  std::vector<char> spared_;           // addresses, if any...
  std::vector<std::uint16_t> spares_;  // ...and a list of them
  Overwritten overwritten_;
  OpenFetch open_fetch_;  // no part of the state: it tells of the instruction in progress
  bool holding_ = false;  // the chip that is being read holds what it answers
  std::vector<Held> held_;
  Cycle dropped_ = kLongAgo;  // mark of the latest change
  Flat flat_;
};

}  // namespace prewire
