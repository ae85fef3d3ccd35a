// The list of chips. A new chip is one source, one line here, one page in docs/chips and one test.
#include "chips.h"

#include "prewire/chips.h"

namespace prewire {

Registry standard_chips() {
  Registry registry;
  const auto add = [&](std::vector<ChipType> types) {
    for (ChipType& type : types) registry.add(std::move(type));
  };
  add(chips::static_ram());
  add(chips::rom());
  registry.add(chips::mc6821());
  add(chips::adc080x());
  registry.add(chips::seven_segment());
  registry.add(chips::dm9368());
  add(chips::bcd_decoder());
  registry.add(chips::led());
  registry.add(chips::toggle_switch());
  registry.add(chips::push_button());
  registry.add(chips::potentiometer());
  registry.add(chips::voltage_source());
  registry.add(chips::resistor());
  registry.add(chips::oscillator());
  add(chips::octal_latch());
  add(chips::octal_buffer());
  add(chips::gates());
  add(chips::line_decoder());
  registry.add(chips::priority_encoder());
  add(chips::bus_buffer());
  registry.add(chips::data_selector());
  registry.add_rules(chips::rules());
  return registry;
}

}  // namespace prewire
