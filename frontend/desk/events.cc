#include "events.h"

#include "keys.h"

namespace prewire::front::desk {

void Events::handle(const SDL_Event& event) {
  desk_.wake();
  switch (event.type) {
    case SDL_QUIT: desk_.act({Action::Kind::quit}); break;
    case SDL_KEYDOWN: key(event.key); break;
    case SDL_KEYUP:
      if (event.key.keysym.sym == SDLK_SPACE && !key_holds_.empty()) {
        desk_.act({Action::Kind::release, 0, key_holds_});
        key_holds_.clear();
      }
      break;
    case SDL_TEXTINPUT: desk_.type(event.text.text); break;
    case SDL_MOUSEBUTTONDOWN: {
      if (event.button.button != SDL_BUTTON_LEFT) break;
      pointer_ = {event.button.x, event.button.y};
      const HitBox* hit = desk_.hits().at(pointer_);
      if (hit == nullptr) break;
      const HitBox copy = *hit;  // what is done may draw anew
      if (!copy.focus.empty()) desk_.choices().focus = copy.focus;
      if (copy.release.kind != Action::Kind::none) held_ = copy.release;
      desk_.act(copy.press);
      break;
    }
    case SDL_MOUSEBUTTONUP:
      if (event.button.button != SDL_BUTTON_LEFT || !held_) break;
      desk_.act(*held_);
      held_.reset();
      break;
    case SDL_MOUSEMOTION: {
      pointer_ = {event.motion.x, event.motion.y};
      const HitBox* hit = desk_.hits().at(pointer_);
      const Action hover = hit != nullptr ? hit->hover : Action{};
      if (hover.kind != Action::Kind::none) {
        desk_.act(hover);
      } else {
        desk_.choices().bus_cursor.reset();
        if (!desk_.choices().net_held) desk_.choices().net.clear();
      }
      break;
    }
    case SDL_MOUSEWHEEL: {
      const HitBox* hit = desk_.hits().at(pointer_);
      if (hit == nullptr || hit->wheel.kind == Action::Kind::none || event.wheel.y == 0) break;
      Action wheel = hit->wheel;
      wheel.number *= event.wheel.y;
      desk_.act(wheel);
      break;
    }
    case SDL_DROPFILE:
      // SDL gives the name away.
      if (event.drop.file == nullptr) break;
      desk_.open(event.drop.file);
      SDL_free(event.drop.file);
      break;
    default: break;
  }
}

void Events::key(const SDL_KeyboardEvent& event) {
  const SDL_Keycode key = event.keysym.sym;
  if (desk_.choices().prompting) return key_for_prompt(key);
  const Action::Kind kind = action_for(key, event.keysym.mod);
  if (kind == Action::Kind::none) return key_for_focus(key);
  // A key that is held down repeats steps, but does not toggle.
  const bool repeats = kind == Action::Kind::step_instruction || kind == Action::Kind::step_cycle ||
                       kind == Action::Kind::back_instruction || kind == Action::Kind::back_cycle ||
                       kind == Action::Kind::focus_next || kind == Action::Kind::focus_back;
  if (event.repeat != 0 && !repeats) return;
  desk_.act({kind});
}

void Events::key_for_prompt(SDL_Keycode key) {
  switch (key) {
    case SDLK_RETURN:
    case SDLK_KP_ENTER: desk_.answer(); break;
    case SDLK_BACKSPACE: desk_.erase(); break;
    case SDLK_ESCAPE: desk_.choices().prompting = false; break;
    default: break;  // everything else is typed
  }
}

void Events::key_for_focus(SDL_Keycode key) {
  const std::string& focus = desk_.choices().focus;
  const int across = key == SDLK_RIGHT ? 1 : key == SDLK_LEFT ? -1 : 0;
  const int down = key == SDLK_DOWN       ? 1
                   : key == SDLK_UP       ? -1
                   : key == SDLK_PAGEDOWN ? 10
                   : key == SDLK_PAGEUP   ? -10
                                          : 0;
  if (focus.starts_with("part ")) {
    const std::string part = focus.substr(5);
    if (desk_.session().parts().knob(part) != nullptr) {
      if (across != 0 || down != 0) {
        desk_.act({Action::Kind::turn, across - down, part});
      } else if (key == SDLK_RETURN || key == SDLK_KP_ENTER) {
        desk_.act({Action::Kind::ask_part, 0, part});
      }
      return;
    }
    const ContactPart* contact = desk_.session().parts().contact(part);
    if (contact == nullptr || (key != SDLK_SPACE && key != SDLK_RETURN)) return;
    if (!contact->springs) {
      desk_.act({Action::Kind::flip, 0, part});
    } else if (key_holds_.empty() && key == SDLK_SPACE) {
      key_holds_ = part;
      desk_.act({Action::Kind::press, 0, part});
    }
  } else if (focus == "memory") {
    const int columns = desk_.layout().room.memory_columns;
    if (across != 0 || down != 0) desk_.act({Action::Kind::move_cursor, across + down * columns});
  } else if (focus == "program" && down != 0) {
    desk_.act({Action::Kind::scroll, down, "program"});
  } else if (focus == "bus" && across != 0) {
    desk_.act({Action::Kind::scroll, across, "bus"});
  }
}

}  // namespace prewire::front::desk
