// MC6821 peripheral interface adapter. Section names are those of the Motorola data sheet (DS9435), quoted from memory;
// docs/chips/mc6821.md says which details no source settles, and what was chosen.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <bit>

#include "chips.h"
#include "report.h"
#include "unsure_input.h"

namespace prewire::chips {

namespace {

enum Pin : int { kPA = 0, kPB = 8, kCA1 = 16, kCA2, kCB1, kCB2, kIRQA, kIRQB, kRESET };

// Bits of a control register. Those of C2 mean something else while it is an output.
constexpr std::uint8_t kC1Enable = 0x01;
constexpr std::uint8_t kC1Rise = 0x02;
constexpr std::uint8_t kPort = 0x04;  // RS1 selects the peripheral register, not the direction register
constexpr std::uint8_t kC2Enable = 0x08;
constexpr std::uint8_t kC2Rise = 0x10;
constexpr std::uint8_t kC2Output = 0x20;
constexpr std::uint8_t kC2Manual = 0x10;  // output: follow `kC2Level`; else strobe
constexpr std::uint8_t kC2Level = 0x08;
constexpr std::uint8_t kC2Pulse = 0x08;  // strobe: one cycle long; else until C1 answers
constexpr std::uint8_t kControl = 0x3F;
constexpr std::uint8_t kFlag2 = 0x40;
constexpr std::uint8_t kFlag1 = 0x80;

constexpr unsigned kSideA = 0, kSideB = 1;
constexpr std::string_view kSideNames = "AB";

enum Timer : unsigned { kCa2Rise, kCb2Fall, kCb2Rise };

// Electrical characteristics: PA0-PA7 and CA2 give 1.3 mA (typical) at 0.4 V as inputs, so 4.6 V lie across 3.5 kOhm.
constexpr std::int32_t kPullUpOhms = 3'500;
constexpr Drive kPullUp = pull(kLogicHigh, kPullUpOhms);

class Mc6821 final : public Chip {
 public:
  using Chip::Chip;

  void power_on() override {
    sides_ = {};
    selected_since_ = 0;
    selected_ = -2;
    resetting_ = false;
    for (unsigned side : {kSideA, kSideB}) {
      drive_port(side, 0xFF);
      drive_c2(side);
    }
  }

  void start() override {
    for (int pin = kCA1; pin <= kCB2; ++pin) start_line(line(pin), socket().level(pin));
    resetting_ = socket().level(kRESET) == Level::low;
  }

  std::uint8_t read(unsigned reg) override {
    select();
    const unsigned side = reg >> 1;
    if (!(reg & 1)) return read_data(side);
    // Programs that wait read a control register over and over.
    if (!minds_selection()) socket().hold_reading();
    return sides_[side].control | sides_[side].flags;
  }

  std::uint8_t read_data(unsigned side) {
    Side& at = sides_[side];
    if (!(at.control & kPort)) {
      note_direction_read(side);
      return at.direction;
    }
    const Found found = look_at_port(side);
    report_unsure_bits(side, found);
    if (at.flags != 0) clear_flags(side, kFlag1 | kFlag2);
    if (side == kSideA && strobes(at)) {
      begin_strobe(side);
      if (at.control & kC2Pulse) socket().e_timer(kCa2Rise, e_fall(selected_ + 1));
    }
    return static_cast<std::uint8_t>(found.value);
  }

  void write(unsigned reg, std::uint8_t value) override {
    select();
    if (resetting_) return;
    const unsigned side = reg >> 1;
    Side& at = sides_[side];
    at.direction_reads = 0;
    if (reg & 1) {
      // What was read is often written back, with the flags that were set.
      if (value & ~kControl & ~at.flags) report_data_for_control(side, value);
      write_control(side, value & kControl);
    } else if (at.control & kPort) {
      write_port(side, value);
    } else {
      write_direction(side, value);
    }
  }

  std::uint8_t peek(unsigned reg) const override {
    const Side& at = sides_[reg >> 1];
    if (reg & 1) return at.control | at.flags;
    return at.control & kPort ? static_cast<std::uint8_t>(look_at_port(reg >> 1).value) : at.direction;
  }

  void on_edge(int pin, Level level, Stamp /*when*/) override {
    if (pin == kRESET) {
      resetting_ = level == Level::low;
      if (resetting_) clear_registers();
    } else {
      on_control_line(pin, level, socket().e_now());
    }
  }

  void on_timer(unsigned tag, Stamp /*when*/) override {
    const Cycle cycle = socket().e_cycle();
    switch (tag) {
      case kCa2Rise:  // E falls; CA2 waits for a cycle without us
        if (selected_ == cycle) {
          socket().e_timer(kCa2Rise, e_fall(cycle + 1));
        } else {
          end_strobe(kSideA);
        }
        break;
      case kCb2Fall:  // E rises
        begin_strobe(kSideB);
        if (sides_[kSideB].control & kC2Pulse) socket().e_timer(kCb2Rise, e_rise(cycle + 1));
        break;
      case kCb2Rise:  // E rises; CB2 waits for a cycle without us to have passed
        if (selected_ == cycle - 1) {
          socket().e_timer(kCb2Rise, e_rise(cycle + 1));
        } else {
          end_strobe(kSideB);
        }
        break;
      default: break;
    }
  }

  /// IRQA and IRQB. DS9435, "Interrupt request lines".
  Blocked why_not(int pin) const override {
    if (pin < kCA1 && !(sides_[pin / 8].direction >> pin % 8 & 1)) {
      const char side = kSideNames[static_cast<std::size_t>(pin / 8)];
      const bool away = !(sides_[pin / 8].control & kPort);
      return {.why = fmt::format(
                  "bit {} of DDR{} is 0, so {} is an input{}", pin % 8, side, socket().pin_name(pin),
                  away ? fmt::format("; bit 2 of CR{0} is 0, so stores go to DDR{0} and not to the port", side) : ""),
              .released = (sides_[pin / 8].unseen >> pin % 8 & 1) != 0};
    }
    const unsigned c2 = pin == kCB2 ? kSideB : kSideA;
    if ((pin == kCA2 || pin == kCB2) && !(sides_[c2].control & kC2Output)) {
      return {.why = fmt::format("bit 5 of CR{} is 0, so {} is an input", kSideNames[c2], socket().pin_name(pin))};
    }
    if (pin < kCA1 || pin == kCA2 || pin == kCB2) {
      return {.why = fmt::format("only the program moves {}", socket().pin_name(pin))};
    }
    if (pin != kIRQA && pin != kIRQB) return {};
    const unsigned side = pin == kIRQA ? kSideA : kSideB;
    return sides_[side].irq ? Blocked{} : why_no_flag(side, true);
  }

  Blocked why_steady(unsigned reg, std::uint8_t mask) const override {
    const unsigned side = reg >> 1;
    if (reg & 1) return why_no_flag(side, false, mask);
    if (!(sides_[side].control & kPort)) {
      return {fmt::format("bit 2 of CR{} is 0, so the register there is DDR{}", kSideNames[side], kSideNames[side])};
    }
    Blocked blocked;
    const unsigned inputs = mask & ~unsigned{sides_[side].direction};
    for (int bit = 0; bit < 8; ++bit) {
      if (inputs >> bit & 1) blocked.waits_for.push_back((side == kSideA ? kPA : kPB) + bit);
    }
    if (inputs == 0) {
      blocked.why = fmt::format("{} of port {} are outputs", mask == 0xFF ? "all bits" : "the bits it looks at",
                                kSideNames[side]);
    }
    return blocked;
  }

  void archive(Archive& archive) override {
    for (Side& side : sides_) side.archive(archive);
    // Only what makes a difference: a chip whose readings were held has not seen each cycle in which it was selected.
    Cycle since = 0, latest = minds_selection() ? selected_ : -2;
    for (const Side& side : sides_) {
      for (const Line& line : side.lines) {
        if (line.cleared < selected_since_) since = std::max(since, line.cleared + 1);
      }
    }
    archive.number(since);
    archive.number(latest);
    archive(resetting_);
    if (!archive.loading()) return;
    selected_since_ = since;
    selected_ = latest;
  }

 private:
  /// C1 or C2 as an input.
  struct Line {
    EdgeSense sense;
    bool known = false;  // it has had a sure level
    Stamp since = 0;     // its last edge
    Cycle cleared = -1;  // when a read last cleared its flag

    void archive(Archive& archive) {
      archive(sense);
      archive(known);
      archive.number(since);
      archive.number(cleared);
    }
  };

  struct Side {
    std::uint8_t output = 0, direction = 0, control = 0;
    std::uint8_t flags = 0;
    bool strobe = false;               // C2 is low until a strobe ends
    bool irq = false;                  // IRQ is pulled low
    bool unseen_write = false;         // the port was written while none of its bits was an output
    bool written = false;              // something was written to the port
    std::uint8_t unseen = 0;           // its bits that were written high and low while they were inputs
    bool reached = false;              // bit 2 of the control register has been set since RESET
    std::uint8_t settings = 0;         // changes of the direction register until then
    Cycle doubted = -1;                // the second of them
    std::uint8_t direction_reads = 0;  // reads of the direction register since the last write
    std::array<Line, 2> lines;

    void archive(Archive& archive) {
      archive(output);
      archive(direction);
      archive(control);
      archive(flags);
      archive(strobe);
      archive(irq);
      archive(unseen_write);
      archive(written);
      archive(unseen);
      archive(reached);
      archive(settings);
      archive.number(doubted);
      archive(direction_reads);
      for (Line& line : lines) line.archive(archive);
    }
  };

  /// Why no flag of a side, among those in `mask`, is new: no edge has come, or for a request its enable bit is off.
  Blocked why_no_flag(unsigned side, bool request, std::uint8_t mask = 0xFF) const {
    const Side& at = sides_[side];
    Blocked blocked;
    const auto say = [&](const std::string& text) { blocked.why += (blocked.why.empty() ? "" : "; ") + text; };
    const bool c2_input = !(at.control & kC2Output);
    const auto line = [&](std::uint8_t flag, std::uint8_t enable, std::uint8_t rise, int pin, int bit) {
      const bool enabled = (at.control & enable) != 0;
      const std::string name = socket().pin_name(pin);
      if (!(mask & flag)) {
        if (at.flags & flag) say(fmt::format("bit {}, the flag of {}, is set", flag == kFlag1 ? 7 : 6, name));
        return;
      }
      if (at.flags & flag) {
        if (!request || enabled) return;
        blocked.flag = true;
        say(fmt::format("the flag of {} is set, but bit {} of CR{} is 0", name, bit, kSideNames[side]));
        return;
      }
      if (request && !enabled) return;
      blocked.armed = true;
      blocked.waits_for.push_back(pin);
      say(fmt::format("{} has had no {} edge", name, (at.control & rise) ? "rising" : "falling"));
    };
    line(kFlag1, kC1Enable, kC1Rise, side == kSideA ? kCA1 : kCB1, 0);
    if (c2_input) line(kFlag2, kC2Enable, kC2Rise, side == kSideA ? kCA2 : kCB2, 3);
    if (blocked.why.empty() && request) blocked.why = fmt::format("no flag of CR{} may ask", kSideNames[side]);
    if (!request && !(mask & (c2_input ? kFlag1 | kFlag2 : kFlag1))) {
      say(fmt::format("${:02X} of CR{} are bits that only the program changes", mask, kSideNames[side]));
    }
    return blocked;
  }

  static bool strobes(const Side& at) { return (at.control & (kC2Output | kC2Manual)) == kC2Output; }
  static bool strobes_by_pulse(const Side& at) { return strobes(at) && (at.control & kC2Pulse); }
  Line& line(int pin) { return sides_[(pin - kCA1) / 2].lines[(pin - kCA1) % 2]; }

  /// Keeps track of the cycles in which the chip is selected.
  void select() {
    const Cycle cycle = socket().e_cycle();
    if (cycle != selected_ + 1) selected_since_ = cycle;
    selected_ = cycle;
  }

  /// Whether it makes a difference in which cycles the chip is selected from now on: to a strobe, or to a flag that was
  /// cleared and must see a cycle without an access before it can be set again.
  bool minds_selection() const {
    return std::any_of(sides_.begin(), sides_.end(), [&](const Side& at) {
      return strobes(at) || at.lines[0].cleared >= selected_since_ || at.lines[1].cleared >= selected_since_;
    });
  }

  // Ports -------------------------------------------------------------------------------------------------------------

  /// What a read of a port finds at its pins.
  struct Found {
    unsigned value = 0;
    unsigned unsure = 0;  // bits from pins without a sure level
  };

  /// Port A reads its pins even where they are outputs, port B its register there (Section B Peripheral Data).
  Found look_at_port(unsigned side) const {
    const Side& at = sides_[side];
    const unsigned from_register = side == kSideB ? at.direction : 0;
    Found found{at.output & from_register};
    for (int bit = 0; bit < 8; ++bit) {
      if (from_register >> bit & 1) continue;
      const int pin = first_pin(side) + bit;
      const Level level = socket().level(pin);
      const bool sure = is_sure(level);
      if (!sure) found.unsure |= 1U << bit;
      if (sure ? level == Level::high : socket().floating_bit(pin)) found.value |= 1U << bit;
    }
    return found;
  }

  static int first_pin(unsigned side) { return side == kSideA ? kPA : kPB; }

  void report_unsure_bits(unsigned side, const Found& found) {
    if (found.unsure == 0 || socket().read_in_vain()) return;  // a read that is only to clear the flags
    for (unsigned bits = found.unsure; bits != 0; bits &= bits - 1) {
      const int bit = std::countr_zero(bits);
      report_unsure(socket(), first_pin(side) + bit, (found.value >> bit & 1) != 0);
    }
  }

  void drive_port(unsigned side, unsigned bits) {
    const Side& at = sides_[side];
    const Drive& input = side == kSideA ? kPullUp : release();
    for (; bits != 0; bits &= bits - 1) {
      const int bit = std::countr_zero(bits);
      const bool output = at.direction >> bit & 1;
      socket().drive(first_pin(side) + bit, output ? drive((at.output >> bit & 1) != 0) : input);
    }
  }

  void write_port(unsigned side, std::uint8_t value) {
    Side& at = sides_[side];
    // A dummy write that is only to strobe C2 is fine.
    if (at.direction == 0 && !strobes(at)) {
      if (at.unseen_write && value != at.output) report_still_input(side);
      at.unseen_write = true;
    }
    const unsigned changed = (at.output ^ value) & at.direction;
    if (at.written) at.unseen = static_cast<std::uint8_t>(at.unseen | ((at.output ^ value) & ~at.direction));
    at.written = true;
    at.output = value;
    drive_port(side, changed);
    if (side == kSideA || !strobes(at)) return;
    socket().e_timer(kCb2Fall, e_rise(selected_ + 1));
    if (!(at.control & kC2Pulse) && (at.flags & kFlag1)) report_dead_handshake();
  }

  void write_direction(unsigned side, std::uint8_t value) {
    Side& at = sides_[side];
    const unsigned changed = at.direction ^ value;
    // A program that has found the way to the port may well change directions: to look at a key matrix, say.
    if (changed != 0 && !at.reached) {
      at.settings = static_cast<std::uint8_t>(std::min(at.settings + 1, 3));
      if (at.settings == 2) at.doubted = selected_;
      if (at.settings == 3) report_direction_for_data(side, "written again and again", at.doubted);
    }
    at.direction = value;
    at.unseen = static_cast<std::uint8_t>(at.unseen & ~value);
    if (value != 0) at.unseen_write = false;
    drive_port(side, changed);
  }

  void note_direction_read(unsigned side) {
    Side& at = sides_[side];
    if (at.direction_reads == 1) report_direction_for_data(side, "read twice in a row", -1);
    if (at.direction_reads < 2) ++at.direction_reads;
  }

  // Control -----------------------------------------------------------------------------------------------------------

  void write_control(unsigned side, std::uint8_t value) {
    Side& at = sides_[side];
    const bool pulsed = strobes_by_pulse(at);
    socket().drop_readings();
    at.control = value;
    at.reached = at.reached || (value & kPort);
    if (value & kC2Output) clear_flags(side, kFlag2);
    if (!strobes(at)) {
      cancel_strobe(side);
    } else if (at.strobe && strobes_by_pulse(at) && !pulsed) {
      // We are selected in this cycle, so the pulse lasts through the next one at least.
      socket().e_timer(side == kSideA ? kCa2Rise : kCb2Rise,
                       side == kSideA ? e_fall(selected_ + 1) : e_rise(selected_ + 1));
    } else if (!strobes_by_pulse(at)) {
      socket().cancel(side == kSideA ? kCa2Rise : kCb2Rise);
    }
    drive_c2(side);
    update_irq(side);
    report_open_lines(side);
  }

  void drive_c2(unsigned side) {
    const Side& at = sides_[side];
    const int pin = side == kSideA ? kCA2 : kCB2;
    if (!(at.control & kC2Output)) {
      socket().drive(pin, side == kSideA ? kPullUp : release());
    } else {
      socket().drive(pin, drive(at.control & kC2Manual ? (at.control & kC2Level) != 0 : !at.strobe));
    }
  }

  void begin_strobe(unsigned side) {
    Side& at = sides_[side];
    if (at.strobe) return;
    at.strobe = true;
    drive_c2(side);
    socket().event("strobe", side == kSideA ? 2 : 4);
  }

  void end_strobe(unsigned side) {
    Side& at = sides_[side];
    at.strobe = false;
    drive_c2(side);
    socket().event("strobe-end", side == kSideA ? 2 : 4);
  }

  void cancel_strobe(unsigned side) {
    sides_[side].strobe = false;
    if (side == kSideA) {
      socket().cancel(kCa2Rise);
    } else {
      socket().cancel(kCb2Fall);
      socket().cancel(kCb2Rise);
    }
  }

  /// Reset: all six registers are zero while the line is low.
  void clear_registers() {
    for (unsigned side : {kSideA, kSideB}) {
      Side& at = sides_[side];
      socket().drop_readings();
      clear_flags(side, kFlag1 | kFlag2);
      at.output = at.direction = at.control = 0;
      at.unseen_write = at.reached = at.written = false;
      at.unseen = 0;
      at.settings = 0;
      at.doubted = -1;
      cancel_strobe(side);
      drive_port(side, 0xFF);
      drive_c2(side);
      update_irq(side);
    }
  }

  // Interrupt flags ---------------------------------------------------------------------------------------------------

  static void start_line(Line& line, Level level) {
    line.known = is_sure(level);
    line.sense.start(level);
  }

  /// All moments are in E time: the chip's clock is E.
  void on_control_line(int pin, Level level, Stamp when) {
    Line& at = line(pin);
    if (!at.known) {
      start_line(at, level);
      at.since = when;
      return;
    }
    const EdgeSense::Edge edge = at.sense.sense(level);
    if (edge == EdgeSense::Edge::none) return;
    const Stamp before = at.since;
    at.since = when;
    if (resetting_) return;

    const unsigned side = (pin - kCA1) / 2;
    const bool second = (pin - kCA1) % 2 != 0;
    Side& own = sides_[side];
    if (second && (own.control & kC2Output)) return;
    const bool rise_counts = (own.control & (second ? kC2Rise : kC1Rise)) != 0;
    const std::uint8_t flag = second ? kFlag2 : kFlag1;
    if ((edge == EdgeSense::Edge::rise) != rise_counts) return;
    if (own.flags & flag) {  // it counts for nothing
      socket().event("edge-missed", pin - kCA1 + 1);
      return;
    }
    if (!conditioned(before, when)) {
      report_lost_edge(pin, "its inactive level lasted less than one E pulse");
    } else if (!armed(at, when)) {
      report_lost_edge(pin, "no cycle without an access to the PIA had passed since its flag was cleared");
    } else {
      set_flag(side, flag);
    }
  }

  /// One E pulse, from its rise to its fall, is needed between the inactive and the active edge.
  static bool conditioned(Stamp inactive, Stamp active) {
    const Cycle first_pulse = (inactive + 1) / 4;  // the first E rise at or after the edge
    return e_fall(first_pulse) <= active;
  }

  /// A flag that was cleared can be set again once an E pulse has passed in which the chip was not selected.
  bool armed(const Line& at, Stamp when) const { return at.cleared < selected_since_ || e_fall(selected_ + 1) <= when; }

  static int number(unsigned side, std::uint8_t flag) { return static_cast<int>(2 * side) + (flag == kFlag1 ? 1 : 2); }

  void set_flag(unsigned side, std::uint8_t flag) {
    Side& at = sides_[side];
    socket().drop_readings();
    at.flags |= flag;
    socket().event("flag", number(side, flag));
    if (flag == kFlag1 && at.strobe && !(at.control & kC2Pulse)) end_strobe(side);
    update_irq(side);
  }

  void clear_flags(unsigned side, unsigned flags) {
    Side& at = sides_[side];
    for (const std::uint8_t flag : {kFlag1, kFlag2}) {
      if (!(at.flags & flags & flag)) continue;
      socket().drop_readings();
      at.flags = static_cast<std::uint8_t>(at.flags & ~flag);
      at.lines[flag == kFlag1 ? 0 : 1].cleared = selected_;
      socket().event("flag-cleared", number(side, flag));
    }
    update_irq(side);
  }

  void update_irq(unsigned side) {
    Side& at = sides_[side];
    const bool low =
        ((at.flags & kFlag1) && (at.control & kC1Enable)) || ((at.flags & kFlag2) && (at.control & kC2Enable));
    if (low == at.irq) return;
    at.irq = low;
    const int pin = side == kSideA ? kIRQA : kIRQB;
    socket().drive(pin, low ? open_low() : release());
    if (low && !socket().wired(pin)) report_unwired_irq(pin);
  }

  // Findings ----------------------------------------------------------------------------------------------------------

  void report_still_input(unsigned side) {
    report(socket(), "port-still-input", Weight::warn, static_cast<int>(side), [&] {
      return std::pair(fmt::format("port {} of {} was written again, but all its bits are inputs: no pin changes",
                                   kSideNames[side], socket().name()),
                       "write ones to the data direction register for the bits that are outputs");
    });
  }

  void report_direction_for_data(unsigned side, std::string_view what, Cycle since) {
    report(
        socket(), "ddr-not-port", Weight::warn, static_cast<int>(side),
        [&] {
          return std::pair(fmt::format("DDR{0} of {1} was {2}; CR{0} bit 2 is 0, so the port is not reached",
                                       kSideNames[side], socket().name(), what),
                           "set bit 2 of the control register once the directions are set");
        },
        since);
  }

  void report_data_for_control(unsigned side, std::uint8_t value) {
    report(socket(), "port-registers-mixed", Weight::warn, static_cast<int>(side), [&] {
      return std::pair(
          fmt::format("${:02X} was written to CR{} of {}, whose bits 7 and 6 are flags and cannot be written: "
                      "is it meant for the port, or for its directions?",
                      value, kSideNames[side], socket().name()),
          "the order is: port A or DDRA, CRA, port B or DDRB, CRB");
    });
  }

  void report_dead_handshake() {
    report(socket(), "handshake-flag-set", Weight::warn, static_cast<int>(kSideB), [&] {
      return std::pair(fmt::format("port B of {} was written while CRB bit 7 is set: CB2 stays low, the next CB1 edge "
                                   "cannot end it",
                                   socket().name()),
                       "read port B before each write to it, which clears the flag");
    });
  }

  /// CA2 has a pull-up inside, and rests.
  void report_open_lines(unsigned side) {
    const std::uint8_t control = sides_[side].control;
    const bool c2_asks = (control & (kC2Output | kC2Enable)) == kC2Enable;
    if ((control & kC1Enable) != 0) report_open_line(side == kSideA ? kCA1 : kCB1, side, 0);
    if (c2_asks && side == kSideB) report_open_line(kCB2, side, 3);
  }

  void report_open_line(int pin, unsigned side, int bit) {
    if (socket().wired(pin)) return;
    report(socket(), "open-line-enabled", Weight::hint, pin, [&] {
      return std::pair(
          fmt::format("{} may interrupt, and nothing is wired to it: on the bench an open input sees edges of "
                      "its own",
                      socket().pin_name(pin)),
          fmt::format("wire it, tie it to GND or +5V, or leave bit {} of CR{} 0", bit, kSideNames[side]));
    });
  }

  void report_unwired_irq(int pin) {
    report(socket(), "irq-unwired", Weight::warn, pin, [&] {
      return std::pair(fmt::format("{} asks for an interrupt, but nothing is wired to it", socket().pin_name(pin)),
                       "wire it to an interrupt input of the processor, with a pull-up resistor of 3 to 10 kOhm");
    });
  }

  void report_lost_edge(int pin, std::string_view why) {
    socket().event("edge-lost", pin - kCA1 + 1);
    report(socket(), "edge-lost", Weight::hint, pin, [&] {
      return std::pair(
          fmt::format("an active edge at {} set no flag: {}", socket().pin_name(pin), why),
          "keep both levels of the line for a cycle or more, longer than the program takes to read the port");
    });
  }

  std::array<Side, 2> sides_;
  Cycle selected_since_ = 0;  // first cycle of the unbroken run of accesses that ends with...
  Cycle selected_ = -2;       // ...the last one
  bool resetting_ = false;
};

// Electrical characteristics, from memory. Port A and CA2 as inputs are a load, port B and CB2 are not.
constexpr PinLimits kLimitsA{.sink = 3'200,
                             .sink_at = 400'000,
                             .source = 200,
                             .source_at = 2'400'000,
                             .source_typical = 400,
                             .low = 2'400,
                             .low_typical = 1'300};
constexpr PinLimits kLimitsB{.sink = 3'200, .sink_at = 400'000, .source = 200, .source_at = 2'400'000, .high = 10};
constexpr PinLimits kRequest{.sink = 1'600, .sink_at = 400'000, .high = 10};

std::vector<PinSpec> pins() {
  std::vector<PinSpec> pins;
  const auto port = [&](std::initializer_list<std::string_view> names, std::uint8_t first) {
    for (const std::string_view name : names) {
      pins.push_back({.name = name, .kind = PinKind::three_state, .number = first++, .listens = true, .silent = true});
      if (name[1] == 'A') pins.back().pull_up = kPullUpOhms;
      pins.back().limits = name[1] == 'A' ? &kLimitsA : &kLimitsB;
    }
  };
  port({"PA0", "PA1", "PA2", "PA3", "PA4", "PA5", "PA6", "PA7"}, 2);
  port({"PB0", "PB1", "PB2", "PB3", "PB4", "PB5", "PB6", "PB7"}, 10);
  const auto control = [&](std::string_view name, std::uint8_t at) {
    pins.push_back({.name = name,
                    .kind = PinKind::input,
                    .number = at,
                    .listens = true,
                    .optional = true,
                    .use = PinUse::control});
  };
  control("CA1", 40);
  pins.push_back({.name = "CA2",
                  .kind = PinKind::three_state,
                  .number = 39,
                  .listens = true,
                  .pull_up = kPullUpOhms,
                  .limits = &kLimitsA});
  control("CB1", 18);
  pins.push_back({.name = "CB2", .kind = PinKind::three_state, .number = 19, .listens = true, .limits = &kLimitsB});
  pins.push_back({.name = "IRQA",
                  .kind = PinKind::open_drain,
                  .number = 38,
                  .use = PinUse::request,
                  .limits = &kRequest,
                  .ended_by = 0});
  pins.push_back({.name = "IRQB",
                  .kind = PinKind::open_drain,
                  .number = 37,
                  .use = PinUse::request,
                  .limits = &kRequest,
                  .ended_by = 2});
  pins.push_back({.name = "RESET",
                  .kind = PinKind::input,
                  .number = 34,
                  .implied = Implied::reset_line,
                  .listens = true,
                  .held_low = "its registers stay 0"});
  std::uint8_t bit = 0;
  const auto bus_pin = [&](std::string_view name, std::uint8_t at, BusRole role) {
    const PinKind kind = role == BusRole::data ? PinKind::three_state : PinKind::input;
    pins.push_back({.name = name, .kind = kind, .number = at, .implied = Implied::bus, .role = role, .bit = bit});
  };
  for (const std::string_view name : {"D0", "D1", "D2", "D3", "D4", "D5", "D6", "D7"}) {
    bus_pin(name, static_cast<std::uint8_t>(33 - bit), BusRole::data);
    ++bit;
  }
  bit = 0;
  bus_pin("RS0", 36, BusRole::address);
  bit = 1;
  bus_pin("RS1", 35, BusRole::address);
  bus_pin("CS0", 22, BusRole::select_high);
  bus_pin("CS1", 24, BusRole::select_high);
  bus_pin("CS2", 23, BusRole::select_low);
  bus_pin("E", 25, BusRole::enable);
  bus_pin("R/W", 21, BusRole::read_write);
  pins.push_back({.name = "VCC", .kind = PinKind::supply, .number = 20, .microvolts = kLogicHigh});
  pins.push_back({.name = "VSS", .kind = PinKind::supply, .number = 1});
  return pins;
}

}  // namespace

ChipType mc6821() {
  ChipType type;
  type.name = "mc6821";
  type.title = "MC6821 peripheral interface adapter";
  type.summary = "Two 8-bit ports, each with two control lines that sense edges, strobe and interrupt.";
  type.pins = pins();
  // Bit 2 of the control register chooses between the two of an address. Names from memory [Internal Addressing].
  type.bus = BusSpec{.size = 4, .registers = {"PRA DDRA", "CRA", "PRB DDRB", "CRB"}};
  type.state_version = 3;
  type.events = {"flag", "flag-cleared", "strobe", "strobe-end", "edge-lost", "edge-missed"};
  type.make = [](Socket& socket, const Parameters&) { return std::make_unique<Mc6821>(socket); };
  return type;
}

}  // namespace prewire::chips
