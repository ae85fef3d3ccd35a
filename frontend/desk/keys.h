// The keys of the desk, and what they do.
#pragma once

#include <SDL_keycode.h>

#include <cstdint>
#include <span>

#include "desk/panels/action.h"

namespace prewire::front::desk {

struct KeyBinding {
  SDL_Keycode key;
  std::uint16_t modifiers;  ///< KMOD_SHIFT, KMOD_CTRL or 0
  Action::Kind action;
  const char* keys;  ///< as the help shows it
  const char* does;
};

/// In the order of the help.
std::span<const KeyBinding> key_bindings();

/// What a key means, unless something that has the focus takes it.
Action::Kind action_for(SDL_Keycode key, std::uint16_t modifiers);

}  // namespace prewire::front::desk
