// 74LS244: two groups of four three-state buffers (TI, The TTL Data Book, function table).
#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "chips.h"
#include "input_watch.h"

namespace prewire::chips {

namespace {

// Pin numbers less one. Bit 0 is 1A1, bit 7 is 2A4.
constexpr std::array<int, 8> kA{1, 3, 5, 7, 10, 12, 14, 16};
constexpr std::array<int, 8> kY{17, 15, 13, 11, 8, 6, 4, 2};
constexpr std::array<int, 2> kG{0, 18};

class OctalBuffer final : public Chip {
 public:
  using Chip::Chip;

  void start() override {
    on_bus_ = socket().on_bus();
    for (std::size_t bit = 0; bit < 8; ++bit) {
      note_level(bit, socket().level(kA[bit]));
      show(bit);
    }
    for (int pin : kG) watch_input(socket(), pin, socket().level(pin));
  }

  std::uint8_t read(unsigned /*reg*/) override {
    for (std::size_t bit = 0; unsure_ >> bit; ++bit) {
      if (unsure_ >> bit & 1) report_unsure(socket(), kA[bit], true);
    }
    return bits_;
  }
  std::uint8_t peek(unsigned /*reg*/) const override { return bits_; }

  void on_edge(int pin, Level level, Stamp /*when*/) override {
    for (std::size_t group = 0; group < 2; ++group) {
      if (pin != kG[group]) continue;
      watch_input(socket(), pin, level);
      for (std::size_t bit = 4 * group; bit < 4 * group + 4; ++bit) show(bit);
      return;
    }
    std::size_t bit = 0;
    while (kA[bit] != pin) ++bit;
    note_level(bit, level);
    show(bit);
  }

  void on_timer(unsigned tag, Stamp /*when*/) override { report_watched(socket(), tag); }

  Blocked why_not(int pin) const override {
    const auto bit = static_cast<std::size_t>(std::find(kY.begin(), kY.end(), pin) - kY.begin());
    if (bit == kY.size() || on_bus_) return {};
    if (drives(bit)) return {.waits_for = {kA[bit]}};
    return {.why = fmt::format("{} is high", socket().pin_name(kG[bit / 4])), .waits_for = {kG[bit / 4]}};
  }

  void archive(Archive& archive) override {
    archive(bits_);
    archive(unsure_);
    archive(on_bus_);
  }

 private:
  bool drives(std::size_t bit) const { return !on_bus_ && socket().level(kG[bit / 4]) == Level::low; }

  /// A TTL input that nobody drives reads as one.
  void note_level(std::size_t bit, Level level) {
    const auto mask = static_cast<std::uint8_t>(1U << bit);
    bits_ = static_cast<std::uint8_t>(level != Level::low ? bits_ | mask : bits_ & ~mask);
    const bool sure = is_sure(level);
    unsure_ = static_cast<std::uint8_t>(sure ? unsure_ & ~mask : unsure_ | mask);
  }

  void show(std::size_t bit) {
    const bool on = drives(bit);
    socket().drive(kY[bit], on ? drive((bits_ >> bit & 1) != 0) : release());
    if (on) {
      watch_input(socket(), kA[bit], socket().level(kA[bit]));
    } else {
      socket().cancel(kWatchTag + static_cast<unsigned>(kA[bit]));
    }
  }

  std::uint8_t bits_ = 0xFF;
  std::uint8_t unsure_ = 0xFF;
  bool on_bus_ = false;
};

// DM74LS244 data sheet; what usual parts give is the least output current into a short circuit, from memory.
constexpr PinLimits kOutput{.sink = 24'000,
                            .sink_at = 500'000,
                            .source = 15'000,
                            .source_at = 2'000'000,
                            .source_typical = 40'000,
                            .high_typical = 3'400'000,
                            .high = 20};
constexpr PinLimits kInput{.low = 200, .high = 20};

}  // namespace

ChipType octal_buffer() {
  ChipType type;
  type.name = "74ls244";
  type.title = "74LS244 octal buffer with three-state outputs";
  type.summary = "Two groups of four buffers; Y follows A while the group's G is low. With `at` it is an input port.";
  for (const std::string_view name : {"1G",  "1A1", "2Y4", "1A2", "2Y3", "1A3", "2Y2", "1A4", "2Y1", "GND",
                                      "2A1", "1Y4", "2A2", "1Y3", "2A3", "1Y2", "2A4", "1Y1", "2G",  "VCC"}) {
    PinSpec pin;
    pin.name = name;
    pin.number = static_cast<std::uint8_t>(type.pins.size() + 1);
    if (name == "GND" || name == "VCC") {
      pin.kind = PinKind::supply;
      pin.microvolts = name == "VCC" ? kLogicHigh : 0;
    } else {
      const char role = name[1];
      pin.kind = role == 'Y' ? PinKind::three_state : PinKind::input;
      pin.implied = role == 'A' ? Implied::nothing : Implied::bus;
      pin.listens = role != 'Y';
      pin.limits = role == 'Y' ? &kOutput : &kInput;
      pin.group = static_cast<std::uint8_t>(name[0] - '0');
      if (role == 'G') pin.role = BusRole::read_low;
      if (role == 'Y') {
        pin.role = BusRole::data;
        pin.bit = static_cast<std::uint8_t>((name[0] - '1') * 4 + name[2] - '1');
      }
      if (role == 'G') pin.held_high = "the buffers of its group stay off";
    }
    type.pins.push_back(pin);
  }
  type.bus = BusSpec{.size = 1, .writes = false, .required = false};
  type.make = [](Socket& socket, const Parameters&) { return std::make_unique<OctalBuffer>(socket); };
  return type;
}

}  // namespace prewire::chips
