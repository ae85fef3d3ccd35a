// The processors that a machine file may name, and their instruction tables.
#pragma once

#include <functional>
#include <memory>
#include <string_view>
#include <vector>

#include "cpu/instruction.h"
#include "cpu/processor.h"
#include "prewire/chip_type.h"

namespace prewire {

struct CpuType {
  ChipType chip;              ///< name, title, pins; `make` is empty
  int crystal_divisor = 1;    ///< E runs at the crystal's frequency divided by this; 1: the file gives the bus clock
  bool internal_ram = false;  ///< 128 bytes at $0000-$007F
  std::int64_t lowest_millihertz = 0, highest_millihertz = 0;  ///< of E
  const InstructionTable* instructions = nullptr;
  std::function<std::unique_ptr<Processor>(Socket&, Surroundings)> make;
};

/// In the order in which `prewire list` shows them.
const std::vector<CpuType>& cpu_types();
const CpuType* find_cpu(std::string_view name);

std::vector<CpuType> mc6800_types();
std::vector<CpuType> mc6809_types();

}  // namespace prewire
