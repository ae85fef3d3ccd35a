// 74LS240 and 74LS244: two groups of four three-state buffers (TI, The TTL Data Book, function tables).
#include <array>
#include <vector>

#include "chips.h"
#include "logic_chip.h"

namespace prewire::chips {

namespace {

// Pin numbers less one. Bit 0 is 1A1, bit 7 is 2A4.
constexpr std::array<int, 8> kA{1, 3, 5, 7, 10, 12, 14, 16};
constexpr std::array<int, 8> kY{17, 15, 13, 11, 8, 6, 4, 2};
constexpr std::array<int, 2> kG{0, 18};

/// On the bus it is an input port. Its outputs are off then, since both G are open: the bus takes their place.
template <bool Inverts>
class OctalBuffer final : public LogicChip {
 public:
  using LogicChip::LogicChip;

  std::uint8_t read(unsigned reg) override {
    for (const int pin : kA) {
      if (unsure(pin)) report_unsure(socket(), pin, true);
    }
    return peek(reg);
  }
  std::uint8_t peek(unsigned /*reg*/) const override {
    unsigned bits = 0;
    for (std::size_t bit = 0; bit < kA.size(); ++bit) bits |= high(kA[bit]) != Inverts ? 1U << bit : 0;
    return static_cast<std::uint8_t>(bits);
  }
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

template <bool Inverts>
ChipType make_type(std::string_view name, std::string_view title, std::string_view summary) {
  ChipType type = logic_type({.name = name,
                              .title = title,
                              .summary = summary,
                              .pins = "1G 1A1 >2Y4 1A2 >2Y3 1A3 >2Y2 1A4 >2Y1 GND 2A1 >1Y4 2A2 >1Y3 2A3 >1Y2 2A4 >1Y1 "
                                      "2G VCC",
                              .outputs = PinKind::three_state,
                              .output_limits = &kOutput,
                              .input_limits = &kInput});
  for (PinSpec& pin : type.pins) {
    if (pin.kind == PinKind::three_state || pin.name.back() == 'G') pin.implied = Implied::bus;
    if (pin.name.back() == 'G') pin.held_high = "the buffers of its group stay off";
    if (pin.name.back() == 'G') pin.role = BusRole::read_low;
    if (pin.kind != PinKind::three_state) continue;
    pin.role = BusRole::data;
    pin.bit = static_cast<std::uint8_t>((pin.name[0] - '1') * 4 + pin.name[2] - '1');
  }
  type.bus = BusSpec{.size = 1, .writes = false, .required = false};
  type.state_version = 2;
  return logic_ready<OctalBuffer<Inverts>>(std::move(type), [](std::span<Logic> pins) {
    for (std::size_t bit = 0; bit < kA.size(); ++bit) {
      const Logic a = pins[static_cast<std::size_t>(kA[bit])];
      const Logic on = !pins[static_cast<std::size_t>(kG[bit / 4])];
      pins[static_cast<std::size_t>(kY[bit])] = while_on(on, Inverts ? !a : a);
    }
  });
}

}  // namespace

std::vector<ChipType> octal_buffer() {
  return {make_type<true>("74ls240", "74LS240 octal inverting buffer with three-state outputs",
                          "Two groups of four buffers; Y is the opposite of A while the group's G is low. With `at` it "
                          "is an input port that inverts."),
          make_type<false>("74ls244", "74LS244 octal buffer with three-state outputs",
                           "Two groups of four buffers; Y follows A while the group's G is low. With `at` it is an "
                           "input port.")};
}

}  // namespace prewire::chips
