// Chips that are pure logic. A type is made from the drawing of its package and one function over its pins; one class
// runs them all.
#pragma once

#include <array>
#include <bit>
#include <cstdint>
#include <functional>
#include <memory>
#include <span>
#include <string_view>
#include <utility>
#include <vector>

#include "input_watch.h"
#include "ls_limits.h"
#include "prewire/chip.h"

namespace prewire::chips {

inline constexpr std::size_t kMostLogicPins = 24;
using LogicPins = std::array<Logic, kMostLogicPins>;

// Forms of such functions ---------------------------------------------------------------------------------------------

/// Low only while the output sinks: an open collector.
constexpr Logic sinks(Logic value) { return value == Logic::high ? Logic::off : value; }
/// What a three-state output does: `value` while `on`, else it lets go.
constexpr Logic while_on(Logic on, Logic value) {
  return on == Logic::high ? value : on == Logic::low ? Logic::off : Logic::unknown;
}
constexpr Logic choose(Logic select, Logic at_low, Logic at_high) {
  if (known(select)) return select == Logic::high ? at_high : at_low;
  return at_low == at_high ? at_low : Logic::unknown;
}
/// Whether lines, the lowest bit first, carry that number.
template <class Lines>
constexpr Logic is_number(std::span<const Logic> pins, const Lines& lines, unsigned number) {
  Logic equal = Logic::high;
  for (std::size_t bit = 0; bit < lines.size(); ++bit) {
    const Logic line = pins[static_cast<std::size_t>(lines[bit])];
    equal = equal & ((number >> bit & 1) != 0 ? line : !line);
  }
  return equal;
}

// Types ---------------------------------------------------------------------------------------------------------------

/// What a row says of a package. The texts must live on.
struct LogicPackage {
  std::string_view name, title, summary;
  /// Names in the order of the pin numbers, blanks between them. ">1Y": an output, "<A1": one that is an input as well.
  /// What has a figure in front belongs to the unit of that number.
  std::string_view pins;
  PinKind outputs = PinKind::output;
  const PinLimits* output_limits = nullptr;
  const PinLimits* input_limits = nullptr;
  bool spare = false;       ///< an input that is open, and so high, is as if it were not there
  bool hysteresis = false;  ///< inputs keep what they were between their thresholds
};

/// Thresholds of a Schmitt-trigger input (TI, SN74LS14: typical values); the lower one is that of all TTL inputs.
inline constexpr std::int32_t kSchmittRise = 1'600'000;

class LogicChip : public Chip {
 public:
  /// What all chips of a type share: bits are pins.
  struct Plan {
    std::function<void(std::span<Logic>)> logic;
    std::size_t pins = 0;
    std::uint32_t inputs = 0, outputs = 0, sinks = 0;
    std::array<std::uint8_t, kMostLogicPins> place{};  // of an input among the inputs
    bool hysteresis = false;
  };

  LogicChip(Socket& socket, std::shared_ptr<const Plan> plan) : Chip(socket), plan_(std::move(plan)) {
    const int inputs = std::popcount(plan_->inputs);
    if (inputs <= kMostRemembered) memory_.resize(std::size_t{1} << inputs);
  }

  void power_on() override {
    in_ = plan_->inputs;
    shown_ = {};
    unsure_ = watched_ = 0;
    find_row();
  }

  void start() override {
    each(plan_->inputs, [&](int pin) { note(pin, socket().level(pin)); });
    show();
  }

  void on_edge(int pin, Level level, Stamp /*when*/) override {
    note(pin, level);
    show();
  }

  void on_timer(unsigned tag, Stamp /*when*/) override { report_watched(socket(), tag); }

  /// The inputs that by themselves would change it; else some that together could.
  Blocked why_not(int pin) const override {
    Blocked blocked;
    const auto out = static_cast<std::size_t>(pin);
    const Logic now = pins_at(in_, 0)[out];
    each(plan_->inputs, [&](int input) {
      if (pins_at(in_ ^ 1U << input, 0)[out] != now) blocked.waits_for.push_back(input);
    });
    if (!blocked.waits_for.empty()) return blocked;
    std::uint32_t needed = plan_->inputs;
    const auto open = [&](std::uint32_t unknown) { return pins_at(in_, unknown)[out] == Logic::unknown; };
    each(plan_->inputs, [&](int input) {
      if (open(needed & ~(1U << input))) needed &= ~(1U << input);
    });
    if (open(needed)) each(needed, [&](int input) { blocked.waits_for.push_back(input); });
    return blocked;
  }

  void archive(Archive& archive) override {
    for (std::uint32_t* bits : {&in_, &unsure_, &watched_}) {
      archive(*bits);
      archive.require((*bits & ~plan_->inputs) == 0);
    }
    archive(shown_.high);
    archive(shown_.on);
    archive.require(((shown_.high | shown_.on) & ~plan_->outputs) == 0);
    find_row();
  }

 protected:
  /// What the input counts as: an open TTL input is high.
  bool high(int pin) const { return (in_ >> pin & 1) != 0; }
  bool unsure(int pin) const { return (unsure_ >> pin & 1) != 0; }

 private:
  struct Outputs {
    std::uint32_t high = 0, on = 0;
  };
  // Chips of few inputs work each combination out once.
  static constexpr int kMostRemembered = 10;
  static constexpr std::uint32_t kKnown = 1U << 31;

  template <class Visit>
  static void each(std::uint32_t pins, Visit visit) {
    for (; pins != 0; pins &= pins - 1) visit(std::countr_zero(pins));
  }

  void note(int pin, Level level) {
    const std::uint32_t bit = 1U << pin;
    bool high = true;
    unsure_ &= ~bit;
    if (is_sure(level)) {
      high = level == Level::high;
    } else if (plan_->hysteresis && level == Level::unknown) {
      high = this->high(pin) || socket().look(pin).microvolts >= kSchmittRise;
    } else {
      unsure_ |= bit;
    }
    if (high == this->high(pin)) return;
    in_ ^= bit;
    row_ ^= 1U << plan_->place[static_cast<std::size_t>(pin)];
  }

  void find_row() {
    row_ = 0;
    each(in_, [&](int pin) { row_ |= 1U << plan_->place[static_cast<std::size_t>(pin)]; });
  }

  /// All pins, if those inputs are high and nobody can say what those others are.
  LogicPins pins_at(std::uint32_t highs, std::uint32_t unknown) const {
    LogicPins pins{};
    for (std::size_t pin = 0; pin < plan_->pins; ++pin) pins[pin] = to_logic((highs >> pin & 1) != 0);
    each(unknown, [&](int pin) { pins[static_cast<std::size_t>(pin)] = Logic::unknown; });
    plan_->logic(std::span(pins).first(plan_->pins));
    return pins;
  }

  Outputs work_out() const {
    const LogicPins pins = pins_at(in_, 0);
    Outputs result;
    each(plan_->outputs, [&](int pin) {
      const Logic value = pins[static_cast<std::size_t>(pin)];
      result.high |= value == Logic::high ? 1U << pin : 0;
      result.on |= value != Logic::off ? 1U << pin : 0;
    });
    return result;
  }

  Outputs outputs() {
    if (memory_.empty()) return work_out();
    Outputs& remembered = memory_[row_];
    if ((remembered.on & kKnown) == 0) {
      remembered = work_out();
      remembered.on |= kKnown;
    }
    return {remembered.high, remembered.on & ~kKnown};
  }

  void show() {
    const Outputs now = outputs();
    each((now.high ^ shown_.high) | (now.on ^ shown_.on), [&](int pin) {
      const bool on = (now.on >> pin & 1) != 0, only_sinks = (plan_->sinks >> pin & 1) != 0;
      socket().drive(pin, !on ? release() : only_sinks ? open_low() : drive((now.high >> pin & 1) != 0));
    });
    shown_ = now;
    if ((unsure_ | watched_) != 0) watch();
  }

  /// Inputs without a sure level are told of if that lasts, and if something hangs on them.
  void watch() {
    each(unsure_ | watched_, [&](int pin) {
      const std::uint32_t bit = 1U << pin;
      const bool now = (unsure_ & bit) != 0 && matters(pin);
      if (now == ((watched_ & bit) != 0)) return;
      watched_ ^= bit;
      watch_input(socket(), pin, now ? Level::floating : Level::low);
    });
  }

  bool matters(int pin) const {
    const LogicPins pins = pins_at(in_, 1U << pin);
    bool any = false;
    each(plan_->outputs,
         [&](int out) { any = any || (pins[static_cast<std::size_t>(out)] == Logic::unknown && socket().wired(out)); });
    return any;
  }

  const std::shared_ptr<const Plan> plan_;
  std::vector<Outputs> memory_;  // by the inputs side by side
  std::uint32_t row_ = 0;        // of `memory_`
  std::uint32_t in_ = 0, unsure_ = 0, watched_ = 0;
  Outputs shown_;
};

/// The type without its function, which needs to know where the pins are: `logic_ready` completes it.
inline ChipType logic_type(const LogicPackage& package) {
  ChipType type;
  type.name = package.name;
  type.title = package.title;
  type.summary = package.summary;
  std::string_view rest = package.pins;
  while (!rest.empty()) {
    const std::size_t blank = rest.find(' ');
    std::string_view name = rest.substr(0, blank);
    rest.remove_prefix(blank == std::string_view::npos ? rest.size() : blank + 1);
    const bool output = name[0] == '>', both = name[0] == '<';
    if (output || both) name.remove_prefix(1);
    PinSpec pin;
    pin.name = name;
    pin.number = static_cast<std::uint8_t>(type.pins.size() + 1);
    if (name == "NC") {
      pin.kind = PinKind::none;
    } else if (name == "GND" || name == "VCC") {
      pin.kind = PinKind::supply;
      pin.microvolts = name == "VCC" ? kLogicHigh : 0;
    } else {
      pin.kind = output || both ? package.outputs : PinKind::input;
      pin.listens = !output;
      pin.limits = output || both ? package.output_limits : package.input_limits;
      if (name[0] >= '1' && name[0] <= '9') pin.group = static_cast<std::uint8_t>(name[0] - '0');
      if (package.spare && pin.kind == PinKind::input) pin.use = PinUse::spare;
      pin.volts = pin.listens && package.hysteresis;
    }
    type.pins.push_back(pin);
  }
  return type;
}

/// Gives the type its function, and a maker of chips: of class `Made`, a `LogicChip`.
template <class Made = LogicChip>
ChipType logic_ready(ChipType type, std::function<void(std::span<Logic>)> logic) {
  auto plan = std::make_shared<LogicChip::Plan>();
  plan->logic = logic;
  plan->pins = type.pins.size();
  for (std::size_t i = 0; i < type.pins.size(); ++i) {
    const std::uint32_t bit = 1U << i;
    if (type.pins[i].listens) {
      plan->place[i] = static_cast<std::uint8_t>(std::popcount(plan->inputs));
      plan->inputs |= bit;
    }
    if (type.pins[i].volts) plan->hysteresis = true;
    if (drives(type.pins[i].kind)) plan->outputs |= bit;
    if (type.pins[i].kind == PinKind::open_drain) plan->sinks |= bit;
  }
  type.logic = std::move(logic);
  type.make = [plan = std::shared_ptr<const LogicChip::Plan>(std::move(plan))](Socket& socket, const Parameters&) {
    return std::make_unique<Made>(socket, plan);
  };
  return type;
}

/// Where the pins of those names are.
template <class... Names>
std::array<int, sizeof...(Names)> find_pins(const ChipType& type, Names... names) {
  return {type.pin(names)...};
}

}  // namespace prewire::chips
