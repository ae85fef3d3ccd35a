// Three-valued logic, and the functions of all parts that are pure logic.
#include "prewire/logic.h"

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
