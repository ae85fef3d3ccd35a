#include "machine/impl.h"

namespace prewire {

std::vector<std::string> Machine::displays() const {
  std::vector<std::string> names;
  for (const DisplaySpec& display : impl_->spec.displays) names.push_back(display.name);
  return names;
}

std::vector<std::size_t> Machine::digits(std::string_view group) const {
  for (const DisplaySpec& display : impl_->spec.displays) {
    if (display.name == group) return {display.chips.begin(), display.chips.end()};
  }
  return {};
}

std::string Machine::display(std::string_view group) const {
  std::string text;
  for (const DisplaySpec& display : impl_->spec.displays) {
    if (display.name != group) continue;
    for (int chip : display.chips) {
      const Chip& digit = *impl_->seats[static_cast<std::size_t>(chip)]->chip;
      unsigned lit = 0;
      for (std::size_t i = 0; i < digit.lamps().size(); ++i) lit |= digit.lamps()[i].lit() ? 1U << i : 0;
      text += digit.reads(lit);
    }
  }
  return text;
}

}  // namespace prewire
