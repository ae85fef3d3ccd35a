// Static RAMs: MCM6810, 6116, 62256, and the four bits wide 2112 and 2114. Their cells live in the core.
#include "chips.h"
#include "memory_package.h"

namespace prewire::chips {

namespace {

ChipType make_type(std::string name, std::string title, std::string summary, std::uint32_t size,
                   std::initializer_list<std::string_view> package) {
  ChipType type;
  type.name = std::move(name);
  type.title = std::move(title);
  type.summary = std::move(summary);
  type.pins = memory_pins(package);
  type.parameters.push_back({.name = "power_up",
                             .unit = Unit::choice,
                             .maximum = 2,
                             .help = "what the cells hold when power comes on",
                             .choices = {"random", "zeros", "ones"}});
  type.bus = BusSpec{.kind = BusSpec::Kind::ram, .size = size};
  type.make = [](Socket& socket, const Parameters&) { return std::make_unique<Chip>(socket); };
  return type;
}

ChipType half_wide(ChipType type) {
  type.parameters.push_back({.name = "data",
                             .unit = Unit::choice,
                             .maximum = 1,
                             .help = "the data lines that its four data pins are wired to",
                             .choices = {"D0-D3", "D4-D7"}});
  type.adapt = [](const Parameters& parameters, BusSpec& bus) {
    bus.data_mask = parameters["data"] == 0 ? 0x0F : 0xF0;
  };
  type.bus->data_mask = 0x0F;
  return type;
}

}  // namespace

std::vector<ChipType> static_ram() {
  return {
      make_type("mcm6810", "MCM6810 static RAM, 128 x 8", "128 bytes of RAM with six chip selects.", 128,
                {"GND", "D0",  "D1",  "D2",  "D3", "D4", "D5", "D6", "D7", "CS0", "CS1", "CS2",
                 "CS3", "CS4", "CS5", "R/W", "A6", "A5", "A4", "A3", "A2", "A1",  "A0",  "VCC"}),
      make_type("6116", "6116 static RAM, 2048 x 8", "2 KiB of RAM.", 2048,
                {"A7", "A6", "A5", "A4", "A3", "A2", "A1",  "A0", "D0", "D1", "D2", "GND",
                 "D3", "D4", "D5", "D6", "D7", "CS", "A10", "OE", "WE", "A9", "A8", "VCC"}),
      make_type("62256", "62256 static RAM, 32768 x 8", "32 KiB of RAM.", 32768,
                {"A14", "A12", "A7", "A6", "A5", "A4", "A3",  "A2", "A1",  "A0", "D0", "D1",  "D2", "GND",
                 "D3",  "D4",  "D5", "D6", "D7", "CS", "A10", "OE", "A11", "A9", "A8", "A13", "WE", "VCC"}),
      half_wide(make_type(
          "2112", "2112 static RAM, 256 x 4",
          "256 words of four bits; a second one on the other data lines makes bytes.", 256,
          {"A3", "A2", "A1", "A0", "A5", "A6", "A7", "GND", "I/O1", "I/O2", "I/O3", "I/O4", "CE", "R/W", "A4", "VCC"})),
      half_wide(make_type("2114", "2114 static RAM, 1024 x 4",
                          "1024 words of four bits; a second one on the other data lines makes bytes.", 1024,
                          {"A6", "A5", "A4", "A3", "A0", "A1", "A2", "CS", "GND", "WE", "I/O4", "I/O3", "I/O2", "I/O1",
                           "A9", "A8", "A7", "VCC"})),
  };
}

}  // namespace prewire::chips
