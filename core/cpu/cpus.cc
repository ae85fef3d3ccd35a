#include "cpu/cpus.h"

#include <fmt/format.h>

namespace prewire {

const std::vector<CpuType>& cpu_types() {
  static const std::vector<CpuType> kTypes = [] {
    std::vector<CpuType> types = mc6800_types();
    for (CpuType& type : mc6809_types()) types.push_back(std::move(type));
    return types;
  }();
  return kTypes;
}

const CpuType* find_cpu(std::string_view name) {
  for (const CpuType& type : cpu_types()) {
    if (type.chip.name == name) return &type;
  }
  return nullptr;
}

std::string to_string(const Cpu& cpu) {
  std::string text;
  for (std::size_t i = 0; i < cpu.registers().size(); ++i) {
    const RegisterInfo& info = cpu.registers()[i];
    const std::uint16_t value = cpu.get(i);
    if (!text.empty()) text += ' ';
    text += fmt::format("{}=", info.name);
    if (info.flags.empty()) {
      text += info.bits == 8 ? fmt::format("{:02X}", value) : fmt::format("{:04X}", value);
      continue;
    }
    for (int bit = 7; bit >= 0; --bit) {
      const char name = info.flags[static_cast<std::size_t>(7 - bit)];
      const bool set = (value >> bit & 1) != 0;
      text += name == '1' || set ? name : static_cast<char>(name + ('a' - 'A'));
    }
  }
  return text;
}

}  // namespace prewire
