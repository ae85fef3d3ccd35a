#include "shared/known_chips.h"

#include <dlfcn.h>
#include <fmt/format.h>

#include <algorithm>
#include <exception>
#include <filesystem>
#include <vector>

#include "prewire/chip_library.h"
#include "prewire/chips.h"
#include "prewire/description.h"
#include "shared/trouble.h"

namespace prewire::front {

namespace {

Registry& registry() {
  static Registry known = standard_chips();
  return known;
}

[[noreturn]] void refuse(const std::string& what, const std::string& expected, const std::string& found,
                         const std::string& hint = "docs/own-chips.md tells how one is made") {
  throw Trouble(Exit::input, what, expected, found, hint);
}

bool is_type_name(const std::string& name) {
  return !name.empty() && std::all_of(name.begin(), name.end(), [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '_' || c == '-' || c == '/';
  });
}

/// What makes a kind of chip impossible, or nothing.
std::string trouble_with(const ChipType& type, const Registry& own) {
  if (!is_type_name(type.name)) return "a name is of small letters, digits, '_', '-' and '/'";
  if (registry().find(type.name) != nullptr) return "there is one of that name already";
  const auto& processors = processor_types();
  const auto same = [&](const ChipType& other) { return other.name == type.name; };
  if (std::any_of(processors.begin(), processors.end(), same)) return "a processor has that name";
  if (type.units.empty() && !type.make) return "it makes no chip";
  if (type.pins.empty()) return "it has no pins";
  for (std::size_t i = 0; i < type.pins.size(); ++i) {
    if (type.pins[i].name.empty()) return "a pin has no name";
    if (type.pins[i].kind == PinKind::none || type.pins[i].kind == PinKind::supply) continue;
    if (type.pin(type.pins[i].name) != static_cast<int>(i)) return fmt::format("two pins are {}", type.pins[i].name);
  }
  const auto has = [&](int pin) { return pin >= 0 && pin < static_cast<int>(type.pins.size()); };
  for (const LinkSpec& link : type.links) {
    if (!has(link.pin_a) || !has(link.pin_b)) return "a link goes to a pin that is not there";
  }
  for (const UnitSpec& unit : type.units) {
    const ChipType* part = own.find(unit.type) != nullptr ? own.find(unit.type) : registry().find(unit.type);
    if (part == nullptr) return fmt::format("there is no {}, which it is made of", unit.type);
    if (unit.pins.size() != part->pins.size() || !std::all_of(unit.pins.begin(), unit.pins.end(), has)) {
      return fmt::format("the pins of its {} are not its own", unit.type);
    }
  }
  return "";
}

}  // namespace

const Registry& known_chips() { return registry(); }

void load_chips(const std::string& file) {
  std::error_code none;
  // Only the file that was named, and nothing that a search path might find.
  const std::filesystem::path path = std::filesystem::absolute(file, none);
  if (!std::filesystem::is_regular_file(path, none)) {
    refuse("--chips names no file", "a shared object with chips", file, "check the path");
  }
  void* library = dlopen(path.c_str(), RTLD_NOW | RTLD_LOCAL);
  if (library == nullptr) {
    const char* why = dlerror();
    refuse(fmt::format("{} cannot be loaded", file), "a shared object with chips", why == nullptr ? "" : why);
  }
  const auto* shown = static_cast<const ChipLibrary*>(dlsym(library, kChipLibrarySymbol));
  if (shown == nullptr) {
    refuse(fmt::format("{} is no library of chips", file), fmt::format("the symbol {}", kChipLibrarySymbol),
           "a shared object without it");
  }
  if (shown->interface_number != ChipLibrary::kInterface) {
    refuse(fmt::format("{} was made for another version", file), fmt::format("interface {}", ChipLibrary::kInterface),
           fmt::format("interface {}", shown->interface_number), fmt::format("build it anew for Prewire {}", kVersion));
  }
  if (!shown->fits() || shown->add == nullptr) {
    refuse(fmt::format("{} was made for another version", file), fmt::format("Prewire {}", kVersion),
           "chips that are laid out in another way", fmt::format("build it anew for Prewire {}", kVersion));
  }
  Registry own;
  try {
    shown->add(own);
  } catch (const std::exception& error) {
    refuse(fmt::format("{} does not add its chips", file), "chips", error.what());
  }
  if (own.types().empty()) refuse(fmt::format("{} adds no chips", file), "chips", "none");
  for (const auto& type : own.types()) {
    const std::string trouble = trouble_with(*type, own);
    if (!trouble.empty()) {
      refuse(fmt::format("{} of {} is no chip that can be used: {}", type->name, file, trouble), "", "");
    }
  }
  for (const auto& type : own.types()) registry().add(*type);
  registry().add_rules(own.rules());
}

void add_chips_option(CLI::App& app) {
  const auto load = [](const std::vector<std::string>& files) {
    for (const std::string& file : files) {
      if (!file.empty()) load_chips(file);  // `refuse_empty` will
    }
  };
  app.add_option_function<std::vector<std::string>>("--chips", load,
                                                    "a shared object with more kinds of chip; may be given again")
      ->type_name("LIBRARY")
      ->allow_extra_args(false);
}

}  // namespace prewire::front
