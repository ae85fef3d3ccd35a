// Keys, pointer, wheel, typed text and dropped files, as SDL tells of them: what a person does at a desk.
#pragma once

#include <SDL_events.h>

#include <optional>
#include <string>

#include "desk.h"

namespace prewire::front::desk {

class Events {
 public:
  /// The desk must outlive it.
  explicit Events(Desk& desk) : desk_(desk) {}

  /// Looks at the event alone, never at the state of devices.
  void handle(const SDL_Event& event);

 private:
  void key(const SDL_KeyboardEvent& event);
  void key_for_focus(SDL_Keycode key);
  void key_for_prompt(SDL_Keycode key);

  Desk& desk_;
  std::optional<Action> held_;  // what is done when the pointer comes up
  std::string key_holds_;       // button that a key holds down
  Point pointer_;
};

}  // namespace prewire::front::desk
