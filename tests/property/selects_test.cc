// Random decoders, evaluated gate by gate for each address, with R/W and VMA, against the address map that the machine
// found. The truth tables are those of TI, The TTL Data Book, written down once more here.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <array>
#include <map>
#include <memory>
#include <string>
#include <vector>

#include "machine/inside.h"
#include "machine/select_map.h"
#include "prewire/chips.h"
#include "property/random_machine.h"

namespace prewire::testing {
namespace {

/// A register that counts how it is used, and shows its number.
class Counter final : public Chip {
 public:
  Counter(Socket& socket, std::vector<int>* reads, std::vector<int>* writes)
      : Chip(socket), reads_(reads), writes_(writes) {}
  std::uint8_t read(unsigned) override {
    ++reads_->at(static_cast<std::size_t>(socket().name()[1] - '0'));
    return 0xA5;
  }
  void write(unsigned, std::uint8_t) override { ++writes_->at(static_cast<std::size_t>(socket().name()[1] - '0')); }

 private:
  std::vector<int>* reads_;
  std::vector<int>* writes_;
};

struct Gate {
  std::string kind;          // of one 74-series part, the first unit of which is used
  std::vector<int> inputs;   // nets
  std::vector<int> outputs;  // nets
};

// Nets 0 to 15 are address lines, then R/W, VMA, E, high, low, then outputs of gates.
enum : int { kRw = 16, kVma, kE, kHigh, kLow, kFirstGate };

std::string name_of(int net, const std::vector<std::string>& outputs) {
  if (net < 16) return fmt::format("CPU.A{}", net);
  constexpr std::array<const char*, 5> kNames{"CPU.R/W", "CPU.VMA", "CPU.PHI2", "+5V", "GND"};
  return net < kFirstGate ? kNames[static_cast<std::size_t>(net - kRw)]
                          : outputs[static_cast<std::size_t>(net - kFirstGate)];
}

void evaluate(const Gate& gate, std::vector<bool>& level) {
  const auto in = [&](std::size_t i) { return static_cast<bool>(level[static_cast<std::size_t>(gate.inputs[i])]); };
  const auto out = [&](std::size_t i, bool value) { level[static_cast<std::size_t>(gate.outputs[i])] = value; };
  if (gate.kind == "74ls00") out(0, !(in(0) && in(1)));
  if (gate.kind == "74ls02") out(0, !(in(0) || in(1)));
  if (gate.kind == "74ls04") out(0, !in(0));
  if (gate.kind == "74ls08") out(0, in(0) && in(1));
  if (gate.kind == "74ls32") out(0, in(0) || in(1));
  if (gate.kind == "74ls86") out(0, in(0) != in(1));
  if (gate.kind == "74ls138") {
    const unsigned number = (in(0) ? 1U : 0U) + (in(1) ? 2U : 0U) + (in(2) ? 4U : 0U);
    const bool on = in(3) && !in(4) && !in(5);
    for (unsigned i = 0; i < 8; ++i) out(i, !(on && i == number));
  }
}

const std::map<std::string, std::pair<std::vector<std::string>, std::vector<std::string>>>& kinds() {
  static const std::map<std::string, std::pair<std::vector<std::string>, std::vector<std::string>>> kKinds{
      {"74ls00", {{"1A", "1B"}, {"1Y"}}},
      {"74ls02", {{"1A", "1B"}, {"1Y"}}},
      {"74ls04", {{"1A"}, {"1Y"}}},
      {"74ls08", {{"1A", "1B"}, {"1Y"}}},
      {"74ls32", {{"1A", "1B"}, {"1Y"}}},
      {"74ls86", {{"1A", "1B"}, {"1Y"}}},
      {"74ls138", {{"A", "B", "C", "G1", "G2A", "G2B"}, {"Y0", "Y1", "Y2", "Y3", "Y4", "Y5", "Y6", "Y7"}}}};
  return kKinds;
}

class Selects : public ::testing::TestWithParam<int> {};

TEST_P(Selects, AreWhatTheGatesSay) {
  Random random(static_cast<std::uint64_t>(GetParam()) + 77'000);
  std::vector<int> reads(4), writes(4);
  Registry registry = standard_chips();
  ChipType type;
  type.name = "counter";
  type.title = type.summary = "A register that counts its uses";
  for (const char* pin : {"D0", "D1", "D2", "D3", "D4", "D5", "D6", "D7"}) {
    type.pins.push_back({.name = pin,
                         .kind = PinKind::three_state,
                         .implied = Implied::bus,
                         .role = BusRole::data,
                         .bit = static_cast<std::uint8_t>(pin[1] - '0')});
  }
  const auto input = [&](std::string_view pin, BusRole role) {
    type.pins.push_back({.name = pin, .kind = PinKind::input, .implied = Implied::bus, .role = role});
  };
  input("CS", BusRole::select_high);
  input("CSN", BusRole::select_low);
  input("E", BusRole::enable);
  input("R/W", BusRole::read_write);
  type.bus = BusSpec{};
  type.make = [&](Socket& socket, const Parameters&) { return std::make_unique<Counter>(socket, &reads, &writes); };
  registry.add(type);

  std::vector<Gate> gates;
  std::vector<std::string> outputs;
  std::string chips, wires;
  const int count = 2 + random.below(7);
  for (int i = 0; i < count; ++i) {
    auto kind = kinds().begin();
    std::advance(kind, random.below(static_cast<int>(kinds().size())));
    Gate gate{kind->first, {}, {}};
    const auto& [ins, outs] = kind->second;
    chips += fmt::format(R"(, "G{}": {{"type": "{}"}})", i, kind->first);
    for (const std::string& pin : ins) {
      // High lines more often, and what other gates say.
      int net = random.below(kFirstGate + static_cast<int>(outputs.size()));
      if (net < 8 && random.one_in(2)) net += 8;
      if (pin == "G1" && random.one_in(2)) net = kHigh;
      if (pin.starts_with("G2") && random.one_in(2)) net = kLow;
      gate.inputs.push_back(net);
      wires += fmt::format(R"(, ["G{}.{}", "{}"])", i, pin, name_of(net, outputs));
    }
    for (const std::string& pin : outs) {
      gate.outputs.push_back(kFirstGate + static_cast<int>(outputs.size()));
      outputs.push_back(fmt::format("G{}.{}", i, pin));
    }
    gates.push_back(std::move(gate));
  }
  std::array<std::array<int, 2>, 4> selects{};
  for (int chip = 0; chip < 4; ++chip) {
    chips += fmt::format(R"(, "C{}": {{"type": "counter"}})", chip);
    auto& nets = selects[static_cast<std::size_t>(chip)];
    for (int& net : nets) net = random.below(kFirstGate + static_cast<int>(outputs.size()));
    if (random.one_in(2)) nets[0] = kHigh;
    wires += fmt::format(R"(, ["C{0}.D0..D7", "CPU.D0..D7"], ["C{0}.CS", "{1}"], ["C{0}.CSN", "{2}"])"
                         R"(, ["C{0}.E", "CPU.PHI2"], ["C{0}.R/W", "CPU.R/W"])",
                         chip, name_of(nets[0], outputs), name_of(nets[1], outputs));
  }
  const std::string text = fmt::format(
      R"({{"machine": "decoders", "cpu": {{"type": "mc6800", "clock": "1 MHz"}}, "chips": {{{}}}, "wires": [{}]}})",
      chips.substr(2), wires.substr(2));
  LoadOptions options;
  options.run_faulty = true;
  Machine machine = Machine::from_text(text, "decoders.json", registry, options);

  std::vector<bool> level(static_cast<std::size_t>(kFirstGate) + outputs.size());
  const auto selected = [&](std::uint16_t address, bool rw, bool vma, bool e) {
    for (std::size_t i = 0; i < 16; ++i) level[i] = (address >> i & 1) != 0;
    level[kRw] = rw, level[kVma] = vma, level[kE] = e, level[kHigh] = true, level[kLow] = false;
    for (const Gate& gate : gates) evaluate(gate, level);
    std::array<bool, 4> chosen{};
    for (std::size_t chip = 0; chip < 4; ++chip) {
      const auto& [high, low] = selects[chip];
      chosen[chip] = level[static_cast<std::size_t>(high)] && !level[static_cast<std::size_t>(low)];
    }
    return chosen;
  };
  const SelectLogic& logic = Inside::of(machine).selects->logic();
  ASSERT_TRUE(logic.refusals().empty());
  const std::vector<WiredPlace> places = logic.places(Inside::of(machine).selects->state());
  for (std::uint32_t i = 0; i < 65536; ++i) {
    const auto address = static_cast<std::uint16_t>(i);
    std::vector<std::string> names;
    bool driven = false;
    const std::array<bool, 4> reads_it = selected(address, true, true, true),
                              writes_it = selected(address, false, true, true),
                              dead_cycles = selected(address, true, false, true);
    for (std::size_t chip = 0; chip < 4; ++chip) {
      const bool read = reads_it[chip], write = writes_it[chip], dead = dead_cycles[chip];
      const BusMode& mode = places[chip].mode(address);
      const auto where = [&] { return fmt::format("C{} at ${:04X} of {}", chip, address, text); };
      ASSERT_EQ(mode.drives[static_cast<std::size_t>(BusKind::read)], read ? 0xFF : 0) << where();
      ASSERT_EQ(mode.writes(), write) << where();
      ASSERT_EQ(mode.drives[static_cast<std::size_t>(BusKind::idle)], dead ? 0xFF : 0) << where();
      driven = driven || read;
      if (read || write) names.push_back(fmt::format("C{}", chip));
    }
    ASSERT_EQ(machine.answering(address), names) << fmt::format("${:04X} of {}", address, text);
    ASSERT_EQ(machine.lines_at(address), driven ? 0xFF : 0) << fmt::format("${:04X} of {}", address, text);
  }
}

INSTANTIATE_TEST_SUITE_P(Random, Selects, ::testing::Range(0, 300));

}  // namespace
}  // namespace prewire::testing
