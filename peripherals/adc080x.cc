// ADC0801 to ADC0805: 8-bit successive-approximation converters for a microprocessor bus. National ADC0801-05 data
// sheet; Philips ADC0803/0804 data sheet for the clocks of a conversion.
#include <fmt/format.h>

#include <algorithm>
#include <bit>

#include "chips.h"
#include "input_watch.h"
#include "pins.h"
#include "report.h"

namespace prewire::chips {

namespace {

__extension__ using Wide = __int128;

// In the order of the package.
enum Pin { kCs, kRd, kWr, kClkIn, kIntr, kVinPlus, kVinMinus, kAgnd, kVrefHalf, kDgnd, kDb7, kDb0 = 17, kClkR, kVcc };
enum Tag : unsigned { kDone, kSetOver };

constexpr int kBits = 8;
constexpr std::int64_t kClocksPerBit = 8;
// Philips data sheet: 1 to 8 clocks until the internal phase is right, 64 for the bits, and one to hand over.
constexpr std::int64_t kTransfer = kBits * kClocksPerBit + 1;
constexpr std::int64_t kSetClocks = 8;

// National data sheet: clock frequency, and how far beyond the supplies an input may go.
constexpr std::int64_t kSlowest = 100'000'000, kFastest = 1'460'000'000;
constexpr std::int64_t kBeyond = 50'000;

// Results lost, or conversions cut short, before somebody is told: one or two belong to setting up.
constexpr std::int64_t kLost = 3;
constexpr std::int64_t kIdle = 16;

constexpr Picoseconds kBounce = 20'000'000'000;  // common practice: contacts are at rest after 5 to 20 ms

constexpr std::int64_t kOhmsMost = 10'000'000;
constexpr std::int64_t kFaradsMost = 1'000'000'000;
constexpr std::int64_t kVoltsMost = INT32_MAX;  // microvolts of a net

/// 1/(1.1 R C), rounded to a millihertz.
constexpr std::int64_t rc_frequency(std::int64_t ohms, std::int64_t femtofarads) {
  const Wide rc = static_cast<Wide>(11) * ohms * femtofarads;
  return static_cast<std::int64_t>((static_cast<Wide>(10) * 1'000'000'000'000'000'000 + rc / 2) / rc);
}

class Adc080x final : public Chip {
 public:
  Adc080x(Socket& socket, const Parameters& parameters)
      : Chip(socket),
        clock_(parameters["clock"]),
        clock_r_(parameters["clock_r"]),
        clock_c_(parameters["clock_c"]),
        start_clocks_(parameters["start_clocks"]),
        vcc_(parameters["vcc"]),
        vref_half_(parameters["vref_half"]),
        error_(parameters["error"]) {}

  void power_on() override {
    state_ = {};
    state_.latch = static_cast<std::uint8_t>(socket().seed());
    drive_intr(false);
    socket().drive(kClkR, drive_high());
    if (own_clock()) socket().offer_beat(kClkR, {rc_frequency(clock_r_, clock_c_), 0});
  }

  void start() override {
    find_clock();
    clock_edges_.start(socket().level(kClkIn));
    on_bus_ = socket().on_bus();
    measure();
    if (on_bus_) return;
    for (const int pin : {kCs, kRd, kWr}) {
      watch_input(socket(), pin, socket().level(pin));
      strobe(pin);
    }
    state_.writing = low(kCs) && low(kWr);
    state_.reading = low(kCs) && low(kRd);
    if (state_.reading) drive_data();
  }

  // On the bus the strobes come from gates that decode the address: RD and WR are low while E is high, and rise here.
  std::uint8_t read(unsigned) override {
    check_read();
    state_.unread = 0;
    socket().event("read", state_.latch);
    if (state_.set_active) {
      socket().event("interrupt-kept");
    } else {
      drive_intr(false);
    }
    return state_.latch;
  }

  void write(unsigned, std::uint8_t) override {
    begin_write();
    begin_conversion();
  }

  std::uint8_t peek(unsigned) const override { return state_.latch; }

  /// INTR. National data sheet, "Functional description": it falls at the end of a conversion, which begins as WR rises
  /// while CS is low, and rises as the result is read.
  Blocked why_not(int pin) const override {
    if (pin != kIntr) return {};
    Blocked blocked;
    blocked.armed = state_.converting || state_.converted || !on_bus_;
    const std::string& name = socket().name();
    if (socket().level(kIntr) == Level::low) {
      blocked.why = fmt::format("{}.INTR is low already: the result has not been read, so it cannot fall again", name);
      if (!on_bus_) blocked.waits_for = {kRd, kCs};
    } else if (state_.converting) {
      if (!beat_ && !counting()) blocked.why = fmt::format("{} has no clock, so the conversion does not end", name);
    } else if (!on_bus_ && low(kCs) && low(kWr)) {
      blocked.why = fmt::format("{0}.CS and {0}.WR are low, which holds {0} in reset", name);
      blocked.waits_for = {kWr, kCs};
    } else {
      blocked.why = fmt::format("no conversion of {} {}", name,
                                state_.converted ? "has been started since the last one" : "was ever started");
      if (on_bus_) return blocked;
      if (!low(kCs)) {
        blocked.why += fmt::format(": {}.CS is high", name);
        blocked.waits_for = {kCs};
      } else {
        blocked.why += fmt::format(": {}.WR has not been low", name);
        blocked.waits_for = {kWr};
      }
    }
    return blocked;
  }

  void on_edge(int pin, Level level, Stamp when) override {
    switch (pin) {
      case kVinPlus:
      case kVinMinus:
      case kVrefHalf:
        approximate(when);
        measure();
        break;
      case kClkIn:
        if (clock_edges_.sense(level) == EdgeSense::Edge::rise && counting()) count(when);
        break;
      default:
        if (on_bus_) break;
        watch_input(socket(), pin, level);
        strobe(pin);
        follow_strobes();
    }
  }

  void on_timer(unsigned tag, Stamp when) override {
    const int pin = watched_pin(socket(), tag);
    if (pin >= 0) report_unsure(socket(), pin, !low(pin));
    if (tag == kDone) finish(when);
    if (tag == kSetOver) end_set();
  }

  void archive(Archive& archive) override {
    State& s = state_;
    for (std::int64_t* number : {&s.begun.when, &s.begun.clocks, &s.finished.when, &s.finished.clocks}) {
      archive.number(*number);
    }
    archive.within(s.clocks, 0, Archive::kFar);
    archive.within(s.delay, 0, 8);
    archive.within(s.bits, 0, kBits);
    for (std::int64_t* microvolts : {&s.plus, &s.minus, &s.half}) archive.within(*microvolts, -kVoltsMost, kVoltsMost);
    archive.number(s.aborted);
    archive.within(s.idle_reads, 0, kIdle);
    for (std::int64_t* number : {&s.unread, &s.aborts, &s.below}) archive.within(*number, 0, Archive::kFar);
    for (std::uint8_t* byte : {&s.code, &s.latch, &s.low}) archive(*byte);
    for (std::uint8_t* flag : {&s.writing, &s.reading, &s.converting, &s.converted, &s.set_active}) {
      archive.within(*flag, 0, 1);
    }
    archive(clock_edges_);
  }

 private:
  // -- the clock

  bool own_clock() const { return clock_r_ > 0 && clock_c_ > 0; }

  void find_clock() {
    beat_.reset();
    if (clock_ > 0) {
      beat_ = Beat{clock_, 0};
    } else if (socket().wired(kClkIn)) {
      beat_ = socket().beat(kClkIn);
    } else if (own_clock()) {
      beat_ = Beat{rc_frequency(clock_r_, clock_c_), 0};
    }
    if (!beat_ || (beat_->millihertz >= kSlowest && beat_->millihertz <= kFastest)) return;
    tell("converter-clock", Weight::warn, 0, [&] {
      return std::pair(fmt::format("{} is clocked at {}, and its data sheet wants 100 kHz to 1460 kHz", socket().name(),
                                   format_quantity(beat_->millihertz, Unit::millihertz)),
                       "change clock_r and clock_c, or what drives CLK_IN; 10 kOhm and 150 pF give 606 kHz");
    });
  }

  /// Whether the clock comes edge by edge, from something without a frequency.
  bool counting() const { return !beat_ && socket().wired(kClkIn); }

  /// A moment that clocks are counted from.
  struct Mark {
    Stamp when;
    std::int64_t clocks;  ///< counted by then, where edges are counted
  };

  Mark mark() const { return {socket().now(), state_.clocks}; }

  /// When so many clocks are over, with a clock that has a frequency.
  Stamp after(const Mark& mark, std::int64_t clocks) const {
    const std::int64_t quarters = 4 * socket().timebase().millihertz();  // no more than 4e10, and some hundred clocks
    const Stamp stamps = (clocks * quarters + beat_->millihertz / 2) / beat_->millihertz;
    return mark.when + std::max<Stamp>(stamps, 1);
  }

  bool over(const Mark& mark, std::int64_t clocks, Stamp when) const {
    return beat_ ? after(mark, clocks) <= when : state_.clocks - mark.clocks >= clocks;
  }

  /// Where a counter of the clocks stands, modulo 8.
  std::int64_t phase() const {
    if (!beat_) return state_.clocks % 8;
    const Wide since = static_cast<Wide>(socket().now() - beat_->phase) * beat_->millihertz;
    return static_cast<std::int64_t>(since / (4 * static_cast<Wide>(socket().timebase().millihertz())) % 8);
  }

  void count(Stamp when) {
    ++state_.clocks;
    if (state_.converting && over(state_.begun, state_.delay + kTransfer, when)) {
      finish(when);
    } else if (state_.set_active && over(state_.finished, kSetClocks, when)) {
      end_set();
    }
  }

  // -- strobes on pins

  bool low(int pin) const { return (state_.low >> pin & 1) != 0; }

  /// Takes in the level of CS, RD or WR. One that nobody holds keeps its charge, and none was held from the start.
  void strobe(int pin) {
    const Level level = socket().level(pin);
    if (!is_sure(level)) return;
    const bool is_low = level == Level::low;
    state_.low = static_cast<std::uint8_t>((state_.low & ~(1U << pin)) | (is_low ? 1U << pin : 0));
  }

  void follow_strobes() {
    const bool writing = low(kCs) && low(kWr);
    if (writing != state_.writing) {
      state_.writing = writing;
      if (writing) {
        begin_write();
      } else {
        begin_conversion();
      }
    }
    const bool reading = low(kCs) && low(kRd);
    if (reading == state_.reading) return;
    if (reading) {
      begin_read();
    } else {
      end_read();
    }
  }

  void begin_read() {
    state_.reading = true;
    check_read();
    state_.unread = 0;
    socket().event("read", state_.latch);
    drive_data();
    if (!state_.set_active) drive_intr(false);
  }

  void end_read() {
    state_.reading = false;
    if (state_.set_active) socket().event("interrupt-kept");
    for (int pin = kDb7; pin <= kDb0; ++pin) socket().drive(pin, release());
  }

  void drive_data(unsigned bits = 0xFF) {
    for (; bits != 0; bits &= bits - 1) {
      const int bit = std::countr_zero(bits);
      socket().drive(kDb0 - bit, drive((state_.latch >> bit & 1) != 0));
    }
  }

  void drive_intr(bool asserted) { socket().drive(kIntr, drive(!asserted)); }

  void tell(std::string_view id, Weight weight, int subject, auto texts) {
    report(socket(), id, weight, subject, texts);
  }

  void check_read() {
    if (!state_.converted) {
      // A read before the first conversion puts INTR high: common practice to begin with.
      if (state_.idle_reads < kIdle) ++state_.idle_reads;
      if (socket().read_in_vain() && (state_.idle_reads < kIdle || state_.converting)) return;
      tell("converter-no-result", Weight::warn, 0, [&] {
        if (state_.idle_reads >= kIdle && !state_.converting) {
          return std::pair(
              fmt::format("{} is read again and again, and no conversion was ever started", socket().name()),
              on_bus_ ? std::string("a store to its address starts it, a load fetches the result")
                      : fmt::format("{} has to be low for a moment while {} is low, once even where INTR "
                                    "starts each next conversion",
                                    socket().pin_name(kWr), socket().pin_name(kCs)));
        }
        return std::pair(fmt::format("{} was read before its first conversion was over", socket().name()),
                         std::string("start a conversion and wait for INTR to go low before you read"));
      });
    } else if (state_.converting && !free_running()) {
      tell("converter-busy", Weight::hint, 0, [&] {
        return std::pair(
            fmt::format("{} was read during a conversion and gave the result of the one before", socket().name()),
            state_.unread > 0 ? "that one had not been read before the new one was started: read first, then start"
                              : "wait for INTR to go low: a conversion takes 66 to 73 clocks");
      });
    }
  }

  /// The conversion was started by the end of the one before.
  bool free_running() const { return state_.converted && state_.begun.when == state_.finished.when; }

  // -- the conversion

  /// CS and WR are low: the converter is held in reset.
  void begin_write() {
    if (state_.converting) note_abort();
    // Where INTR is wired to WR, the end of a conversion starts the next one.
    if (state_.set_active && socket().now() != state_.finished.when) report_early();
    state_.converting = 0;
    state_.set_active = 0;
    socket().cancel(kDone);
    drive_intr(false);
  }

  /// The first of CS and WR has risen.
  void begin_conversion() {
    state_.converting = 1;
    state_.begun = mark();
    state_.code = 0;
    state_.bits = kBits;
    state_.delay = start_clocks_ > 0 ? start_clocks_ : 8 - phase();
    if (beat_) socket().timer(kDone, after(state_.begun, state_.delay + kTransfer));
    socket().event("conversion-started", state_.delay + kTransfer);
    check_surroundings();
  }

  /// Decides the bits whose moment has passed, from the input as it was then: there is no sample-and-hold.
  void approximate(Stamp when) {
    while (state_.converting && state_.bits > 0 &&
           over(state_.begun, state_.delay + kClocksPerBit * (kBits + 1 - state_.bits), when)) {
      decide();
    }
  }

  void decide() {
    const auto trial = static_cast<std::uint8_t>(state_.code | 1U << --state_.bits);
    // The step to code n lies half a step below n; all in 1/512000 of the span, which is 256 steps of 2000.
    const std::int64_t step = 2'000 * trial - 1'000 - 2 * error_;
    if ((state_.plus - state_.minus) * 512'000 >= step * 2 * state_.half) state_.code = trial;
  }

  void finish(Stamp when) {
    while (state_.bits > 0) decide();
    state_.aborts = 0;
    check_sign();
    state_.unread = state_.reading ? 0 : state_.unread + 1;
    if (state_.unread > kLost && !free_running()) report_unread();
    state_.converting = 0;
    state_.converted = 1;
    const auto changed = static_cast<unsigned>(state_.latch ^ state_.code);
    state_.latch = state_.code;
    state_.finished = mark();
    state_.set_active = 1;
    socket().event("conversion-done", state_.latch);
    if (state_.reading) drive_data(changed);
    drive_intr(true);  // of what changes in this moment the last: it tells that the rest is there
    if (beat_) socket().timer(kSetOver, std::max(when, after(state_.finished, kSetClocks)));
  }

  /// For eight clocks the end of the conversion outweighs RD.
  void end_set() {
    state_.set_active = 0;
    if (state_.reading) drive_intr(false);
  }

  void note_abort() {
    socket().event("conversion-aborted");
    // A bouncing contact starts it several times, and then it goes on.
    if (++state_.aborts == 1) state_.aborted = socket().now();
    if (state_.aborts < kLost || socket().now() - state_.aborted < socket().timebase().stamps(kBounce)) return;
    tell("converter-restarted", Weight::warn, 0, [&] {
      return std::pair(
          fmt::format("{} has been started anew {} times in the middle of a conversion: it never gets to an end",
                      socket().name(), state_.aborts),
          "start it once, then wait for INTR to go low: a conversion takes 66 to 73 clocks");
    });
  }

  void report_early() {
    tell("converter-restart-early", Weight::hint, 0, [&] {
      return std::pair(fmt::format("{} was started again within 8 clocks of the end of a conversion: its INTR is still "
                                   "being set then, and nobody has read the result",
                                   socket().name()),
                       "read the result first, and start the next conversion then");
    });
  }

  /// A difference below zero reads as zero.
  void check_sign() {
    if (state_.plus >= state_.minus - kBeyond || state_.code != 0) return void(state_.below = 0);
    if (++state_.below != kLost) return;
    tell("converter-negative", Weight::warn, 0, [&] {
      return std::pair(
          fmt::format("{} at {} is below {} at {}, and has been for {} conversions: the result is 0",
                      socket().pin_name(kVinPlus), format_quantity(state_.plus, Unit::microvolts),
                      socket().pin_name(kVinMinus), format_quantity(state_.minus, Unit::microvolts), kLost),
          "wire VIN- to GND if there is one voltage only, or exchange the two inputs");
    });
  }

  void report_unread() {
    tell("converter-unread", Weight::hint, 0, [&] {
      return std::pair(
          fmt::format("the last {} results of {} were lost: the next conversion was over before anybody read", kLost,
                      socket().name()),
          "read the result after each conversion, and start the next one then");
    });
  }

  // -- the analog inputs

  /// Keeps the voltages for the bits to come. An input that floats keeps its last one.
  void measure() {
    const auto take = [&](int pin, std::int64_t& microvolts) {
      const NetState& net = socket().look(pin);
      if (net.strength == Strength::none) return;
      microvolts = net.microvolts;
      if (microvolts < -kBeyond || microvolts > vcc_ + kBeyond) report_range(pin, microvolts);
    };
    take(kVinPlus, state_.plus);
    take(kVinMinus, state_.minus);
    // Left alone, VREF/2 is held at half the supply by a divider inside.
    state_.half = socket().wired(kVrefHalf) || vref_half_ == 0 ? vcc_ / 2 : vref_half_;
    take(kVrefHalf, state_.half);
  }

  void report_range(int pin, std::int64_t microvolts) {
    tell("converter-input-range", Weight::warn, pin, [&] {
      return std::pair(
          fmt::format("{} is at {}, beyond what its clamp diodes allow: -0.05 V to {}", socket().pin_name(pin),
                      format_quantity(microvolts, Unit::microvolts), format_quantity(vcc_ + kBeyond, Unit::microvolts)),
          "keep the input between AGND and VCC; put 1 to 10 kOhm in series with a source that may go beyond");
    });
  }

  // -- what is wrong when a conversion starts

  void check_surroundings() {
    for (const int pin : {kVinPlus, kVinMinus}) {
      if (socket().look(pin).strength != Strength::none) continue;
      tell("floating-input", Weight::warn, pin, [&] {
        return std::pair(fmt::format("{} floats while a conversion starts", socket().pin_name(pin)),
                         "wire it to the voltage to be measured; VIN- goes to GND if there is no other");
      });
    }
    const bool still = counting() && state_.clocks == 0 && socket().look(kClkIn).strength != Strength::driven;
    if (!beat_ && (!counting() || still)) {
      tell("converter-no-clock", Weight::warn, 0, [&] {
        return std::pair(fmt::format("{} has no clock: the conversion will never end", socket().name()),
                         "give it clock_r and clock_c, such as 10 kOhm and 150 pF, and leave CLK_R and CLK_IN unwired; "
                         "or wire CLK_IN to a clock");
      });
    }
    if (2 * state_.half > vcc_ + vcc_ / 2) {
      tell("converter-span", Weight::hint, 0, [&] {
        return std::pair(fmt::format("{} has {} at VREF/2 and so a span of {}, which its inputs cannot use up",
                                     socket().name(), format_quantity(state_.half, Unit::microvolts),
                                     format_quantity(2 * state_.half, Unit::microvolts)),
                         "VREF/2 takes half of the span: 2.56 V for 20 mV steps");
      });
    }
  }

  const std::int64_t clock_, clock_r_, clock_c_, start_clocks_, vcc_, vref_half_, error_;

  // Follow from the wiring.
  std::optional<Beat> beat_;
  bool on_bus_ = false;

  struct State {
    Mark begun{}, finished{};
    Stamp aborted = 0;                           // the first start in vain of a row
    std::int64_t clocks = 0;                     // rising edges of CLK_IN, where they are counted
    std::int64_t delay = 0;                      // clocks before the first bit's
    std::int64_t bits = 0;                       // to be decided
    std::int64_t plus = 0, minus = 0, half = 0;  // microvolts at the analog inputs
    std::int64_t unread = 0, aborts = 0;         // results, and starts in vain, in a row
    std::int64_t idle_reads = 0;                 // before the first result
    std::int64_t below = 0;                      // conversions of a difference below zero in a row
    std::uint8_t code = 0;                       // the approximation
    std::uint8_t latch = 0;
    std::uint8_t low = 0;                   // a bit for each of CS, RD and WR
    std::uint8_t writing = 0, reading = 0;  // CS and WR, CS and RD are low
    std::uint8_t converting = 0;
    std::uint8_t converted = 0;   // the latch holds a result
    std::uint8_t set_active = 0;  // the end of a conversion still holds INTR low
  } state_;
  EdgeSense clock_edges_;
};

// National data sheet, DC electrical characteristics; INTR has a lower limit of its own.
constexpr PinLimits kData{.sink = 1'600, .sink_at = 400'000, .source = 360, .source_at = 2'400'000, .high = 3};
constexpr PinLimits kReady{.sink = 1'000, .sink_at = 400'000, .source = 360, .source_at = 2'400'000};

ChipType make_type(std::string name, std::string title, const std::string& error, std::int64_t most_error) {
  constexpr std::string_view kNoStart = "no conversion starts: one does when WR rises";
  const auto strobe = [](std::string_view pin, BusRole role, std::string_view held_low, std::string_view held_high) {
    return PinSpec{.name = pin,
                   .kind = PinKind::input,
                   .implied = Implied::bus,
                   .listens = true,
                   .held_low = held_low,
                   .held_high = held_high,
                   .role = role};
  };
  const auto analog = [](std::string_view pin, bool optional) {
    return PinSpec{.name = pin, .kind = PinKind::analog_in, .listens = true, .optional = optional};
  };
  ChipType type;
  type.name = std::move(name);
  type.title = std::move(title);
  type.summary = "Measures the voltage between VIN+ and VIN- in 256 steps, in 66 to 73 periods of its clock. " + error;
  type.pins = {strobe("CS", BusRole::select_low, "", "it is never selected, so it neither converts nor answers"),
               strobe("RD", BusRole::read_low, "", "no result comes out: DB0 to DB7 stay off"),
               strobe("WR", BusRole::write_low, kNoStart, kNoStart),
               {.name = "CLK_IN", .kind = PinKind::input, .listens = true, .optional = true, .takes_beat = true},
               {.name = "INTR", .kind = PinKind::output, .limits = &kReady, .ended_by = 0},
               analog("VIN+", false),
               analog("VIN-", false),
               {.name = "AGND", .kind = PinKind::supply},
               analog("VREF/2", true),
               {.name = "DGND", .kind = PinKind::supply}};
  for (const std::string_view pin : {"DB7", "DB6", "DB5", "DB4", "DB3", "DB2", "DB1", "DB0"}) {
    type.pins.push_back({.name = pin,
                         .kind = PinKind::three_state,
                         .implied = Implied::bus,
                         .limits = &kData,
                         .role = BusRole::data,
                         .bit = static_cast<std::uint8_t>(pin[2] - '0')});
  }
  type.pins.push_back({.name = "CLK_R", .kind = PinKind::output});
  type.pins.push_back({.name = "VCC", .kind = PinKind::supply, .microvolts = kLogicHigh});
  number_in_order(type.pins);

  type.parameters = {{.name = "clock_r",
                      .unit = Unit::ohms,
                      .minimum = 0,
                      .maximum = kOhmsMost,
                      .help = "resistor from CLK_R to CLK_IN, which stay unwired; 0: none"},
                     {.name = "clock_c",
                      .unit = Unit::femtofarads,
                      .minimum = 0,
                      .maximum = kFaradsMost,
                      .help = "capacitor from CLK_IN to ground; 0: none"},
                     {.name = "clock",
                      .unit = Unit::millihertz,
                      .minimum = 0,
                      .maximum = 10'000'000'000,
                      .help = "clock frequency as measured, whatever the circuit should give; 0: by the circuit"},
                     {.name = "start_clocks",
                      .minimum = 0,
                      .maximum = 8,
                      .help = "clocks from the start to the first bit's; 0: 1 to 8, by the phase of the clock"},
                     {.name = "vcc",
                      .unit = Unit::microvolts,
                      .fallback = 5'000'000,
                      .minimum = 4'500'000,
                      .maximum = 6'300'000,
                      .help = "supply voltage"},
                     {.name = "vref_half",
                      .unit = Unit::microvolts,
                      .minimum = 0,
                      .maximum = 3'150'000,
                      .help = "voltage at VREF/2 where the pin is not wired, half of the span; 0: VCC/2"},
                     {.name = "error",
                      .unit = Unit::millilsb,
                      .minimum = -most_error,
                      .maximum = most_error,
                      .help = "total unadjusted error of this part; above 0 its steps come early"}};
  type.bus = BusSpec{.required = false};
  type.state_version = 3;
  type.events = {"conversion-started", "conversion-done", "conversion-aborted", "read", "interrupt-kept"};
  type.make = [](Socket& socket, const Parameters& parameters) {
    return std::make_unique<Adc080x>(socket, parameters);
  };
  return type;
}

}  // namespace

std::vector<ChipType> adc080x() {
  const auto part = [](std::string_view number, std::string_view error, std::int64_t most_error) {
    return make_type(fmt::format("adc{}", number), fmt::format("ADC{} 8-bit A/D converter", number),
                     fmt::format("Total error up to {} LSB.", error), most_error);
  };
  return {part("0801", "1/4", 250), part("0802", "1/2", 500), part("0803", "1/2", 500), part("0804", "1", 1'000),
          part("0805", "1", 1'000)};
}

}  // namespace prewire::chips
