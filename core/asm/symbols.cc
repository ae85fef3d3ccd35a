#include "asm/symbols.h"

namespace prewire::assembler {

int Symbols::intern(std::string_view name) {
  if (const auto found = index_.find(name); found != index_.end()) return found->second;
  Symbol& symbol = symbols_.emplace_back();
  symbol.name = name;
  const int id = count() - 1;
  index_.emplace(symbol.name, id);
  return id;
}

int Symbols::find(std::string_view name) const {
  const auto found = index_.find(name);
  return found == index_.end() ? -1 : found->second;
}

std::string Symbols::elsewhere(std::string_view name) const {
  const std::size_t point = name.find('.');
  if (point == std::string_view::npos || count() > kMostSearched) return "";
  const std::string_view local = name.substr(point);
  for (const Symbol& symbol : symbols_) {
    const std::string_view other = symbol.name;
    const std::size_t at = other.find('.');
    if (symbol.kind != Symbol::Kind::undefined && at != std::string_view::npos && other.substr(at) == local) {
      return symbol.name;
    }
  }
  return "";
}

std::string Symbols::near(std::string_view name) const {
  if (count() > kMostSearched) return "";
  std::vector<std::string> names;
  for (const Symbol& symbol : symbols_) {
    if (symbol.kind != Symbol::Kind::undefined) names.push_back(symbol.name);
  }
  return did_you_mean(name, names);
}

}  // namespace prewire::assembler
