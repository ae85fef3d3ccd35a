// Levels on nets, and what a pin can do to the net it is wired to.
#pragma once

#include <bit>
#include <cstdint>
#include <string_view>

namespace prewire {

/// The logic level of a net, by TTL input thresholds (low up to 0.8 V, high from 2.0 V) where its voltage is known.
enum class Level : std::uint16_t {
  low,
  high,
  floating,  ///< nobody drives or pulls the net
  unknown,   ///< between the thresholds, or weak against weak
};

/// Whether it reads as one bit only.
constexpr bool is_sure(Level level) { return level == Level::low || level == Level::high; }

/// Who decides the level of a net.
enum class Strength : std::uint16_t {
  none,       ///< nobody: the net floats
  pulled,     ///< only resistances: a pull-up, a divider, a pin's internal pull-up
  driven,     ///< one or more outputs that agree
  rail,       ///< tied to a supply rail
  contended,  ///< strong drivers that disagree; the level is what the low side would show, as TTL and NMOS sink harder
};

/// What is known of a net at one moment.
struct NetState {
  Level level = Level::floating;
  Strength strength = Strength::none;
  std::int32_t microvolts = 0;  ///< meaningful unless the net floats; contended nets show the winner's voltage

  /// In one step, since nets are compared all the time.
  friend constexpr bool operator==(const NetState& a, const NetState& b) {
    return std::bit_cast<std::uint64_t>(a) == std::bit_cast<std::uint64_t>(b);
  }
};

/// What one pin does to its net. Values are plain data; build them with the functions below.
struct Drive {
  enum class Kind : std::uint32_t { release, low, high, open_low, pull, volts };
  Kind kind = Kind::release;
  std::int32_t microvolts = 0;  ///< `pull` and `volts` only
  std::int32_t ohms = 0;        ///< `pull` only, 1 or more

  friend bool operator==(const Drive&, const Drive&) = default;
};

// The digital ones stand ready: making one field by field and then copying it whole is slow.
inline constexpr Drive kRelease{}, kDriveLow{Drive::Kind::low}, kDriveHigh{Drive::Kind::high},
    kOpenLow{Drive::Kind::open_low};

constexpr const Drive& release() { return kRelease; }
constexpr const Drive& drive_low() { return kDriveLow; }
constexpr const Drive& drive_high() { return kDriveHigh; }
constexpr const Drive& drive(bool high) { return high ? kDriveHigh : kDriveLow; }
/// An open-drain or open-collector output that sinks. Several of these on one net agree.
constexpr const Drive& open_low() { return kOpenLow; }
/// A resistance of `ohms` to a voltage: an internal pull-up, say.
constexpr Drive pull(std::int32_t microvolts, std::int32_t ohms) { return {Drive::Kind::pull, microvolts, ohms}; }
/// A stiff voltage source.
constexpr Drive volts(std::int32_t microvolts) { return {Drive::Kind::volts, microvolts, 0}; }

/// Nominal voltage of a logic high, in microvolts; a logic low counts as 0.
inline constexpr std::int32_t kLogicHigh = 5'000'000;

/// TTL input thresholds in microvolts (TI, The TTL Data Book, 74LS recommended operating conditions).
inline constexpr std::int32_t kInputLow = 800'000;
inline constexpr std::int32_t kInputHigh = 2'000'000;

std::string_view to_string(Level level);
std::string_view to_string(Strength strength);

}  // namespace prewire
