// What a chip may touch.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "prewire/clock.h"
#include "prewire/error.h"
#include "prewire/wire.h"

namespace prewire {

struct SocketWiring;  // the machine behind a socket; private

/// A square wave that nobody has to follow edge by edge. Rising edges come at `phase` and every period after.
struct Beat {
  std::int64_t millihertz = 0;
  Stamp phase = 0;
};

/// The chip's end of everything it may touch: its own pins, its timers, the clock. Pins are named by their index in
/// `ChipType::pins`.
class Socket {
 public:
  /// Made by the machine, whose clock that is.
  Socket(SocketWiring& wiring, const ClockFace& clock) : wiring_(wiring), clock_(clock) {}
  Socket(const Socket&) = delete;
  Socket& operator=(const Socket&) = delete;

  /// Changes what the pin does to its net. Takes effect when the board settles, in the order of the calls.
  void drive(int pin, const Drive& drive);
  /// The net at the pin as it was when it last settled. Not before `power_on`.
  const NetState& look(int pin) const { return *nets_[static_cast<std::size_t>(pin)]; }
  Level level(int pin) const { return look(pin).level; }
  /// The pin as a bit, with `otherwise` for a floating or unknown level.
  bool high(int pin, bool otherwise) const {
    const Level found = level(pin);
    return found == Level::high || (found != Level::low && otherwise);
  }
  /// While its latch is shut, the chip is not told of edges between low and high at the pins that are `latched`. Those
  /// to or from another level are always told.
  void shut_latch(bool shut);
  /// Whether anything else is on the pin's net.
  bool wired(int pin) const;
  /// Whether the pin's net is a supply rail, so that its level never changes.
  bool on_rail(int pin) const;
  /// Whether the chip is on the system bus, by `at` or by its wires: the machine then calls `read` and `write`, and
  /// what its bus pins look like means nothing.
  bool on_bus() const;
  /// What an input that nobody drives reads as, by the machine's keeper policy: the last sure level, one, or seeded.
  bool floating_bit(int pin) const;

  /// Sets the resistance of a link in ohms, 0 for a closed contact, `kOpen` for none.
  static constexpr std::int32_t kOpen = -1;
  void link(int index, std::int32_t ohms);

  /// Offers a beat on an output, instead of edges. Pins that listen still get edges if the chip drives them.
  void offer_beat(int pin, Beat beat);
  /// The beat on the pin's net, if somebody offers one.
  std::optional<Beat> beat(int pin) const;
  /// Whether a pin other than this one wants the edges of its net, given the beats that are offered.
  bool heard(int pin) const;

  /// The moment: the stamp of the edge, timer or transfer that is being handled.
  Stamp now() const { return clock_.moment; }
  /// The bus cycle in progress.
  Cycle cycle() const { return clock_.now; }
  /// The same two as E counts them (see `ClockFace`), for chips whose own clock E is.
  Stamp e_now() const { return clock_.e_time(clock_.moment); }
  Cycle e_cycle() const { return clock_.e_cycle(); }
  const Timebase& timebase() const;
  /// The machine's seed, another one for each chip.
  std::uint64_t seed() const;
  /// Random bits that the seed and `number` alone decide, so that every run draws the same.
  std::uint64_t noise(std::uint64_t number) const;

  /// Calls `on_timer(tag, when)`. One timer per tag: a second call moves it. Timers of one moment run in the order in
  /// which they were set. `when` must not lie before `now()`.
  void timer(unsigned tag, Stamp when);
  /// The same in E time: for an edge of E that is yet to come, such as `e_fall(e_cycle() + 1)`. `e_now()` is then that.
  void e_timer(unsigned tag, Stamp e_when);
  void cancel(unsigned tag);

  /// In `read`, where reading the register again would have no effect and give the same byte until `drop_readings`: a
  /// program that polls it need not ask the chip each time.
  void hold_reading();
  /// What was held holds no longer. Call it before a held byte could be read wrongly.
  void drop_readings();
  /// How many pins the chip has.
  std::size_t pins() const { return nets_.size(); }

  /// In `read`: whether the program throws the byte away, since it is overwritten before anything looks at it. A guess
  /// from the instructions that follow, for findings about what is read: a read may be meant for its effects alone.
  bool read_in_vain() const;

  /// Through how many ohms the pin's net gets its voltage, or keeps it against a current: 0 if something stiff holds
  /// it.
  std::int32_t ohms(int pin) const;

  /// Of an input that nobody drives: an output on its net that could, and why it does not; empty if there is none.
  std::string could_drive(int pin) const;

  /// Whether the processor is held in reset: ports are inputs then, what hangs on them floats, and no program could
  /// help it.
  bool in_reset() const;

  /// Publishes a named event for traces and rules.
  void event(std::string_view name, std::int64_t value = 0);
  /// Reports a finding; `subject` tells occurrences of the same id apart, a pin index for example. The texts are only
  /// used the first time. `since`: the cycle in which it began, if only later ones made sure.
  void finding(std::string_view id, Weight weight, int subject, std::string_view message, std::string_view hint,
               Cycle since = -1);
  /// Whether such a finding was reported before; lets a chip skip making texts.
  bool found(std::string_view id, int subject) const;
  /// The chip's name in the machine file.
  const std::string& name() const;
  /// "PIA.CA2".
  std::string pin_name(int pin) const;

  /// By the machine, once the nets are known: that of each pin.
  void wire(std::vector<const NetState*> nets) { nets_ = std::move(nets); }

 private:
  SocketWiring& wiring_;
  const ClockFace& clock_;
  std::vector<const NetState*> nets_;
};

}  // namespace prewire
