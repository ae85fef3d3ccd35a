// What the tests of machine descriptions share: a few kinds of chip without behaviour, and faults as text.
#pragma once

#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "description/check.h"
#include "description/parse.h"
#include "paths.h"
#include "prewire/machine.h"

namespace prewire::testing {

inline PinSpec pin(std::string_view name, PinKind kind, Implied implied = Implied::nothing, bool optional = false) {
  return {.name = name, .kind = kind, .implied = implied, .optional = optional};
}

inline ChipType part(std::string name, std::string title, std::vector<PinSpec> pins) {
  ChipType type;
  type.name = std::move(name);
  type.title = std::move(title);
  type.summary = "A part for tests.";
  type.pins = std::move(pins);
  return type;
}

inline ChipType pia() {
  ChipType type = part("mc6821", "MC6821 peripheral interface adapter", {});
  for (const std::string_view name : {"PA0", "PA1", "PA2", "PA3", "PA4", "PA5", "PA6", "PA7"}) {
    type.pins.push_back(pin(name, PinKind::three_state, Implied::nothing, true));  // pulled up inside
  }
  for (const std::string_view name : {"PB0", "PB1", "PB2", "PB3", "PB4", "PB5", "PB6", "PB7"}) {
    type.pins.push_back(pin(name, PinKind::three_state));
  }
  const std::vector<PinSpec> rest = {pin("CA1", PinKind::input),
                                     pin("CA2", PinKind::three_state, Implied::nothing, true),
                                     pin("CB1", PinKind::input),
                                     pin("CB2", PinKind::three_state),
                                     pin("IRQA", PinKind::open_drain),
                                     pin("IRQB", PinKind::open_drain),
                                     pin("RESET", PinKind::input, Implied::reset_line),
                                     pin("D0", PinKind::three_state, Implied::bus),
                                     pin("E", PinKind::input, Implied::bus),
                                     {.name = "VCC", .kind = PinKind::supply, .microvolts = kLogicHigh},
                                     {.name = "VSS", .kind = PinKind::supply}};
  type.pins.insert(type.pins.end(), rest.begin(), rest.end());
  type.bus = BusSpec{};
  type.bus->size = 4;
  return type;
}

inline ChipType adc() {
  ChipType type = part("adc0804", "ADC0804 8-bit converter", {});
  for (const std::string_view name : {"DB0", "DB1", "DB2", "DB3", "DB4", "DB5", "DB6", "DB7"}) {
    type.pins.push_back(pin(name, PinKind::three_state));
  }
  for (const std::string_view name : {"CS", "RD", "WR"}) type.pins.push_back(pin(name, PinKind::input));
  type.pins.push_back(pin("INTR", PinKind::output));
  type.pins.push_back(pin("VIN+", PinKind::analog_in));
  type.pins.push_back(pin("VIN-", PinKind::analog_in));
  type.parameters = {{"clock_r", Unit::ohms, 10'000, 1'000, 100'000, "resistor of the clock"},
                     {"clock_c", Unit::femtofarads, 150'000, 10'000, 10'000'000, "capacitor of the clock"},
                     {"vref_half", Unit::microvolts, 2'500'000, 100'000, 2'600'000, "voltage at VREF/2"},
                     {"error", Unit::millilsb, 0, -1'000, 1'000, "unadjusted error"},
                     {"invert", Unit::flag, 0, 0, 1, "complement the result"}};
  return type;
}

inline ChipType memory(std::string name, std::string title, BusSpec::Kind kind, std::uint32_t size) {
  ChipType type = part(std::move(name), std::move(title), {pin("D0", PinKind::three_state, Implied::bus)});
  type.bus = BusSpec{};
  type.bus->kind = kind;
  type.bus->size = size;
  type.bus->writes = kind == BusSpec::Kind::ram;
  if (kind == BusSpec::Kind::ram) {
    type.parameters = {{"power_up", Unit::choice, 0, 0, 2, "cells at power-on", {"random", "zeros", "ones"}}};
  }
  return type;
}

inline ChipType nibble_ram() {
  ChipType type = memory("2114", "2114 RAM, 1024 words of 4 bits", BusSpec::Kind::ram, 1024);
  type.parameters.push_back({"lines", Unit::choice, 0, 0, 1, "data lines it is wired to", {"low", "high"}, true});
  type.adapt = [](const Parameters& parameters, BusSpec& bus) {
    bus.data_mask = parameters["lines"] == 0 ? 0x0F : 0xF0;
  };
  return type;
}

inline ChipType latch() {
  ChipType type = part("latch", "Output latch, on the bus or clocked by a wire",
                       {pin("D", PinKind::input, Implied::bus), pin("CLK", PinKind::input, Implied::bus),
                        pin("CLEAR", PinKind::input, Implied::reset_line), pin("Q", PinKind::output)});
  type.bus = BusSpec{};
  type.bus->reads = false;
  type.bus->required = false;
  return type;
}

inline ChipType two_ends(std::string name, std::string title, std::string_view first, std::string_view second) {
  return part(std::move(name), std::move(title), {pin(first, PinKind::passive), pin(second, PinKind::passive)});
}

/// The chips of a rain barrel gauge, as far as a description is concerned.
inline const Registry& field_station() {
  static const Registry kRegistry = [] {
    Registry registry;
    registry.add(pia());
    registry.add(adc());
    registry.add(memory("mcm6810", "MCM6810 RAM, 128 bytes", BusSpec::Kind::ram, 128));
    registry.add(memory("2716", "2716 EPROM, 2 KiB", BusSpec::Kind::rom, 2048));
    registry.add(nibble_ram());
    registry.add(latch());

    ChipType resistor = two_ends("resistor", "Resistor", "1", "2");
    resistor.parameters = {{"ohms", Unit::ohms, 0, 1, 10'000'000, "resistance", {}, true}};
    resistor.links = {{0, 1}};
    registry.add(std::move(resistor));

    ChipType button = two_ends("button", "Push button", "a", "b");
    button.parameters = {{"bounce", Unit::picoseconds, 0, 0, 100'000'000'000, "how long the contact bounces"},
                         {"hits", Unit::count, 1, 1, 20, "edges of one bounce"}};
    button.links = {{0, 1}};
    button.looks = Looks::contact;
    registry.add(std::move(button));

    ChipType slider = part("potentiometer", "Potentiometer", {pin("wiper", PinKind::passive)});
    slider.parameters = {{"position", Unit::millionths, 500'000, 0, 1'000'000, "where the slider stands"},
                         {"wobble", Unit::millihertz, 0, 0, 10'000, "of the hand that holds it"}};
    slider.looks = Looks::knob;
    registry.add(std::move(slider));

    registry.add(part("74ls04", "74LS04 inverters, two of the six",
                      {pin("1A", PinKind::input), pin("1Y", PinKind::output),
                       pin("2A", PinKind::input, Implied::nothing, true), pin("2Y", PinKind::output)}));

    ChipType lamp = two_ends("lamp", "LED", "A", "K");
    lamp.looks = Looks::led;
    registry.add(std::move(lamp));

    ChipType digit = part("digit", "Seven-segment digit",
                          {pin("a", PinKind::passive), pin("b", PinKind::passive), pin("c", PinKind::passive),
                           pin("d", PinKind::passive), pin("K", PinKind::passive)});
    digit.looks = Looks::digit;
    registry.add(std::move(digit));
    return registry;
  }();
  return kRegistry;
}

inline std::string text_of(const std::vector<Fault>& faults) {
  std::string text;
  for (const Fault& fault : faults) text += to_string(fault);
  return text;
}

inline std::filesystem::path images() { return test_data() / "images"; }

/// Faults of the data, in the order in which they were found.
inline std::string data_faults(std::string_view json, const std::filesystem::path& folder = {},
                               const LoadOptions& options = {}) {
  std::vector<Fault> faults;
  parse_machine(json, "lab.json", folder, field_station(), options, faults);
  return text_of(faults);
}

/// The description that was read; "" for its faults.
inline MachineSpec parsed(std::string_view json, const std::filesystem::path& folder = {}) {
  std::vector<Fault> faults;
  MachineSpec spec = parse_machine(json, "lab.json", folder, field_station(), {}, faults);
  if (!faults.empty()) throw InputError(faults);
  return spec;
}

/// All faults, as `prewire check` shows them.
inline std::string all_faults(std::string_view json, const std::filesystem::path& folder = {}) {
  return text_of(check_machine(json, "lab.json", folder, field_station()));
}

/// A folder for one test, removed at its end.
class Folder {
 public:
  // With the process in its name: tests run side by side.
  explicit Folder(const std::string& name)
      : path_(std::filesystem::temp_directory_path() / ("prewire-" + name + "-" + std::to_string(getpid()))) {
    std::filesystem::remove_all(path_);
    std::filesystem::create_directories(path_);
  }
  ~Folder() {
    std::error_code error;
    std::filesystem::remove_all(path_, error);
  }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;

  const std::filesystem::path& path() const { return path_; }
  void write(const std::string& name, std::string_view bytes) const {
    std::ofstream(path_ / name, std::ios::binary) << bytes;
  }

 private:
  std::filesystem::path path_;
};

}  // namespace prewire::testing
