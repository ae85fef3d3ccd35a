// The state of a machine at one moment, to be taken up again: in memory, or as bytes that a program keeps.
#pragma once

#include <cstdint>
#include <span>
#include <string_view>
#include <vector>

#include "prewire/error.h"

namespace prewire {

/// A saved state. Only a machine that is built alike takes it back: the same processor, chips with the same parameters
/// at the same addresses, wires, images, and chip types of the same version (`ChipType::state_version`).
///
/// It holds everything that decides how the machine goes on, inputs that are to come and the seed among it; no
/// observers, breakpoints, findings or history.
class Snapshot {
 public:
  /// The state itself: as long as two are equal, machines that take them up do the same.
  std::span<const std::uint8_t> bytes() const { return bytes_; }
  friend bool operator==(const Snapshot&, const Snapshot&) = default;

  /// The state with what it takes to know it again: a mark, the version of this form, its length and a sum of all
  /// bytes. For computers of one kind; one with another order of bytes refuses it.
  std::vector<std::uint8_t> to_bytes() const;
  /// The inverse. Throws `InputError` with one fault, `bad-snapshot`, for anything else: `name` stands for the bytes in
  /// its message. Takes as much memory as there are bytes. Whether a machine can be in that state only
  /// `Machine::restore` finds out.
  static Snapshot from_bytes(std::span<const std::uint8_t> bytes, std::string_view name = {});

 private:
  friend class Machine;  // and what it owns
  std::vector<std::uint8_t> bytes_;
};

}  // namespace prewire
