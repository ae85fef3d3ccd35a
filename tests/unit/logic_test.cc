// Three-valued logic, and the functions of all parts that are pure logic.
#include "prewire/logic.h"

#include <algorithm>
#include <array>
#include <random>

#include "machine_fixture.h"

namespace prewire::testing {
namespace {

constexpr Logic kL = Logic::low, kH = Logic::high, kU = Logic::unknown;

TEST(Logic, Tables) {
  // IEEE Std 1164, tables of and, or, xor and not, of '0', '1' and 'X'.
  EXPECT_EQ(!kL, kH);
  EXPECT_EQ(!kH, kL);
  EXPECT_EQ(!kU, kU);
  for (const Logic a : {kL, kH, kU}) {
    EXPECT_EQ(a & kL, kL);
    EXPECT_EQ(a & kH, a);
    EXPECT_EQ(kL & a, kL);
    EXPECT_EQ(a | kH, kH);
    EXPECT_EQ(a | kL, a);
    EXPECT_EQ(kH | a, kH);
    EXPECT_EQ(a ^ kU, kU);
  }
  EXPECT_EQ(kU & kU, kU);
  EXPECT_EQ(kU | kU, kU);
  EXPECT_EQ(kL ^ kH, kH);
  EXPECT_EQ(kH ^ kH, kL);
}

std::vector<std::size_t> pins_that(const ChipType& type, bool listen) {
  std::vector<std::size_t> pins;
  for (std::size_t i = 0; i < type.pins.size(); ++i) {
    if (listen ? type.pins[i].listens : drives(type.pins[i].kind)) pins.push_back(i);
  }
  return pins;
}

/// What is said although some inputs are unknown holds whatever they are.
TEST(Logic, PartsSayNothingThatTheyCannotKnow) {
  std::mt19937 random(1);
  int parts = 0;
  for (const auto& type : bench_registry().types()) {
    if (!type->logic) continue;
    ++parts;
    const std::vector<std::size_t> inputs = pins_that(*type, true), outputs = pins_that(*type, false);
    for (int trial = 0; trial < 2'000; ++trial) {
      std::vector<Logic> pins(type->pins.size(), kL);
      for (const std::size_t pin : inputs) pins[pin] = static_cast<Logic>(random() % 3);
      std::vector<Logic> whole = pins;
      for (const std::size_t pin : inputs) {
        if (whole[pin] == kU) whole[pin] = to_logic(random() % 2 != 0);
      }
      type->logic(pins);
      type->logic(whole);
      for (const std::size_t pin : outputs) {
        ASSERT_NE(whole[pin], kU) << type->name << " " << type->pins[pin].name;
        ASSERT_TRUE(pins[pin] == kU || pins[pin] == whole[pin]) << type->name << " " << type->pins[pin].name;
      }
    }
  }
  EXPECT_EQ(parts, 23);
}

/// Networks of twenty gates, wired at random without rings, against their formulas (common practice).
TEST(Logic, RandomNetworksComeToRestAsTheirFormulasSay) {
  using Formula = bool (*)(bool, bool);
  constexpr std::array<std::pair<const char*, Formula>, 5> kGates = {
      {{"74ls00", [](bool a, bool b) { return !(a && b); }},
       {"74ls02", [](bool a, bool b) { return !(a || b); }},
       {"74ls08", [](bool a, bool b) { return a && b; }},
       {"74ls32", [](bool a, bool b) { return a || b; }},
       {"74ls86", [](bool a, bool b) { return a != b; }}}};
  std::mt19937 random(2);
  for (int network = 0; network < 100; ++network) {
    struct Gate {
      int chip, unit, a, b;  // inputs: 0 to 7 are the hand's, then the gates in their order
    };
    std::vector<Gate> gates;
    for (int i = 0; i < 20; ++i) gates.push_back({i / 4, i % 4 + 1, 0, 0});
    std::shuffle(gates.begin(), gates.end(), random);
    std::string chips = R"("HAND": {"type": "stimulus", "low": 255})", wires;
    for (std::size_t i = 0; i < kGates.size(); ++i) {
      chips += fmt::format(R"(, "U{}": {{"type": "{}"}})", i, kGates[i].first);
    }
    const auto source = [&](int of) {
      if (of < 8) return fmt::format("HAND.P{}", of);
      const Gate& gate = gates[static_cast<std::size_t>(of - 8)];
      return fmt::format("U{}.{}Y", gate.chip, gate.unit);
    };
    for (std::size_t i = 0; i < gates.size(); ++i) {
      gates[i].a = static_cast<int>(random() % (8 + i));
      gates[i].b = static_cast<int>(random() % (8 + i));
      for (const auto& [input, of] : {std::pair('A', gates[i].a), std::pair('B', gates[i].b)}) {
        wires += fmt::format(R"({}["{}", "U{}.{}{}"])", wires.empty() ? "" : ", ", source(of), gates[i].chip,
                             gates[i].unit, input);
      }
    }
    Bench bench(chips, wires);
    std::vector<bool> values(8 + gates.size());
    for (int step = 0; step < 20; ++step) {
      const auto pin = static_cast<std::size_t>(random() % 8);
      values[pin] = !values[pin];
      bench.machine.set("HAND", fmt::format("P{} {}", pin, values[pin] ? "high" : "low"));
      for (std::size_t i = 0; i < gates.size(); ++i) {
        values[8 + i] = kGates[static_cast<std::size_t>(gates[i].chip)].second(
            values[static_cast<std::size_t>(gates[i].a)], values[static_cast<std::size_t>(gates[i].b)]);
        ASSERT_EQ(bench.level(source(static_cast<int>(8 + i))), values[8 + i] ? "high" : "low") << wires;
      }
    }
    EXPECT_EQ(bench.findings(), "");
  }
}

TEST(Logic, PartsTouchNoInput) {
  for (const auto& type : bench_registry().types()) {
    if (!type->logic) continue;
    std::vector<Logic> pins(type->pins.size(), kU);
    for (const std::size_t pin : pins_that(*type, true)) pins[pin] = kH;
    const std::vector<Logic> before = pins;
    type->logic(pins);
    for (std::size_t i = 0; i < pins.size(); ++i) {
      if (drives(type->pins[i].kind)) continue;
      EXPECT_EQ(pins[i], before[i]) << type->name << " " << type->pins[i].name;
    }
  }
}

TEST(Logic, EachPinOfAPackageHasANumberOfItsOwn) {
  for (const auto& type : bench_registry().types()) {
    if (!type->logic) continue;
    for (std::size_t i = 0; i < type->pins.size(); ++i) EXPECT_EQ(type->pins[i].number, i + 1) << type->name;
    EXPECT_GE(type->pin("VCC"), 0) << type->name;
    EXPECT_GE(type->pin("GND"), 0) << type->name;
  }
}

}  // namespace
}  // namespace prewire::testing
