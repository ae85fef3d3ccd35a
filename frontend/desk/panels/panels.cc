#include "panels.h"

namespace prewire::front::desk {

void draw_desk(const Stage& stage, Size window, const Layout& layout, const View& view) {
  stage.painter.clip(std::nullopt);
  stage.painter.fill({0, 0, window.w, window.h}, stage.theme.ground);
  draw_header(stage, layout.header, view);
  using Draw = void (*)(const Stage&, const Rect&, const View&);
  const std::pair<const Rect&, Draw> panels[] = {{layout.digits, draw_digits},       {layout.lamps, draw_lamps},
                                                 {layout.knobs, draw_knobs},         {layout.buttons, draw_buttons},
                                                 {layout.registers, draw_registers}, {layout.program, draw_program},
                                                 {layout.tabs, draw_tabs},           {layout.bus, draw_bus},
                                                 {layout.wiring, draw_wiring},       {layout.nets, draw_nets},
                                                 {layout.fault, draw_fault}};
  for (const auto& [box, draw] : panels) {
    if (box.empty()) continue;
    stage.painter.clip(box);
    draw(stage, box, view);
  }
  stage.painter.clip(std::nullopt);
  if (stage.choices.prompting) draw_prompt(stage, window, view);
  if (stage.choices.help) draw_help(stage, window, view);
}

}  // namespace prewire::front::desk
