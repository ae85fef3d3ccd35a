#include "bus.h"

#include <fmt/format.h>

#include <array>

namespace prewire::handout {

namespace {

constexpr bool digit(char c) { return c >= '0' && c <= '9'; }

/// The number behind `prefix`, or -1 where the name is not the prefix and a number.
int number_after(std::string_view name, std::string_view prefix) {
  if (!name.starts_with(prefix) || name.size() == prefix.size()) return -1;
  int number = 0;
  for (const char c : name.substr(prefix.size())) {
    if (!digit(c)) return -1;
    number = number * 10 + (c - '0');
  }
  return number;
}

struct Known {
  std::string_view type, pin;
  Role role;
};

// Selects beyond the usual single one, active low. MCM6810: CS0 and CS3 are active high; it has no output enable, so E
// is one of its selects (NTE6810 data sheet). MC6821: CS0 and CS1 are active high (MC6821 data sheet).
constexpr std::array<Known, 11> kKnown{{{"mcm6810", "CS0", Role::e},
                                        {"mcm6810", "CS1", Role::select},
                                        {"mcm6810", "CS2", Role::ground},
                                        {"mcm6810", "CS3", Role::plus},
                                        {"mcm6810", "CS4", Role::ground},
                                        {"mcm6810", "CS5", Role::ground},
                                        {"mc6850", "CS0", Role::plus},
                                        {"mc6850", "CS1", Role::plus},
                                        {"mc6850", "CS2", Role::select},
                                        {"mc6840", "CS0", Role::select},
                                        {"mc6840", "CS1", Role::plus}}};

/// A latch or buffer without registers: the decoder makes its strobe.
bool is_port(const ChipType& type) { return type.name.starts_with("74"); }

}  // namespace

BusPin bus_pin(const ChipType& type, const BusSpec& spec, std::string_view pin) {
  for (const Known& known : kKnown) {
    if (known.type == type.name && known.pin == pin) return {known.role, 0};
  }
  const int low_data = (spec.data_mask & 0x0F) != 0 ? 0 : 4;
  if (const int bit = number_after(pin, "I/O"); bit > 0) return {Role::data, low_data + bit - 1};
  for (const std::string_view prefix : {"D", "DB", "DI", "O"}) {
    if (const int bit = number_after(pin, prefix); bit >= 0 && bit < 8) return {Role::data, bit};
  }
  if (is_port(type) && pin.size() == 2 && digit(pin[0]) && pin[1] == 'D') return {Role::data, pin[0] - '1'};
  if (is_port(type) && pin.size() == 3 && pin[1] == 'Y') return {Role::data, (pin[0] - '1') * 4 + pin[2] - '1'};
  if (is_port(type) && pin.size() == 2 && pin[1] == 'G') return {Role::own_strobe, 0};
  for (const std::string_view prefix : {"A", "RS"}) {
    if (const int bit = number_after(pin, prefix); bit >= 0 && bit < 16) return {Role::address, bit};
  }
  if (pin == "RS") return {Role::address, 0};
  if (pin == "R/W") return {Role::rw, 0};
  if (pin == "E") return {Role::e, 0};
  if (pin == "CS0" || pin == "CS1") return {Role::plus, 0};
  if (pin == "CS2" || pin == "CS" || pin == "CE" || pin == "CE/PGM") return {Role::select, 0};
  if (pin == "OE" || pin == "OE/VPP" || pin == "RD") return {Role::read, 0};
  if (pin == "WE" || pin == "WR") return {Role::write, 0};
  if (pin == "PGM") return {Role::plus, 0};
  if (pin == "LE" || pin == "CLK") return {Role::own_strobe, 0};
  return {};
}

std::vector<AddressBlock> blocks_of(std::uint16_t first, std::uint16_t last) {
  std::vector<AddressBlock> blocks;
  std::uint32_t at = first;
  const std::uint32_t end = std::uint32_t{last} + 1;
  while (at < end) {
    std::uint32_t size = 1;
    while (at % (size * 2) == 0 && at + size * 2 <= end && size < 0x10000) size *= 2;
    blocks.push_back({static_cast<std::uint16_t>(0x10000 - size), static_cast<std::uint16_t>(at)});
    at += size;
  }
  return blocks;
}

Select select_for(const ChipView& chip, bool has_vma) {
  const BusPlace& place = *chip.place;
  Select select;
  select.blocks = blocks_of(place.mirror_first, place.mirror_last);
  select.vma = has_vma;
  select.data_mask = place.spec.data_mask;
  select.reads = place.spec.reads;
  select.writes = place.spec.writes;
  if (is_port(*chip.type)) {
    select.rw = place.spec.reads ? 1 : 0;
    select.e = true;
    select.high = chip.type->pin("LE") >= 0;
  }
  select.e = select.e || chip.type->name == "2112";  // no output enable, no E
  select.where = fmt::format("${:04X}-${:04X}", place.mirror_first, place.mirror_last);
  if (place.mirror_first == place.mirror_last) select.where = fmt::format("${:04X}", place.mirror_first);
  const std::uint32_t span = std::uint32_t{place.mirror_last} - place.mirror_first + 1;
  if (span > place.spec.size) {
    select.where +=
        fmt::format("; its own {} {}, {} times", place.spec.size, place.spec.size == 1 ? "address" : "addresses",
                    (span + place.spec.size - 1) / place.spec.size);
  }
  return select;
}

bool Select::covers(std::uint16_t address) const {
  for (const AddressBlock& block : blocks) {
    if ((address & block.mask) == block.value) return true;
  }
  return false;
}

std::string condition(const Select& select) {
  std::string text;
  for (const AddressBlock& block : select.blocks) {
    if (block.mask == 0) continue;
    std::string lines, values;
    for (int bit = 15; bit >= 0; --bit) {
      if ((block.mask >> bit & 1) == 0) continue;
      lines += fmt::format("{}A{}", lines.empty() ? "" : " ", bit);
      values += fmt::format("{}{}", values.empty() ? "" : " ", block.value >> bit & 1);
    }
    text += fmt::format("{}{} = {}", text.empty() ? "" : ", or ", lines, values);
  }
  if (select.blocks.size() > 1) text = "(" + text + ")";
  const auto also = [&](std::string_view what) { text += fmt::format("{}{}", text.empty() ? "" : " and ", what); };
  if (select.vma) also("VMA = 1");
  if (select.rw >= 0) also(select.rw == 1 ? "R/W = 1" : "R/W = 0");
  if (select.e) also("E = 1");
  return text.empty() ? "always" : text;
}

std::vector<std::pair<int, int>> clashes(const std::vector<Select>& selects) {
  std::vector<std::pair<int, int>> pairs;
  for (std::size_t a = 0; a < selects.size(); ++a) {
    for (std::size_t b = a + 1; b < selects.size(); ++b) {
      if ((selects[a].data_mask & selects[b].data_mask) == 0) continue;  // two halves of a byte
      if (!(selects[a].reads && selects[b].reads) && !(selects[a].writes && selects[b].writes)) continue;
      for (std::uint32_t address = 0; address <= 0xFFFF; ++address) {
        const auto here = static_cast<std::uint16_t>(address);
        if (!selects[a].covers(here) || !selects[b].covers(here)) continue;
        pairs.emplace_back(static_cast<int>(a), static_cast<int>(b));
        break;
      }
    }
  }
  return pairs;
}

}  // namespace prewire::handout
