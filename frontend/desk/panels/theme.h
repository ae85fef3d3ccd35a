// Colours by what they mean. Text and ground are chosen for a contrast of 7 or more; what a colour says is also said by
// a shape or a character.
#pragma once

#include <array>

#include "desk/view/choices.h"
#include "painter.h"

namespace prewire::front::desk {

struct Theme {
  Colour ground, panel, border, grid;
  Colour text, muted, accent;                 ///< on `ground` and `panel`
  Colour active, on_active;                   ///< what is chosen, fetched, set
  Colour write, on_write;                     ///< what is written or pressed
  Colour stop, on_stop;                       ///< what is wrong
  Colour row, on_row, row_accent;             ///< the line that is next
  Colour key, on_key;                         ///< what can be pressed
  Colour well, on_well;                       ///< what is typed into, the slot of a switch
  Colour high, low, unsure;                   ///< levels of nets, as lines and dots
  Colour lit, unlit, glass;                   ///< digits
  std::array<std::array<Colour, 2>, 5> leds;  ///< unlit and lit: red, yellow, green, blue, white
};

const Theme& theme(ThemeName name);

/// WCAG 2.1, "contrast ratio": 1 to 21.
double contrast(Colour a, Colour b);

}  // namespace prewire::front::desk
