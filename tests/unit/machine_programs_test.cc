// What a machine knows of its programs and its wiring.
#include <gtest/gtest.h>

#include "paths.h"
#include "prewire/chips.h"
#include "prewire/machine.h"

namespace prewire::testing {
namespace {

/// The registry ends before the machine does.
Machine gauge() {
  return Machine::from_file(source_folder() / "scenarios" / "rain_barrel" / "gauge.json", standard_chips());
}

TEST(MachinePrograms, KnowsTheLineOfSourceOfEachByte) {
  const Machine machine = gauge();
  ASSERT_EQ(machine.programs().size(), 1U);
  const SourceMap& map = *machine.programs()[0]->source;
  for (const SourceMap::Symbol& symbol : map.symbols) {
    if (symbol.kind != SourceMap::SymbolKind::label) continue;
    const auto address = machine.address_of(symbol.name);
    ASSERT_TRUE(address) << symbol.name;
    EXPECT_EQ(*address, symbol.value);
    EXPECT_FALSE(machine.label_at(*address).empty());
    const auto place = machine.source_at(*address);
    if (!place) continue;  // a label of RMB at its end
    EXPECT_EQ(place->line->address, *address);
    EXPECT_NE(to_string(*place).find("gauge.asm:"), std::string::npos) << to_string(*place);
  }
  EXPECT_EQ(machine.address_of("$E000"), 0xE000);
  EXPECT_FALSE(machine.address_of("nobody"));
  EXPECT_FALSE(machine.source_at(0x4000));
  EXPECT_EQ(machine.label_at(0x4001), "");
}

TEST(MachinePrograms, ListsNetsWithTheirPins) {
  const Machine machine = gauge();
  const auto chips = machine.chips();
  const auto name = [&](const NetView::Pin& pin) {
    const ChipView chip = pin.chip < 0 ? machine.processor() : chips[static_cast<std::size_t>(pin.chip)];
    return std::string(chip.name) + "." + std::string(chip.type->pins[static_cast<std::size_t>(pin.pin)].name);
  };
  int rails = 0;
  for (const NetView& net : machine.nets()) {
    rails += net.rail ? 1 : 0;
    for (const NetView::Pin& pin : net.pins) {
      const auto state = machine.net(name(pin));
      ASSERT_TRUE(state) << name(pin);
      EXPECT_EQ(state->level, net.state.level) << name(pin);
    }
  }
  EXPECT_EQ(rails, 2);  // GND and +5V
}

TEST(MachinePrograms, KnowsWhereAChipAnswers) {
  const Machine machine = gauge();
  for (const ChipView& chip : machine.chips()) {
    if (!chip.place) continue;
    EXPECT_TRUE(chip.type->bus) << chip.name;
    for (int address = chip.place->first; address <= chip.place->last; ++address) {
      EXPECT_EQ(machine.answering(static_cast<std::uint16_t>(address)), std::vector{std::string(chip.name)});
    }
  }
}

}  // namespace
}  // namespace prewire::testing
