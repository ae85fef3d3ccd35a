// An address map that was found in wires: what each chip does at each address, in each kind of cycle. Plain data.
#pragma once

#include <array>
#include <compare>
#include <cstdint>
#include <vector>

namespace prewire {

/// Kinds of bus cycle that wires can tell apart.
enum class BusKind : std::uint8_t {
  read,
  write,
  idle,    ///< VMA is low
  vector,  ///< a read with BS high: MC6809
};
inline constexpr std::size_t kBusKinds = 4;

constexpr std::uint8_t bit_of(BusKind kind) { return static_cast<std::uint8_t>(1U << static_cast<unsigned>(kind)); }

/// What a chip does at an address, by kind of cycle.
struct BusMode {
  std::array<std::uint8_t, kBusKinds> drives{};  ///< data lines of the bus that it drives, a bit each
  std::uint8_t takes = 0;                        ///< kinds in which it takes what is on the bus, a bit each
  std::uint8_t early = 0;  ///< kinds in which it takes that before E has risen, too, while address lines change
  std::uint8_t stale = 0;  ///< kinds in which it takes what was there before the data came

  bool reads() const { return drives[0] != 0; }
  bool writes() const { return (takes & bit_of(BusKind::write)) != 0; }
  bool any() const { return (drives[0] | drives[1] | drives[2] | drives[3] | takes) != 0; }
  friend auto operator<=>(const BusMode&, const BusMode&) = default;
};

/// Which of its registers or cells a chip shows: where its address pins go.
class CellIndex {
 public:
  CellIndex() : low_(256), high_(256) {}

  std::uint16_t at(std::uint16_t address) const {
    return full_.empty() ? static_cast<std::uint16_t>(low_[address & 0xFF] | high_[address >> 8]) : full_[address];
  }
  /// Adds a bit that depends on one half of the address only.
  void add_low(std::uint8_t half, std::uint16_t bits) { low_[half] |= bits; }
  void add_high(std::uint8_t half, std::uint16_t bits) { high_[half] |= bits; }
  /// Adds a bit that depends on both; all bits to come may.
  void add_full(std::uint16_t address, std::uint16_t bits) {
    if (full_.empty()) spread();
    full_[address] |= bits;
  }
  /// Whether it is the address itself, as far as the chip sees it.
  bool plain(std::uint32_t size) const;
  friend bool operator==(const CellIndex&, const CellIndex&) = default;

 private:
  void spread();

  std::vector<std::uint16_t> low_, high_, full_;
};

/// What the wires make of one chip.
struct WiredPlace {
  int chip = -1;                                   ///< index into the description's chips
  std::array<std::int8_t, 8> line{};               ///< the data line of the bus at each of its own; -1: none
  std::uint8_t open_ones = 0;                      ///< what its data pins that are on no line read as
  std::vector<BusMode> modes;                      ///< the first one does nothing
  std::vector<std::uint8_t> mode_at;               ///< by address, an index into `modes`
  std::vector<CellIndex> cells;                    ///< at least one
  std::array<std::uint8_t, kBusKinds> cells_of{};  ///< by kind, an index into `cells`

  const BusMode& mode(std::uint16_t address) const { return modes[mode_at[address]]; }
  std::uint16_t cell(BusKind kind, std::uint16_t address) const {
    return cells[cells_of[static_cast<std::size_t>(kind)]].at(address);
  }
  /// Lines of the bus that it is on, a bit each.
  std::uint8_t lines() const;
  bool straight() const;  ///< each data pin is on the line of its own number
  std::uint8_t to_bus(std::uint8_t own) const;
  std::uint8_t from_bus(std::uint8_t bus) const;
};

}  // namespace prewire
