#include "places.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>

namespace prewire::front {

namespace {

// Farther from a label than this an address is hardly part of what the label names.
constexpr int kNear = 0x200;

std::optional<int> parse_offset(std::string_view text) {
  if (const auto hex = parse_address(text)) return *hex;
  int value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || end != text.data() + text.size() || value < 0 || value > 0xFFFF) return std::nullopt;
  return value;
}

}  // namespace

std::optional<std::uint16_t> parse_place(const Machine& machine, std::string_view text) {
  if (const auto address = machine.address_of(text)) return address;
  const std::size_t sign = text.rfind('+');  // a minus is left to ranges
  if (sign == std::string_view::npos || sign == 0) return std::nullopt;
  const auto base = machine.address_of(text.substr(0, sign));
  const auto offset = parse_offset(text.substr(sign + 1));
  if (!base || !offset) return std::nullopt;
  return static_cast<std::uint16_t>(*base + *offset);
}

std::string near_label(const Machine& machine, std::uint16_t address) {
  const std::string_view exact = machine.label_at(address);
  if (!exact.empty()) return std::string(exact);
  const SourceMap::Symbol* best = nullptr;
  for (const Image* program : machine.programs()) {
    if (program->source == nullptr) continue;
    for (const SourceMap::Symbol& symbol : program->source->symbols) {
      if (symbol.kind != SourceMap::SymbolKind::label || symbol.value > address) continue;
      if (best == nullptr || symbol.value > best->value) best = &symbol;
    }
  }
  if (best == nullptr || address - best->value > kNear || !machine.source_at(address)) return "";
  return fmt::format("{}+{}", best->name, address - best->value);
}

std::string place_text(const Machine& machine, std::uint16_t address) {
  const std::string label = near_label(machine, address);
  return fmt::format("${:04X}{}{}", address, label.empty() ? "" : " ", label);
}

std::string source_text(const Machine& machine, std::uint16_t address) {
  const auto place = machine.source_at(address);
  return place ? to_string(*place) : "";
}

std::vector<std::string> label_names(const Machine& machine) {
  std::vector<std::string> names;
  for (const Image* program : machine.programs()) {
    if (program->source == nullptr) continue;
    for (const SourceMap::Symbol& symbol : program->source->symbols) {
      if (symbol.kind != SourceMap::SymbolKind::macro) names.push_back(symbol.name);
    }
  }
  std::sort(names.begin(), names.end());
  names.erase(std::unique(names.begin(), names.end()), names.end());
  return names;
}

}  // namespace prewire::front
