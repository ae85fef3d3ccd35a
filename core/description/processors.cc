#include "cpu/cpus.h"
#include "description/values.h"
#include "prewire/description.h"

namespace prewire {

const std::vector<ChipType>& processor_types() {
  static const std::vector<ChipType> kTypes = [] {
    std::vector<ChipType> types;
    for (const CpuType& cpu : cpu_types()) {
      types.push_back(cpu.chip);
      types.back().parameters.push_back(clock_setting(cpu));
      if (cpu.internal_ram) types.back().parameters.push_back(ram_setting());
    }
    return types;
  }();
  return kTypes;
}

}  // namespace prewire
