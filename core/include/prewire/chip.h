// How a chip is written: its type, then its behaviour. One chip is one source file, and this is what it includes.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "prewire/archive.h"
#include "prewire/chip_type.h"
#include "prewire/clock.h"
#include "prewire/error.h"
#include "prewire/socket.h"
#include "prewire/wire.h"

namespace prewire {

/// Something that lights up, with the sum of its lit time. Viewers take differences of the sum, so a multiplexed digit
/// shows its true brightness.
class Lamp {
 public:
  void archive(Archive& archive) {
    archive.within(lit_, 0, 1);
    archive.number(since_);
    archive.number(total_);
  }
  bool lit() const { return lit_ != 0; }
  /// Lit time from power-on to `now`, in quarter cycles.
  Stamp lit_stamps(Stamp now) const { return total_ + (lit() ? now - since_ : 0); }
  /// When it last changed.
  Stamp since() const { return since_; }
  void set(bool lit, Stamp now) {
    if (lit == this->lit()) return;
    if (this->lit()) total_ += now - since_;
    lit_ = lit ? 1 : 0;
    since_ = now;
  }

 private:
  std::int64_t lit_ = 0;
  Stamp since_ = 0;
  Stamp total_ = 0;
};

/// Why an output stays as it is.
struct Blocked {
  std::string why{};             ///< "bit 0 of CRA is 0"; empty: it does not, or the chip cannot tell
  std::vector<int> waits_for{};  ///< own inputs on which an edge or another level would change it
  bool armed = false;            ///< the program has set it up to happen
  bool flag = false;             ///< what it waits for has come, and only an enable bit keeps it
  bool released = false;         ///< the program has written both levels to the pin, which is an input all the same

  /// The chip cannot tell.
  bool unknown() const { return why.empty() && waits_for.empty(); }
};

/// Behaviour of one chip. Constructed with every pin released; all state must go through `archive`.
///
/// What a chip throws comes out of the call on the machine that led to it. Out of the constructor there is no machine
/// then. Out of `power_on`, `start`, `read`, `write`, `on_edge`, `on_timer` and `input` the machine is left in the
/// middle of what it did: it can be looked at, restored, switched off and on, and destroyed (see `Machine`). Out of
/// `peek`, `parse_input`, `lamps`, `reads` and `archive` nothing has changed. A chip that gets hold of its machine may
/// look at it; calls that would change or run it throw `std::logic_error`.
class Chip {
 public:
  explicit Chip(Socket& socket) : socket_(socket) {}
  virtual ~Chip() = default;
  Chip(const Chip&) = delete;
  Chip& operator=(const Chip&) = delete;

  /// Power has come on. Set the state and the first drives; nets settle afterwards, without edges.
  virtual void power_on() {}
  /// Nets have settled for the first time: look at the levels to start from. What is driven here makes edges.
  virtual void start() {}

  /// A bus access at the E fall of the cycle in progress; `reg` is below `BusSpec::size`. Bits outside `data_mask` are
  /// ignored.
  virtual std::uint8_t read(unsigned reg);
  virtual void write(unsigned reg, std::uint8_t value);
  /// What `read` would return, without its effects.
  virtual std::uint8_t peek(unsigned /*reg*/) const { return 0xFF; }

  /// A net with a listening pin has a new level, or a new voltage for an `analog_in` or `passive` pin.
  virtual void on_edge(int /*pin*/, Level /*level*/, Stamp /*when*/) {}
  virtual void on_timer(unsigned /*tag*/, Stamp /*when*/) {}

  /// What a person does to the part, from text such as "2.5 V": the value for `input`, or empty if it makes no sense.
  virtual std::optional<std::int64_t> parse_input(std::string_view /*text*/) const { return std::nullopt; }
  /// Such a value; but inputs that are to come are part of a state, and after a restore from outside it may be any.
  virtual void input(std::int64_t /*value*/) {}

  /// Lamps in the order of the part's light-emitting pins: a to g and dp for a digit.
  virtual std::span<const Lamp> lamps() const { return {}; }
  /// What a person reads on the part while the lamps in `lit` (bit i: lamp i) are on: "7", "4." or " ".
  virtual std::string reads(unsigned /*lit*/) const { return {}; }

  /// Saves or loads all state, in one order.
  virtual void archive(Archive& /*archive*/) {}

  /// Why nothing happens at an output: what is missing first, and which inputs would bring it. For whoever explains a
  /// machine that has come to rest.
  virtual Blocked why_not(int /*pin*/) const { return {}; }
  /// The same for the bits in `mask` of what a register shows, which a program polls.
  virtual Blocked why_steady(unsigned /*reg*/, std::uint8_t /*mask*/) const { return {}; }

 protected:
  Socket& socket() { return socket_; }
  const Socket& socket() const { return socket_; }

 private:
  Socket& socket_;
};

/// Sees edges on an input and ignores floating and unknown levels in between.
class EdgeSense {
 public:
  enum class Edge : std::uint8_t { none, rise, fall };

  void archive(Archive& archive) { archive(high_); }

  /// The level without an edge, at power-on.
  void start(Level level) { high_ = level == Level::high; }
  Edge sense(Level level) {
    if (!is_sure(level)) return Edge::none;
    const bool high = level == Level::high;
    if (high == high_) return Edge::none;
    high_ = high;
    return high ? Edge::rise : Edge::fall;
  }
  bool high() const { return high_; }

 private:
  bool high_ = false;
};

}  // namespace prewire
