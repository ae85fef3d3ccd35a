// Everything that a person can do at the desk.
#pragma once

#include <cstdint>
#include <string>

namespace prewire::front::desk {

struct Action {
  enum class Kind : std::uint8_t {
    none,
    run,
    step_instruction,
    step_over,
    step_out,
    step_cycle,
    back_instruction,
    back_cycle,
    back_run,
    reset,
    power_cycle,
    reload,
    faster,
    slower,
    toggle_stop,
    ask_stop,
    remove_stop,  ///< `number`: index for `remove_stop`, address for `toggle_stop`
    look,
    theme,
    bigger,
    smaller,
    tab,
    help,
    ask_go,
    picture,
    record,
    focus_next,
    focus_back,
    cancel,
    quit,
    // From the pointer, on something.
    press,
    release,
    flip,
    turn,      ///< a part, `text`; `number`: steps of a knob
    ask_part,  ///< `text`
    choose_line,
    choose_byte,
    move_cursor,  ///< `number`: bytes on
    choose_cycle,
    trace_net,
    hold_net,
    toggle_probe,
    show_tab,
    scroll,        ///< `text`: a panel; `number`: steps down
    ask_register,  ///< `number`: its index
  };
  Kind kind = Kind::none;
  int number = 0;
  std::string text{};
};

}  // namespace prewire::front::desk
