// EPROMs: 2716, 2732, 2764, 27256. Their contents live in the core; a program image fills them.
#include "chips.h"
#include "memory_package.h"

namespace prewire::chips {

namespace {

ChipType make_type(std::string name, std::uint32_t size, std::initializer_list<std::string_view> package) {
  ChipType type;
  type.name = std::move(name);
  type.title = type.name + " EPROM, " + std::to_string(size) + " x 8";
  type.summary = std::to_string(size / 1024) + " KiB of read-only memory; cells without a program are erased, $FF.";
  type.pins = memory_pins(package);
  type.bus = BusSpec{.kind = BusSpec::Kind::rom, .size = size, .writes = false};
  type.make = [](Socket& socket, const Parameters&) { return std::make_unique<Chip>(socket); };
  return type;
}

}  // namespace

std::vector<ChipType> rom() {
  return {
      make_type("2716", 2048, {"A7", "A6", "A5", "A4", "A3", "A2",     "A1",  "A0", "O0",  "O1", "O2", "GND",
                               "O3", "O4", "O5", "O6", "O7", "CE/PGM", "A10", "OE", "VPP", "A9", "A8", "VCC"}),
      make_type("2732", 4096, {"A7", "A6", "A5", "A4", "A3", "A2", "A1",  "A0",     "O0",  "O1", "O2", "GND",
                               "O3", "O4", "O5", "O6", "O7", "CE", "A10", "OE/VPP", "A11", "A9", "A8", "VCC"}),
      make_type("2764", 8192,
                {"VPP", "A12", "A7", "A6", "A5", "A4", "A3",  "A2", "A1",  "A0", "O0", "O1", "O2",  "GND",
                 "O3",  "O4",  "O5", "O6", "O7", "CE", "A10", "OE", "A11", "A9", "A8", "NC", "PGM", "VCC"}),
      make_type("27256", 32768,
                {"VPP", "A12", "A7", "A6", "A5", "A4", "A3",  "A2", "A1",  "A0", "O0", "O1",  "O2",  "GND",
                 "O3",  "O4",  "O5", "O6", "O7", "CE", "A10", "OE", "A11", "A9", "A8", "A13", "A14", "VCC"}),
  };
}

}  // namespace prewire::chips
