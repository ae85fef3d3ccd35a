// Decoders: 74LS138, 74LS139, 74LS145, 74LS154. TI, The TTL Data Book, function tables and pin assignments.
#include <vector>

#include "chips.h"
#include "logic_chip.h"

namespace prewire::chips {

namespace {

// TI, SN74LS145: 24 mA at 0.5 V; lamps and relays 80 mA, at up to 3 V (the voltages from memory).
constexpr PinLimits kLampDriver{
    .sink = 24'000, .sink_at = 500'000, .high = 250, .lamp_sink = 80'000, .lamp_sink_at = 3'000'000};

/// One decoder of a package: `first` and so on are its outputs, the lowest number first.
template <std::size_t Inputs>
struct Decoder {
  std::array<int, Inputs> code;  // the lowest bit first
  std::vector<int> on, off;      // enables that are high, and low, while it works
  std::vector<int> outputs;
  bool drains = false;

  void operator()(std::span<Logic> pins) const {
    Logic enabled = Logic::high;
    for (const int pin : on) enabled = enabled & pins[static_cast<std::size_t>(pin)];
    for (const int pin : off) enabled = enabled & (!pins[static_cast<std::size_t>(pin)]);
    for (std::size_t i = 0; i < outputs.size(); ++i) {
      const Logic value = !(enabled & is_number(pins, code, static_cast<unsigned>(i)));
      pins[static_cast<std::size_t>(outputs[i])] = drains ? sinks(value) : value;
    }
  }
};

std::vector<int> outputs_of(const ChipType& type, std::string_view prefix, int count) {
  std::vector<int> pins;
  for (int i = 0; i < count; ++i) pins.push_back(type.pin(std::string(prefix) + std::to_string(i)));
  return pins;
}

LogicPackage plain(std::string_view name, std::string_view title, std::string_view summary, std::string_view pins) {
  return {.name = name,
          .title = title,
          .summary = summary,
          .pins = pins,
          .output_limits = &kLsOutput,
          .input_limits = &kLsInput};
}

ChipType ls138() {
  ChipType type = logic_type(plain("74ls138", "74LS138 three-to-eight decoder",
                                   "The output with the number C B A is low while G1 is high and G2A and G2B are low; "
                                   "else all are high.",
                                   "A B C G2A G2B G1 >Y7 GND >Y6 >Y5 >Y4 >Y3 >Y2 >Y1 >Y0 VCC"));
  Decoder<3> decoder{find_pins(type, "A", "B", "C"), {type.pin("G1")}, {type.pin("G2A"), type.pin("G2B")}, {}};
  decoder.outputs = outputs_of(type, "Y", 8);
  return logic_ready(std::move(type), std::move(decoder));
}

ChipType ls139() {
  ChipType type = logic_type(plain("74ls139", "74LS139 dual two-to-four decoder",
                                   "The output with the number B A of a half is low while its G is low; else all four "
                                   "are high.",
                                   "1G 1A 1B >1Y0 >1Y1 >1Y2 >1Y3 GND >2Y3 >2Y2 >2Y1 >2Y0 2B 2A 2G VCC"));
  Decoder<2> first{find_pins(type, "1A", "1B"), {}, {type.pin("1G")}, outputs_of(type, "1Y", 4)};
  Decoder<2> second{find_pins(type, "2A", "2B"), {}, {type.pin("2G")}, outputs_of(type, "2Y", 4)};
  return logic_ready(std::move(type), [first, second](std::span<Logic> pins) {
    first(pins);
    second(pins);
  });
}

ChipType ls145() {
  LogicPackage package = plain("74ls145", "74LS145 BCD-to-decimal decoder and driver",
                               "The output with the number D C B A sinks up to 80 mA and the others let go; numbers "
                               "above 9 switch all off.",
                               ">Y0 >Y1 >Y2 >Y3 >Y4 >Y5 >Y6 GND >Y7 >Y8 >Y9 D C B A VCC");
  package.outputs = PinKind::open_drain;
  package.output_limits = &kLampDriver;
  ChipType type = logic_type(package);
  Decoder<4> decoder{find_pins(type, "A", "B", "C", "D"), {}, {}, outputs_of(type, "Y", 10), true};
  return logic_ready(std::move(type), std::move(decoder));
}

ChipType ls154() {
  ChipType type =
      logic_type(plain("74ls154", "74LS154 four-to-sixteen decoder",
                       "The output with the number D C B A is low while G1 and G2 are low; else all are high.",
                       ">Y0 >Y1 >Y2 >Y3 >Y4 >Y5 >Y6 >Y7 >Y8 >Y9 >Y10 GND >Y11 >Y12 >Y13 >Y14 >Y15 G1 G2 D C B A VCC"));
  Decoder<4> decoder{
      find_pins(type, "A", "B", "C", "D"), {}, {type.pin("G1"), type.pin("G2")}, outputs_of(type, "Y", 16)};
  return logic_ready(std::move(type), std::move(decoder));
}

}  // namespace

std::vector<ChipType> line_decoder() { return {ls138(), ls139(), ls145(), ls154()}; }

}  // namespace prewire::chips
