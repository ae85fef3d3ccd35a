#include "keys.h"

namespace prewire::front::desk {

namespace {

using Kind = Action::Kind;

constexpr KeyBinding kBindings[] = {
    {SDLK_F5, 0, Kind::run, "F5", "run, stop"},
    {SDLK_F10, 0, Kind::step_over, "F10", "one instruction, over a call"},
    {SDLK_F11, 0, Kind::step_instruction, "F11", "one instruction, into a call"},
    {SDLK_F9, 0, Kind::step_cycle, "F9", "one bus cycle"},
    {SDLK_F12, 0, Kind::step_out, "F12", "out of a subroutine"},
    {SDLK_F11, KMOD_SHIFT, Kind::back_instruction, "Shift F11", "one instruction back"},
    {SDLK_F9, KMOD_SHIFT, Kind::back_cycle, "Shift F9", "one bus cycle back"},
    {SDLK_F5, KMOD_SHIFT, Kind::back_run, "Shift F5", "back to the last stop point"},
    {SDLK_F4, 0, Kind::faster, "F4", "faster"},
    {SDLK_F4, KMOD_SHIFT, Kind::slower, "Shift F4", "slower"},
    {SDLK_F6, 0, Kind::toggle_stop, "F6", "stop point at the line"},
    {SDLK_F6, KMOD_SHIFT, Kind::ask_stop, "Shift F6", "stop point to type in"},
    {SDLK_F7, 0, Kind::reset, "F7", "reset"},
    {SDLK_F7, KMOD_SHIFT, Kind::power_cycle, "Shift F7", "power off and on"},
    {SDLK_F8, 0, Kind::reload, "F8", "read the files again"},
    {SDLK_F2, 0, Kind::look, "F2", "full, lecture, wiring"},
    {SDLK_F3, 0, Kind::theme, "F3", "dark, light"},
    {SDLK_PLUS, KMOD_CTRL, Kind::bigger, "Ctrl +", "larger"},
    {SDLK_MINUS, KMOD_CTRL, Kind::smaller, "Ctrl -", "smaller"},
    {SDLK_m, KMOD_CTRL, Kind::tab, "Ctrl M", "memory, findings, stops"},
    {SDLK_g, KMOD_CTRL, Kind::ask_go, "Ctrl G", "go to an address"},
    {SDLK_p, KMOD_CTRL, Kind::picture, "Ctrl P", "save a picture"},
    {SDLK_s, KMOD_CTRL, Kind::record, "Ctrl S", "save as a lab check"},
    {SDLK_TAB, 0, Kind::focus_next, "Tab", "next part"},
    {SDLK_TAB, KMOD_SHIFT, Kind::focus_back, "Shift Tab", "part before"},
    {SDLK_ESCAPE, 0, Kind::cancel, "Esc", "back out"},
    {SDLK_F1, 0, Kind::help, "F1", "this help"},
    {SDLK_q, KMOD_CTRL, Kind::quit, "Ctrl Q", "leave"},
};

}  // namespace

std::span<const KeyBinding> key_bindings() { return kBindings; }

Action::Kind action_for(SDL_Keycode key, std::uint16_t modifiers) {
  const bool shift = (modifiers & KMOD_SHIFT) != 0, control = (modifiers & KMOD_CTRL) != 0;
  if (key == SDLK_EQUALS || key == SDLK_KP_PLUS) key = SDLK_PLUS;
  if (key == SDLK_KP_MINUS) key = SDLK_MINUS;
  for (const KeyBinding& binding : kBindings) {
    if (binding.key != key) continue;
    const bool wants_control = (binding.modifiers & KMOD_CTRL) != 0;
    const bool wants_shift = (binding.modifiers & KMOD_SHIFT) != 0;
    // On many keyboards a plus is a shifted key.
    if (control == wants_control && (shift == wants_shift || wants_control)) return binding.action;
  }
  return Kind::none;
}

}  // namespace prewire::front::desk
