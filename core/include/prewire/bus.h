// What one bus cycle looks like from outside, and the choices a machine makes about its bus.
#pragma once

#include <cstdint>

#include "prewire/clock.h"

namespace prewire {

/// One bus cycle, as a logic analyser clocked by the fall of E would record it (MC6800 data sheet, Table "Operations
/// Summary").
struct BusCycle {
  Cycle cycle = 0;  ///< its number; of a stretched one that of its last whole cycle of time
  std::uint16_t address = 0;
  std::uint8_t data = 0;  ///< what stands on the data bus; the keeper's value where nobody drives it
  bool vma = false;       ///< valid memory address: devices take part only when set; the MC6809, which has no such pin,
                          ///< reads $FFFF instead in the cycles it has no use for
  bool rw = true;         ///< true: the processor reads
  bool ba = false;        ///< bus available: the processor has let go of its buses (WAI, HALT, SYNC, DMA/BREQ)
  bool bs = false;        ///< MC6809 bus status: with BA a grant, without it a vector is fetched; else false
  bool fetch = false;     ///< first cycle of an instruction or of an interrupt entry
  bool driven = false;    ///< somebody drives all eight data lines
  std::uint8_t late = 0;  ///< quarters by which it is late against the stamps of its number, because E was stretched
  std::uint32_t stretch = 0;  ///< quarters by which it was stretched itself: E high for so much longer

  /// When it began, and when E fell, which is when the bus transferred.
  Stamp begin() const { return stamp_of(cycle) + late - Stamp{stretch}; }
  Stamp fall() const { return e_fall(cycle) + late; }

  friend bool operator==(const BusCycle&, const BusCycle&) = default;
};

/// What the processor reads from data lines that nobody drives.
enum class KeeperPolicy : std::uint8_t {
  last,    ///< the value that was last on the bus: the capacitance of the lines keeps it
  ones,    ///< $FF: pull-ups on the data lines
  seeded,  ///< a value that depends on the machine's seed and the cycle
};

/// Where a chip that answers from `first` on, with `size` addresses of its own (a power of two), has what it shows at
/// `address`: it sees only its own address lines, and from `first` to `first + size - 1` each of their values comes
/// once.
constexpr std::uint64_t cell_of(std::uint64_t first, std::uint64_t size, std::uint64_t address) {
  return first + ((address - first) & (size - 1));
}

/// What a memory cell holds when power comes on.
enum class PowerUp : std::uint8_t { random, zeros, ones };

/// What is known of one byte of memory.
struct ByteUse {
  bool loaded = false;    ///< put there by a program image or by `Machine::poke`
  bool written = false;   ///< written by the processor
  bool read = false;      ///< read as data or operand
  bool executed = false;  ///< fetched as an opcode

  friend bool operator==(const ByteUse&, const ByteUse&) = default;
};

}  // namespace prewire
