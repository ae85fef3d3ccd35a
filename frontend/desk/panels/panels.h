// The panels, each in a source of its own. They draw the view, and say where what can be done.
#pragma once

#include "desk/view/view.h"
#include "stage.h"

namespace prewire::front::desk {

void draw_header(const Stage& stage, const Rect& box, const View& view);
void draw_digits(const Stage& stage, const Rect& box, const View& view);
void draw_lamps(const Stage& stage, const Rect& box, const View& view);
void draw_knobs(const Stage& stage, const Rect& box, const View& view);
void draw_buttons(const Stage& stage, const Rect& box, const View& view);
void draw_registers(const Stage& stage, const Rect& box, const View& view);
void draw_program(const Stage& stage, const Rect& box, const View& view);
void draw_tabs(const Stage& stage, const Rect& box, const View& view);
void draw_memory(const Stage& stage, Rect inside, const View& view);
void draw_findings(const Stage& stage, Rect inside, const View& view);
void draw_stops(const Stage& stage, Rect inside, const View& view);
void draw_bus(const Stage& stage, const Rect& box, const View& view);
void draw_wiring(const Stage& stage, const Rect& box, const View& view);
void draw_nets(const Stage& stage, const Rect& box, const View& view);
void draw_fault(const Stage& stage, const Rect& box, const View& view);
void draw_help(const Stage& stage, Size window, const View& view);
void draw_prompt(const Stage& stage, Size window, const View& view);

/// All panels of a layout, and what lies on top of them.
void draw_desk(const Stage& stage, Size window, const Layout& layout, const View& view);

}  // namespace prewire::front::desk
