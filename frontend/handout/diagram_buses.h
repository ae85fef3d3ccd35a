// Nets that run side by side and are drawn as one thick line.
#pragma once

#include <string>
#include <vector>

#include "board.h"

namespace prewire::handout {

struct DrawnBus {
  std::string name;       ///< "D0-D7", "PIA PA0-PA7"
  std::vector<int> nets;  ///< indices into `Board::nets`, three or more
};

std::vector<DrawnBus> drawn_buses(const Board& board);

}  // namespace prewire::handout
