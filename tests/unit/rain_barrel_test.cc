// The rain barrel lab with either processor: the same digits for the same float positions.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <fstream>
#include <string>
#include <vector>

#include "paths.h"
#include "prewire/chips.h"
#include "prewire/history.h"
#include "prewire/machine.h"

namespace prewire::testing {
namespace {

Machine lab(const std::string& name) {
  return Machine::from_file(source_folder() / "scenarios" / "rain_barrel" / name, standard_chips());
}

TEST(RainBarrel, ShowsTheSameDigitsWithEitherProcessor) {
  Machine mc6800 = lab("gauge.json"), mc6809 = lab("gauge-6809.json");
  for (int step = 0; step < 250; ++step) {
    // The middle of a step of the converter: 5.12 V over 256 steps, 20 mV each; one step is one centimetre.
    const std::string volts = fmt::format("{} mV", step * 20);
    std::string shown[2];
    bool lit[2];
    int i = 0;
    for (Machine* machine : {&mc6800, &mc6809}) {
      machine->set("FLOAT", volts);
      machine->run_for(3'000);
      shown[i] = machine->display("LEVEL");
      lit[i++] = machine->net("FULL.K")->level == Level::low;
    }
    EXPECT_EQ(shown[0], fmt::format("{:3}", step)) << volts;
    EXPECT_EQ(shown[1], shown[0]) << volts;
    EXPECT_EQ(lit[0], step >= 200) << volts;
    EXPECT_EQ(lit[1], lit[0]) << volts;
  }
  for (Machine* machine : {&mc6800, &mc6809}) {
    for (const Finding& finding : machine->findings()) ADD_FAILURE() << finding.message;
  }
}

// All lines of port A change in the same moment as the end of conversion, which alone asks for an interrupt.
TEST(RainBarrel, TheEndOfConversionIsWhyIrqFalls) {
  Machine machine = lab("gauge.json");
  machine.set("FLOAT", "2.5 V");
  History history(machine);
  machine.run_for(203);
  const auto fall = history.last({Wanted::Kind::net, 0, 0, "IRQ"});
  ASSERT_TRUE(fall);
  ASSERT_EQ(fall->steps.size(), 2U);
  EXPECT_EQ(fall->steps[0].pin, "PIA.IRQA");
  EXPECT_EQ(fall->steps[1].pin, "ADC.INTR");
  EXPECT_EQ(fall->steps[1].event, "conversion-done");
}

std::vector<std::string> lines(const std::string& name) {
  std::ifstream file(source_folder() / "scenarios" / "rain_barrel" / name);
  std::vector<std::string> lines;
  for (std::string line; std::getline(file, line);) lines.push_back(line);
  return lines;
}

TEST(RainBarrel, SwapsTheProcessorInOneLine) {
  const auto before = lines("gauge.json"), after = lines("gauge-6809.json");
  ASSERT_EQ(before.size(), after.size());
  std::string changed;
  for (std::size_t i = 0; i < before.size(); ++i) {
    if (before[i] != after[i]) changed += after[i] + "\n";
  }
  EXPECT_EQ(changed,
            "  \"machine\": \"Rain barrel gauge with an MC6809\",\n"
            "  \"cpu\": { \"type\": \"mc6809\", \"crystal\": \"4 MHz\" },\n"
            "  \"program\": [\"gauge-6809.asm\"],\n");
}

}  // namespace
}  // namespace prewire::testing
