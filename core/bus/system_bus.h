// The address map: which chip answers where, the flat store behind plain memory, and what the keeper holds.
#pragma once

#include <algorithm>
#include <array>
#include <cstdint>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "bus/intent.h"
#include "clock/clock.h"
#include "prewire/bus.h"
#include "prewire/chip.h"
#include "watch/findings.h"

namespace prewire {

/// Bits of `Flat::slow`: accesses that must not take the fast path. `kWatchedFetch` stands at all addresses while an
/// observer wants to know of instructions.
enum SlowAccess : std::uint8_t { kSlowFetch = 1, kSlowRead = 2, kSlowWrite = 4, kSlowAll = 7, kWatchedFetch = 8 };

/// What dead cycles read where the processor has no VMA.
inline constexpr std::uint16_t kDeadAddress = 0xFFFF;

/// One byte and one attribute per address, side by side for the processor's inner loop.
class Flat {
 public:
  static constexpr std::size_t kSlow = 65536;  ///< distance from a byte to its attribute

  std::uint8_t* bytes() { return bytes_.data(); }
  std::uint8_t& cell(std::uint32_t address) { return bytes_[address]; }
  std::uint8_t cell(std::uint32_t address) const { return bytes_[address]; }
  std::uint8_t& slow(std::uint32_t address) { return bytes_[kSlow + address]; }

 private:
  alignas(64) std::array<std::uint8_t, 2 * kSlow> bytes_{};
};

/// Why a byte was asked for; decides what becomes known of it.
enum class Access : std::uint8_t { fetch, read, ignored };

/// A chip's place in the map.
struct Placement {
  std::string name;
  Chip* device = nullptr;  ///< null for memory
  BusSpec spec;
  std::uint16_t first = 0, last = 0;                ///< the window named by `at`
  std::uint16_t mirror_first = 0, mirror_last = 0;  ///< equal to it without partial decoding
  PowerUp power_up = PowerUp::random;
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

  /// Memory contents of an image.
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
  void write(std::uint16_t address, std::uint8_t value) {
    const Sole& sole = soles_[decode_[address]];
    overwritten_.any = false;
    if (sole.device != nullptr) [[likely]] {
      sole.device->write(address & sole.mask, value);
    } else {
      write_any(decodes_[decode_[address]], address, value);
    }
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
  /// Who answers at an address: a set of placements.
  struct Decode {
    std::vector<int> placements;
    bool plain_ram = false;  ///< memory on all eight lines, at its own window: fast once it has been used
    bool plain_rom = false;
  };

  /// The chip of a set that has only one, on all data lines: the common case, kept apart to be found in few steps.
  struct Sole {
    Chip* device = nullptr;
    std::uint32_t mask = 0;
  };

  static constexpr Cycle kLongAgo = -static_cast<Cycle>(kTrail);
  struct Held {
    std::uint16_t address;
    const Chip* device;
  };

  std::uint16_t cell(const Placement& placement, std::uint16_t address) const;
  std::uint8_t keeper(std::uint8_t kept, Cycle when) const;
  Result read_any(const Decode& decode, std::uint16_t address, Access access, std::uint8_t kept);
  void write_any(const Decode& decode, std::uint16_t address, std::uint8_t value);
  void unwritten_read(std::uint16_t cell, std::uint16_t address);
  void write_doubted(std::uint16_t cell, std::uint8_t value);
  void read_doubted(std::uint16_t cell);
  void nobody(std::uint16_t address, bool write, std::uint8_t value);
  void tell_doubts(Cycle until);
  void tell(const Doubt& doubt);
  void report_unwritten(std::uint16_t address, Occurrence occurrence);
  void report_undriven(std::uint16_t address, std::uint8_t shown, Occurrence occurrence);
  void report_untaken(std::uint16_t address, std::uint8_t value, Occurrence occurrence);
  void decide_old();
  void make_room();
  /// Whether that byte of a RAM answers at an address.
  bool is_ram(std::uint16_t address, std::uint16_t where) const;
  void mark(std::uint16_t address, bool doubted);
  void close(const Doubt& doubt);
  Occurrence in_window(std::uint16_t address) const;
  void note_contention(const Decode& decode, std::uint16_t address);
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
  std::array<Sole, 256> soles_{};
  std::vector<std::uint32_t> borders_;  // addresses from which on others answer than before
  std::array<std::uint8_t, 65536> decode_{};
  std::array<std::uint8_t, 65536> known_{};
  std::array<std::uint8_t, 65536> image_{};
  std::vector<std::uint16_t> breaks_;  // a handful
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
