// 74LS148: eight lines to the number of the highest one. TI, The TTL Data Book, function table and pin assignment.
#include "chips.h"
#include "logic_chip.h"

namespace prewire::chips {

ChipType priority_encoder() {
  ChipType type =
      logic_type({.name = "74ls148",
                  .title = "74LS148 eight-to-three priority encoder",
                  .summary = "While EI is low, A2 A1 A0 is the number of the highest input that is low, all "
                             "of them active low; GS is low if there is one, EO if there is none.",
                  .pins = "I4 I5 I6 I7 EI >A2 >A1 GND >A0 I0 I1 I2 I3 >GS >EO VCC",
                  .output_limits = &kLsOutput,
                  .input_limits = &kLsInput,
                  .spare = true});
  const auto lines = find_pins(type, "I0", "I1", "I2", "I3", "I4", "I5", "I6", "I7");
  const auto outputs = find_pins(type, "A0", "A1", "A2");
  auto logic = [=, enable = type.pin("EI"), some = type.pin("GS"), none = type.pin("EO")](std::span<Logic> pins) {
    const auto at = [&](int pin) -> Logic& { return pins[static_cast<std::size_t>(pin)]; };
    const Logic on = !at(enable);
    // Whether the line is the one that counts: it is low, and all above it are high.
    Logic above = Logic::high;
    std::array<Logic, 3> number{Logic::low, Logic::low, Logic::low};
    for (std::size_t line = lines.size(); line-- > 0;) {
      const Logic counts = above & (!at(lines[line]));
      for (std::size_t bit = 0; bit < number.size(); ++bit) {
        if ((line >> bit & 1) != 0) number[bit] = number[bit] | counts;
      }
      above = above & at(lines[line]);
    }
    for (std::size_t bit = 0; bit < number.size(); ++bit) at(outputs[bit]) = !(on & number[bit]);
    at(some) = !(on & (!above));
    at(none) = !(on & above);
  };
  return logic_ready(std::move(type), std::move(logic));
}

}  // namespace prewire::chips
