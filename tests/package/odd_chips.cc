// Libraries that a program must refuse, by what ODD says.
#include <prewire/chip_library.h>

#include <stdexcept>

namespace {

prewire::ChipType thing(const char* name) {
  prewire::ChipType type;
  type.name = name;
  type.title = type.summary = "a thing";
  type.pins = {{.name = "1"}};
  type.make = [](prewire::Socket& socket, const prewire::Parameters&) {
    return std::make_unique<prewire::Chip>(socket);
  };
  return type;
}

void add(prewire::Registry& registry) {
  if (ODD == 2) throw std::runtime_error("no rain today");
  if (ODD == 3) return;
  registry.add(thing(ODD == 4 ? "resistor" : ODD == 5 ? "Rain Sensor" : "thing"));
}

#if ODD == 1
prewire::ChipLibrary later() {
  prewire::ChipLibrary library(add);
  library.interface_number = 999;
  return library;
}
#endif

}  // namespace

#if ODD == 0
extern "C" const int something_else = 0;
#elif ODD == 1
extern "C" const prewire::ChipLibrary prewire_chip_library = later();
#else
extern "C" const prewire::ChipLibrary prewire_chip_library{add};
#endif
