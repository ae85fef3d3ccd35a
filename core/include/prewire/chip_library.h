// Chips in a shared object, which `--chips` brings to every program: docs/own-chips.md.
#pragma once

#include <cstdint>

#include "prewire/chip.h"
#include "prewire/version.h"

namespace prewire {

/// What a library of chips shows to the program that loads it: an object with the name and the linkage of
///
///     extern "C" const prewire::ChipLibrary prewire_chip_library{add};
///
/// It is built with the headers of the program's own version and links nothing of Prewire: the program brings that.
/// It stays loaded to the end, so texts in it may be referred to.
struct ChipLibrary {
  /// Raised whenever a library that was built before would no longer do.
  static constexpr std::uint32_t kInterface = 1;

  /// `add` adds kinds of chip, and the rules by which they find fault, to an empty registry. Names must be new to the
  /// program. What it throws is told as a fault of the library.
  explicit constexpr ChipLibrary(void (*adder)(Registry&)) : add(adder) {}

  /// Whether it was built for a program like the one that asks, which compares what it would show itself.
  constexpr bool fits() const {
    const ChipLibrary own(nullptr);
    return interface_number == own.interface_number && type_size == own.type_size && pin_size == own.pin_size &&
           chip_size == own.chip_size && socket_size == own.socket_size;
  }

  std::uint32_t interface_number = kInterface;
  std::uint32_t type_size = sizeof(ChipType), pin_size = sizeof(PinSpec), chip_size = sizeof(Chip),
                socket_size = sizeof(Socket);
  const char* version = kVersion;
  void (*add)(Registry&) = nullptr;
};

/// The name of that object.
inline constexpr const char* kChipLibrarySymbol = "prewire_chip_library";

}  // namespace prewire
