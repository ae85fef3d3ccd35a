// 74LS257: four times one of two, with three-state outputs. TI, The TTL Data Book, function table and pin assignment.
#include "chips.h"
#include "logic_chip.h"

namespace prewire::chips {

ChipType data_selector() {
  ChipType type =
      logic_type({.name = "74ls257",
                  .title = "74LS257 quad two-to-one selector with three-state outputs",
                  .summary = "While OE is low, all Y follow their A if S is low, and their B if it is high.",
                  .pins = "S 1A 1B >1Y 2A 2B >2Y GND >3Y 3B 3A >4Y 4B 4A OE VCC",
                  .outputs = PinKind::three_state,
                  .output_limits = &kLsThreeState,
                  .input_limits = &kLsInput});
  const std::array units{find_pins(type, "1A", "1B", "1Y"), find_pins(type, "2A", "2B", "2Y"),
                         find_pins(type, "3A", "3B", "3Y"), find_pins(type, "4A", "4B", "4Y")};
  auto logic = [units, select = type.pin("S"), enable = type.pin("OE")](std::span<Logic> pins) {
    const Logic by = pins[static_cast<std::size_t>(select)], on = !pins[static_cast<std::size_t>(enable)];
    for (const auto& [a, b, out] : units) {
      const Logic chosen = choose(by, pins[static_cast<std::size_t>(a)], pins[static_cast<std::size_t>(b)]);
      pins[static_cast<std::size_t>(out)] = while_on(on, chosen);
    }
  };
  return logic_ready(std::move(type), std::move(logic));
}

}  // namespace prewire::chips
