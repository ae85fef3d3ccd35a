// What the bus pins of a chip are joined to, and the address decode that the machine file leaves to the board.
#pragma once

#include <string_view>
#include <vector>

#include "board.h"

namespace prewire::handout {

/// Where a bus pin goes.
enum class Role : std::uint8_t {
  data,     ///< data line `bit`
  address,  ///< address line `bit`
  rw,       ///< R/W of the processor
  e,        ///< E, or phase 2 of the MC6800
  select,   ///< the decoder's select, active low
  plus,     ///< +5V: a select or a programming input that is not needed
  ground,
  read,        ///< read strobe, low while E is high and R/W is high
  write,       ///< write strobe, low while E is high and R/W is low
  own_strobe,  ///< read or write strobe of this one address, from the decoder in place of a select
  unknown,     ///< see the data sheet
};

struct BusPin {
  Role role = Role::unknown;
  int bit = 0;
};

BusPin bus_pin(const ChipType& type, const BusSpec& spec, std::string_view pin);

/// What the decoder has to do for a chip; `part` and `output` are left to the caller.
Select select_for(const ChipView& chip, bool has_vma);

/// The range as the fewest aligned blocks.
std::vector<AddressBlock> blocks_of(std::uint16_t first, std::uint16_t last);

}  // namespace prewire::handout
