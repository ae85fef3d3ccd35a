// Where the processors find the addresses at which they begin.
#pragma once

#include <cstdint>
#include <string_view>

#include "asm/mnemonics.h"

namespace prewire::assembler {

struct Vector {
  std::uint16_t address;
  std::string_view name;  ///< empty for one that is reserved
};

// MC6800 data sheet, table "Memory map for interrupt vectors"; M6809PM, table 1-2.
inline constexpr Vector kVectors[] = {{0xFFF0, ""},    {0xFFF2, "SWI3"}, {0xFFF4, "SWI2"}, {0xFFF6, "FIRQ"},
                                      {0xFFF8, "IRQ"}, {0xFFFA, "SWI"},  {0xFFFC, "NMI"},  {0xFFFE, "RESET"}};

/// Whether the processor has it. The MC6800 has the last four.
inline bool has_vector(Target::Family family, const Vector& vector) {
  return family == Target::Family::mc6809 || vector.address >= 0xFFF8;
}

}  // namespace prewire::assembler
