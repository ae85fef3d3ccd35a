// Three-state buffers: 74LS125, 74LS126, and the transceiver 74LS245. TI, The TTL Data Book, function tables and pin
// assignments.
#include <vector>

#include "chips.h"
#include "logic_chip.h"

namespace prewire::chips {

namespace {

// DM74LS245: as the 74LS244; a line that is off asks for 0.2 mA while it is low.
constexpr PinLimits kTransceiver{.sink = 24'000,
                                 .sink_at = 500'000,
                                 .source = 15'000,
                                 .source_at = 2'000'000,
                                 .source_typical = 40'000,
                                 .high_typical = 3'400'000,
                                 .low = 200,
                                 .high = 20};
constexpr PinLimits kTransceiverInput{.low = 200, .high = 20};

ChipType quad(std::string_view name, std::string_view title, std::string_view summary, bool on_at_high) {
  ChipType type = logic_type({.name = name,
                              .title = title,
                              .summary = summary,
                              .pins = "1OE 1A >1Y 2OE 2A >2Y GND >3Y 3A 3OE >4Y 4A 4OE VCC",
                              .outputs = PinKind::three_state,
                              .output_limits = &kLsThreeState,
                              .input_limits = &kLsInput});
  const std::array units{find_pins(type, "1OE", "1A", "1Y"), find_pins(type, "2OE", "2A", "2Y"),
                         find_pins(type, "3OE", "3A", "3Y"), find_pins(type, "4OE", "4A", "4Y")};
  return logic_ready(std::move(type), [units, on_at_high](std::span<Logic> pins) {
    for (const auto& [enable, in, out] : units) {
      const Logic on = pins[static_cast<std::size_t>(enable)];
      pins[static_cast<std::size_t>(out)] = while_on(on_at_high ? on : !on, pins[static_cast<std::size_t>(in)]);
    }
  });
}

ChipType transceiver() {
  ChipType type = logic_type(
      {.name = "74ls245",
       .title = "74LS245 octal bus transceiver",
       .summary = "While G is low, B follows A if DIR is high, and A follows B if it is low; else both let go.",
       .pins = "DIR <A1 <A2 <A3 <A4 <A5 <A6 <A7 <A8 GND <B8 <B7 <B6 <B5 <B4 <B3 <B2 <B1 G VCC",
       .outputs = PinKind::three_state,
       .output_limits = &kTransceiver,
       .input_limits = &kTransceiverInput});
  return logic_ready(std::move(type), [](std::span<Logic> pins) {
    constexpr std::size_t kDir = 0, kA1 = 1, kB1 = 17, kG = 18;
    const Logic on = !pins[kG], to_b = on & pins[kDir], to_a = on & (!pins[kDir]);
    for (std::size_t line = 0; line < 8; ++line) {
      const Logic a = pins[kA1 + line], b = pins[kB1 - line];
      pins[kB1 - line] = while_on(to_b, a);
      pins[kA1 + line] = while_on(to_a, b);
    }
  });
}

}  // namespace

std::vector<ChipType> bus_buffer() {
  return {quad("74ls125", "74LS125 quad buffer with three-state outputs",
               "Y follows A while OE is low, else it lets go.", false),
          quad("74ls126", "74LS126 quad buffer with three-state outputs",
               "Y follows A while OE is high, else it lets go.", true),
          transceiver()};
}

}  // namespace prewire::chips
