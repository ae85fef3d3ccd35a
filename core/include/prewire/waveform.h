// Nets and buses over time as a value change dump, which waveform viewers and other simulators read.
#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "prewire/bus.h"
#include "prewire/watch.h"

namespace prewire {

class Machine;

/// Writes a four-state VCD file (IEEE Std 1364-2001, clause 18). docs/watching.md says which signals there are, how
/// they are named, what x and z stand for, and how what happens within one moment is told.
class Waveform final : public Observer {
 public:
  using Write = std::function<void(std::string_view)>;

  /// `chosen` names nets, pins, pins with numbers left out ("PIA.PA"), chips and events ("ADC.conversion-done"); empty:
  /// every net but the rails, and every event. Throws `InputError` for a name that is none of these. The machine must
  /// outlive it. `write` gets the header at once.
  Waveform(const Machine& machine, const std::vector<std::string>& chosen, Write write);

  unsigned wants() const override { return kNets | (bus_.empty() ? 0U : kCycles) | (events_.empty() ? 0U : kEvents); }
  void on_net(std::string_view net, const NetState& state, Stamp when) override;
  void on_event(std::string_view chip, std::string_view event, std::int64_t value, Stamp when) override;
  void on_cycle(const BusCycle& cycle) override;

  /// Writes what is left, and the moment at which the machine is.
  void finish();

  /// What a file begins with.
  static constexpr std::string_view kMark = "$comment Prewire waveform $end\n";

 private:
  friend class WaveformSignals;

  /// A variable of the dump.
  struct Signal {
    std::string scope, name;
    int high = 0, low = 0;  ///< numbers of its bits, if it has many
    bool real = false, event = false;
    std::string bits;     ///< now, the highest first: 0, 1, x or z
    std::string written;  ///< as it was last written
    std::int32_t microvolts = 0, written_microvolts = 0;
    bool changed = false;
  };
  /// What of the processor's bus a signal shows.
  enum class BusPart : std::uint8_t { address, data, rw, vma, ba, bs };
  struct Place {
    std::size_t signal;
    std::size_t bit;
  };
  struct Change {
    Stamp when;
    std::size_t signal;
    std::size_t bit;
    std::string bits;
    std::int32_t microvolts;
  };

  void write_header();
  void write_until(Stamp end);
  void write_signal(std::size_t signal, std::string& text);
  void write_moment(Stamp when, std::int64_t glints, std::string& text);
  void write_changed(Stamp when, std::int64_t glints, std::string& text);
  bool differs(const Change& change) const;
  bool waits(const Change& change) const;
  void apply(const Change& change);
  std::string code(std::size_t signal) const;

  const Machine& machine_;
  const Write write_;
  std::vector<Signal> signals_;
  std::map<std::string, std::vector<Place>, std::less<>> nets_;
  std::map<std::string, std::size_t, std::less<>> events_;  // by "ADC.conversion-done"
  std::vector<std::pair<BusPart, std::size_t>> bus_;
  std::vector<Change> changes_;       // not written yet
  std::vector<std::size_t> changed_;  // signals that differ from what is written
  std::int64_t step_ = 1;             // units in a quarter cycle; 0: picoseconds, rounded
  std::int64_t glint_ = 1;            // units between two states in one moment
  std::int64_t most_glints_ = 0;      // so many fit before the next quarter
  Stamp written_until_ = -1;
};

}  // namespace prewire
