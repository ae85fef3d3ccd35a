// What the drivers on a net come to, as long as they are digital: then it is enough to count them.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>

#include "prewire/wire.h"

namespace prewire {

/// How many drives of a net sink, source, and are of another kind.
class Drivers {
 public:
  void add(const Drive& drive) { counts_ += kUnits[static_cast<std::size_t>(drive.kind)]; }
  void exchange(const Drive& before, const Drive& now) {
    counts_ += kUnits[static_cast<std::size_t>(now.kind)] - kUnits[static_cast<std::size_t>(before.kind)];
  }

  /// Nobody pulls or gives a voltage.
  bool digital() const { return counts_ < kOther; }
  bool off() const { return counts_ == 0; }
  /// The state of a net where that is all there is.
  const NetState& state() const {
    const std::size_t sinks = (counts_ & 0xFFFF) != 0, sources = (counts_ & 0xFFFF'0000) != 0;
    return kStates[sinks + 2 * sources];
  }

 private:
  // Side by side in one word, which changes in one step.
  static constexpr std::uint64_t kSink = 1, kSource = 1 << 16, kOther = std::uint64_t{1} << 32;
  // By Drive::Kind: release, low, high, open_low, pull, volts.
  static constexpr std::array<std::uint64_t, 6> kUnits = {0, kSink, kSource, kSink, kOther, kOther};
  static constexpr std::array<NetState, 4> kStates = {{{},
                                                       {Level::low, Strength::driven, 0},
                                                       {Level::high, Strength::driven, kLogicHigh},
                                                       {Level::low, Strength::contended, 0}}};

  std::uint64_t counts_ = 0;
};

}  // namespace prewire
