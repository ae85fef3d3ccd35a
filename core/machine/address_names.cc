// Names that a machine gives to addresses.
#include <fmt/format.h>

#include <algorithm>

#include "prewire/disassembler.h"
#include "prewire/machine.h"

namespace prewire {

namespace {

/// What the name of a chip becomes in a name of the assembler.
std::string plain(std::string_view text) {
  std::string name(text);
  for (char& c : name) {
    const bool good =
        (c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || c == '_' || c == '.';
    if (!good) c = '_';
  }
  const char first = name.empty() ? '0' : name.front();
  return first == '.' || (first >= '0' && first <= '9') ? "_" + name : name;
}

bool has_registers(const ChipView& chip) { return chip.place && chip.place->spec.kind == BusSpec::Kind::registers; }

/// Labels, and constants that are the address of a register. Those of macros have no name that could be written.
void add_symbols(const SourceMap& map, const std::vector<ChipView>& chips, std::vector<AddressName>& names) {
  for (const SourceMap::Symbol& symbol : map.symbols) {
    if (symbol.value < 0 || symbol.value > 0xFFFF || symbol.name.find('#') != std::string::npos) continue;
    const auto address = static_cast<std::uint16_t>(symbol.value);
    const bool device = std::any_of(chips.begin(), chips.end(), [&](const ChipView& chip) {
      return has_registers(chip) && address >= chip.place->mirror_first && address <= chip.place->mirror_last;
    });
    const bool label = symbol.kind == SourceMap::SymbolKind::label;
    if (label || (device && symbol.kind == SourceMap::SymbolKind::constant))
      names.push_back({address, symbol.name, {}});
  }
}

/// `PIA.CRA`, and `PIA.CRA_4005` where it shows again.
void add_registers(const Machine& machine, const ChipView& chip, std::vector<AddressName>& names) {
  const BusPlace& place = *chip.place;
  for (std::uint32_t at = place.mirror_first; at <= place.mirror_last; ++at) {
    const auto address = static_cast<std::uint16_t>(at);
    const bool first = address >= place.first && address <= place.last;
    if (!first && machine.answering(address) != std::vector{std::string(chip.name)}) continue;
    const std::uint32_t reg = place.reg(address);
    AddressName name{address, plain(chip.name), chip.type->name};
    if (reg < place.spec.registers.size()) {
      const std::string_view words = place.spec.registers[reg];
      const std::size_t blank = words.find(' ');
      name.name += fmt::format(".{}", words.substr(0, blank));
      if (blank != std::string_view::npos) name.about += fmt::format(", also {}", words.substr(blank + 1));
    } else if (place.spec.size > 1) {
      name.name += fmt::format(".{}", reg);
    }
    if (!first) {
      name.name += fmt::format("_{:04X}", address);
      name.about += fmt::format(", as at ${:04X}", place.first + ((address - place.first) & (place.spec.size - 1)));
    }
    names.push_back(std::move(name));
  }
}

}  // namespace

std::vector<AddressName> address_names(const Machine& machine) {
  const std::vector<ChipView> chips = machine.chips();
  std::vector<AddressName> names;
  for (const Image* program : machine.programs()) {
    if (program->source != nullptr) add_symbols(*program->source, chips, names);
  }
  for (const ChipView& chip : chips) {
    if (has_registers(chip)) add_registers(machine, chip, names);
  }
  return names;
}

}  // namespace prewire
