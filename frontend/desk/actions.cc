#include "actions.h"

namespace prewire::desk {

namespace {

using K = Action::Kind;

constexpr KeyBinding kBindings[] = {
    {SDLK_F5, 0, K::run, "F5", "run, stop"},
    {SDLK_F10, 0, K::step_instruction, "F10", "one instruction"},
    {SDLK_F9, 0, K::step_cycle, "F9", "one bus cycle"},
    {SDLK_F11, 0, K::step_over, "F11", "over a call"},
    {SDLK_F12, 0, K::step_out, "F12", "out of a subroutine"},
    {SDLK_F10, KMOD_SHIFT, K::back_instruction, "Shift F10", "one instruction back"},
    {SDLK_F9, KMOD_SHIFT, K::back_cycle, "Shift F9", "one bus cycle back"},
    {SDLK_F5, KMOD_SHIFT, K::back_run, "Shift F5", "back to the last stop point"},
    {SDLK_F4, 0, K::faster, "F4", "faster"},
    {SDLK_F4, KMOD_SHIFT, K::slower, "Shift F4", "slower"},
    {SDLK_F6, 0, K::toggle_stop, "F6", "stop point at the line"},
    {SDLK_F6, KMOD_SHIFT, K::ask_stop, "Shift F6", "stop point to type in"},
    {SDLK_F7, 0, K::reset, "F7", "reset"},
    {SDLK_F7, KMOD_SHIFT, K::power_cycle, "Shift F7", "power off and on"},
    {SDLK_F8, 0, K::reload, "F8", "read the files again"},
    {SDLK_F2, 0, K::look, "F2", "full, lecture, wiring"},
    {SDLK_F3, 0, K::theme, "F3", "dark, light"},
    {SDLK_PLUS, KMOD_CTRL, K::bigger, "Ctrl +", "larger"},
    {SDLK_MINUS, KMOD_CTRL, K::smaller, "Ctrl -", "smaller"},
    {SDLK_m, KMOD_CTRL, K::tab, "Ctrl M", "memory, findings, stops"},
    {SDLK_g, KMOD_CTRL, K::ask_go, "Ctrl G", "go to an address"},
    {SDLK_p, KMOD_CTRL, K::picture, "Ctrl P", "save a picture"},
    {SDLK_s, KMOD_CTRL, K::record, "Ctrl S", "save as a lab check"},
    {SDLK_TAB, 0, K::focus_next, "Tab", "next part"},
    {SDLK_TAB, KMOD_SHIFT, K::focus_back, "Shift Tab", "part before"},
    {SDLK_ESCAPE, 0, K::cancel, "Esc", "back out"},
    {SDLK_F1, 0, K::help, "F1", "this help"},
    {SDLK_q, KMOD_CTRL, K::quit, "Ctrl Q", "leave"},
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
  return K::none;
}

}  // namespace prewire::desk
