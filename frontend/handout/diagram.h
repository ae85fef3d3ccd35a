// The wiring diagram: chips as they lie on the board, buses as thick lines, every other net by its name.
#pragma once

#include <string>
#include <vector>

#include "board.h"

namespace prewire::handout {

/// One row of the diagram as an SVG document fragment of a fixed width; black on white. A net leaves a row by its name.
std::vector<std::string> diagram(const Board& board);

}  // namespace prewire::handout
