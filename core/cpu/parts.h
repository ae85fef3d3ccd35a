// What the pin tables of all processors have in common.
#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "cpu/cpus.h"
#include "prewire/chip_type.h"

namespace prewire::parts {

inline PinSpec input(std::string_view name, std::uint8_t number, bool optional = false) {
  return {.name = name, .kind = PinKind::input, .number = number, .listens = true, .optional = optional};
}
inline PinSpec output(std::string_view name, std::uint8_t number) {
  return {.name = name, .kind = PinKind::output, .number = number};
}
inline PinSpec supply(std::string_view name, std::uint8_t number, std::int32_t microvolts) {
  return {.name = name, .kind = PinKind::supply, .number = number, .microvolts = microvolts};
}
/// A line on which others ask for an interrupt by a low. What a high for ever does is nobody's harm.
inline PinSpec request(std::string_view name, std::uint8_t number) {
  PinSpec pin = input(name, number, true);
  pin.use = PinUse::request;
  pin.held_low = "somebody asks for an interrupt all the time, and the handler is entered again and again";
  return pin;
}
inline PinSpec nmi(std::uint8_t number) {
  PinSpec pin = input("NMI", number, true);
  pin.use = PinUse::edge_request;
  return pin;
}
inline PinSpec halt(std::uint8_t number) {
  PinSpec pin = input("HALT", number, true);
  pin.use = PinUse::control;
  pin.held_low = "the processor executes nothing";
  return pin;
}
/// High, or low, makes the processor give its bus away.
inline PinSpec bus_request(std::string_view name, std::uint8_t number, bool low) {
  PinSpec pin = input(name, number, true);
  (low ? pin.held_low : pin.held_high) = "the processor gives its bus away for ever";
  return pin;
}
inline PinSpec reset(std::uint8_t number) {
  PinSpec pin = input("RESET", number);
  pin.implied = Implied::reset_line;
  pin.held_low = "the processor stays in reset";
  return pin;
}

/// A0 to A15 and D0 to D7; the functions tell on which pin of the package a line is.
inline void add_buses(std::vector<PinSpec>& pins, std::uint8_t (*address_pin)(int), std::uint8_t (*data_pin)(int)) {
  static constexpr std::array<std::string_view, 16> kAddress{"A0", "A1", "A2",  "A3",  "A4",  "A5",  "A6",  "A7",
                                                             "A8", "A9", "A10", "A11", "A12", "A13", "A14", "A15"};
  static constexpr std::array<std::string_view, 8> kData{"D0", "D1", "D2", "D3", "D4", "D5", "D6", "D7"};
  const auto add = [&](std::string_view name, std::uint8_t number) {
    pins.push_back({.name = name, .kind = PinKind::three_state, .number = number, .implied = Implied::bus});
  };
  for (int line = 0; line < 16; ++line) add(kAddress[static_cast<std::size_t>(line)], address_pin(line));
  for (int line = 0; line < 8; ++line) add(kData[static_cast<std::size_t>(line)], data_pin(line));
}

/// A processor of class `Cpu`. The limits of E are those of the fastest grade, and of all grades downwards.
template <class Cpu>
CpuType make_part(std::string name, std::string title, std::string summary, std::vector<PinSpec> pins, int divisor,
                  const InstructionTable& instructions) {
  CpuType type;
  type.chip.name = std::move(name);
  type.chip.title = std::move(title);
  type.chip.summary = std::move(summary);
  type.chip.pins = std::move(pins);
  type.crystal_divisor = divisor;
  type.highest_millihertz = 2'000'000'000;  // MC68B00, MC68B09
  type.lowest_millihertz = 100'000'000;
  type.instructions = &instructions;
  type.make = [part = type.chip.name](Socket& socket, Surroundings surroundings) {
    return std::make_unique<Cpu>(socket, surroundings, Processor::part_of(find_cpu(part)->chip));
  };
  return type;
}

}  // namespace prewire::parts
