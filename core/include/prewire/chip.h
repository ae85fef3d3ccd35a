// How a chip is described and written: pins, parameters, bus registers, behaviour. One chip is one source file.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <type_traits>
#include <utility>
#include <vector>

#include "prewire/clock.h"
#include "prewire/error.h"
#include "prewire/rule.h"
#include "prewire/wire.h"

namespace prewire {

struct SocketWiring;  // the machine behind a socket; private

// ---------------------------------------------------------------------------------------------------------------------
// Description

/// What a pin can do electrically; the static check and the handout work from this.
enum class PinKind : std::uint8_t {
  input,        ///< needs a driver or a pull-up
  output,       ///< totem-pole: always drives
  three_state,  ///< drives or lets go; also input/output pins
  open_drain,   ///< sinks or lets go; needs a pull-up
  passive,      ///< end of a resistor, contact, LED or source
  analog_in,    ///< reads volts; loads the net with nothing
  supply,       ///< VCC, GND and the like; connected without being wired
  none,         ///< not connected inside
};

std::string_view to_string(PinKind kind);

/// What a pin is joined to when the machine file does not wire it.
enum class Implied : std::uint8_t {
  nothing,     ///< an unwired input is a fault
  bus,         ///< the system bus, by the chip's `at`; such a pin cannot be wired while the chip has one
  reset_line,  ///< the machine's RESET line, for chips placed by `at`
};

struct PinSpec {
  std::string_view name;  ///< as in the data sheet, active-low pins without a bar: "CS"
  PinKind kind = PinKind::passive;
  std::uint8_t number = 0;  ///< package pin, 0 where the part has no package
  Implied implied = Implied::nothing;
  bool listens = false;         ///< what happens at the pin matters to the chip, which wants `on_edge` for it
  bool silent = false;          ///< of a listening pin: no `on_edge`; the chip looks at the level when it needs it
  bool latched = false;         ///< of a listening pin: data for a latch, see `Socket::shut_latch`
  bool optional = false;        ///< an input that may stay unwired: it has an internal pull-up or default
  std::int32_t microvolts = 0;  ///< `supply` only: its nominal voltage
  bool takes_beat = false;      ///< a listening input that needs no edges where a beat is offered
};

/// Units of parameters and inputs. Values are kept as integers in the unit named here.
enum class Unit : std::uint8_t {
  count,        ///< plain number
  millihertz,   ///< written "640 kHz"
  microvolts,   ///< written "2.56 V"
  ohms,         ///< written "10 kOhm"
  femtofarads,  ///< written "150 pF"
  picoseconds,  ///< written "3 ms"
  millilsb,     ///< thousandths of a converter's step, written "0.5 LSB"
  millionths,   ///< a fraction, written 0.25 or "25 %"
  choice,       ///< one of a list of words; the value is its index
  flag,         ///< true or false
};

/// "640 kHz" to 640'000'000 and so on. Empty where `text` is no quantity of that unit, or does not fit.
/// For `count` and `millionths` a bare number is a quantity too.
std::optional<std::int64_t> parse_quantity(std::string_view text, Unit unit);
/// The inverse, with the largest prefix that keeps the number whole or short: "640 kHz".
std::string format_quantity(std::int64_t value, Unit unit);
/// What a person should write: "a frequency such as \"640 kHz\"".
std::string_view quantity_example(Unit unit);

/// "$8000" or "0x8000", one to four digits. Empty where `text` is no address.
std::optional<std::uint16_t> parse_address(std::string_view text);

struct ParameterSpec {
  std::string_view name;
  Unit unit = Unit::count;
  std::int64_t fallback = 0;  ///< used when the machine file does not give it
  std::int64_t minimum = 0;
  std::int64_t maximum = 0;
  std::string_view help;                    ///< one line
  std::vector<std::string_view> choices{};  ///< `Unit::choice` only
  bool required = false;
};

/// The values of one chip's parameters, complete and in range.
class Parameters {
 public:
  void set(std::string_view name, std::int64_t value, bool given);
  /// The name must be one of the chip's parameters.
  std::int64_t operator[](std::string_view name) const;
  /// Whether the machine file gave it.
  bool given(std::string_view name) const;

 private:
  struct Entry {
    std::string name;
    std::int64_t value;
    bool given;
  };
  std::vector<Entry> entries_;
};

/// How a chip sits on the system bus.
struct BusSpec {
  enum class Kind : std::uint8_t { registers, ram, rom };
  Kind kind = Kind::registers;
  std::uint32_t size = 1;         ///< addresses that the chip tells apart: a power of two
  std::uint8_t data_mask = 0xFF;  ///< data lines it is wired to
  bool reads = true;
  bool writes = true;
  bool required = true;  ///< the chip makes no sense without `at`
  /// Names in the data sheet, by register; those that share an address with a blank between them. May be empty.
  std::vector<std::string_view> registers{};
};

/// A two-pin connection inside the part whose resistance can change: a resistor, a contact, half a potentiometer.
struct LinkSpec {
  int pin_a = 0;  ///< index into `pins`
  int pin_b = 0;
};

/// What a person sees of a part; decides how front ends show it.
enum class Looks : std::uint8_t { none, led, digit, contact, knob };

/// Forward voltages of LEDs at some 10 mA, in microvolts: red, yellow, green, blue, white (common practice).
inline constexpr std::array<std::int32_t, 5> kLedForward = {1'800'000, 2'000'000, 2'100'000, 3'000'000, 3'000'000};

class Chip;
class Socket;

/// Everything that is known of a kind of chip before one is made.
struct ChipType {
  std::string name;     ///< in machine files: a part number or trade word in lower case, such as "mc6821"
  std::string title;    ///< "MC6821 peripheral interface adapter"
  std::string summary;  ///< one or two sentences
  std::vector<PinSpec> pins;
  std::vector<ParameterSpec> parameters;
  std::optional<BusSpec> bus;
  std::vector<LinkSpec> links;
  Looks looks = Looks::none;
  std::string input;  ///< what `--set NAME=…` takes, as in "a position such as 25 %"; empty: takes none
  std::vector<std::string_view> events;  ///< names that the chip passes to `Socket::event`
  /// Adapts `bus` to the parameters (a RAM wired to half the data lines). May be empty.
  std::function<void(const Parameters&, BusSpec&)> adapt;
  std::function<std::unique_ptr<Chip>(Socket&, const Parameters&)> make;

  /// Index of a pin, or -1.
  int pin(std::string_view pin_name) const;
  bool has_parameter(std::string_view parameter_name) const;
};

/// The kinds of chip that a machine file may name.
class Registry {
 public:
  /// A name that is taken already is a broken contract.
  void add(ChipType type);
  const ChipType* find(std::string_view name) const;
  /// In the order in which they were added.
  const std::vector<std::shared_ptr<const ChipType>>& types() const { return types_; }

  /// Rules by which chips find fault: a row for each id that one of them passes to `Socket::finding`. Their texts must
  /// live on.
  void add_rules(std::span<const Rule> more) { rules_.insert(rules_.end(), more.begin(), more.end()); }
  const std::vector<Rule>& rules() const { return rules_; }

 private:
  std::vector<std::shared_ptr<const ChipType>> types_;  // shared with the machines that were built from them
  std::vector<Rule> rules_;
};

// ---------------------------------------------------------------------------------------------------------------------
// Behaviour

/// Reads or writes the state of a chip, in the order of the calls.
class Archive {
 public:
  /// Saves into `out`, from its beginning; it has its size when the archive goes.
  explicit Archive(std::vector<std::uint8_t>& out) : out_(&out), to_(out.data()), room_(out.size()) {}
  explicit Archive(std::span<const std::uint8_t> in) : from_(in.data()), room_(in.size()) {}
  ~Archive() {
    if (out_ != nullptr) out_->resize(out_->size() - room_);
  }
  Archive(const Archive&) = delete;
  Archive& operator=(const Archive&) = delete;

  bool loading() const { return out_ == nullptr; }

  /// Types with padding are refused: their bytes would not be the same from run to run.
  template <class T>
  requires std::has_unique_object_representations_v<T>
  void operator()(T& value) { bytes(&value, sizeof value); }

  /// Saves or loads `size` bytes. A load beyond the end is a broken contract.
  void bytes(void* data, std::size_t size) {
    if (size == 0) return;  // an empty vector's data may be null
    if (size > room_) [[unlikely]]
      make_room(size);
    if (loading()) {
      std::memcpy(data, from_, size);
      from_ += size;
    } else {
      std::memcpy(to_, data, size);
      to_ += size;
    }
    room_ -= size;
  }

 private:
  void make_room(std::size_t size);

  std::vector<std::uint8_t>* out_ = nullptr;
  std::uint8_t* to_ = nullptr;
  const std::uint8_t* from_ = nullptr;
  std::size_t room_ = 0;  // bytes behind it
};

/// A square wave that nobody has to follow edge by edge. Rising edges come at `phase` and every period after.
struct Beat {
  std::int64_t millihertz = 0;
  Stamp phase = 0;
};

/// Something that lights up, with the sum of its lit time. Viewers take differences of the sum, so a multiplexed digit
/// shows its true brightness.
class Lamp {
 public:
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

  /// Publishes a named event for traces and rules.
  void event(std::string_view name, std::int64_t value = 0);
  /// Reports a finding; `subject` tells occurrences of the same id apart, a pin index for example. The texts are only
  /// used the first time.
  void finding(std::string_view id, Weight weight, int subject, std::string_view message, std::string_view hint);
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

/// Behaviour of one chip. Constructed with every pin released; all state must go through `archive`.
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
  virtual void input(std::int64_t /*value*/) {}

  /// Lamps in the order of the part's light-emitting pins: a to g and dp for a digit.
  virtual std::span<const Lamp> lamps() const { return {}; }
  /// What a person reads on the part while the lamps in `lit` (bit i: lamp i) are on: "7", "4." or " ".
  virtual std::string reads(unsigned /*lit*/) const { return {}; }

  /// Saves or loads all state, in one order.
  virtual void archive(Archive& /*archive*/) {}

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
