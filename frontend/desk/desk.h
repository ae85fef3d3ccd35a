// The desk: takes what a person does, lets the machine run, draws. It knows no window, so that tests can drive it.
#pragma once

#include <SDL_events.h>

#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <string>

#include "desk/panels/hits.h"
#include "desk/panels/layout.h"
#include "desk/panels/painter.h"
#include "desk/session/session.h"
#include "desk/view/view.h"

namespace prewire::front::desk {

class Desk {
 public:
  explicit Desk(const Registry& registry, LoadOptions options = {}) : session_(registry, std::move(options)) {}

  Session& session() { return session_; }
  Choices& choices() { return choices_; }

  void open(const std::filesystem::path& file, const std::string& check = {});
  /// Keys, pointer, wheel, typed text, dropped files. Looks at the event alone, never at the state of devices.
  void handle(const SDL_Event& event);
  void act(const Action& action);
  /// Lets `seconds` pass: the machine runs, files are looked at, messages fade.
  void pass(double seconds, double budget = 0.012);
  void draw(Painter& painter, Size window);

  bool over() const { return over_; }
  /// Something may look different from the last frame.
  bool lively() const { return dirty_ || session_.busy() || recording_ || !choices_.note.empty(); }
  const HitBoxes& hits() const { return hits_; }
  const View& view() const { return view_; }
  const Layout& layout() const { return layout_; }

  /// Saves the picture on the screen; set by whoever has one. Returns the name of the file.
  std::function<std::string()> save_picture;
  /// Saves a check file under a new name; returns what to say of it.
  std::function<std::string(const std::string&)> save_recording;

 private:
  void key(const SDL_KeyboardEvent& event);
  void key_for_focus(SDL_Keycode key);
  void key_for_prompt(SDL_Keycode key);
  void typed(const std::string& text);
  void type_hex(char digit);
  void answer();
  void ask(std::string what);
  void step(Step step);
  void move_focus(int by);
  void scroll(const std::string& panel, int lines);
  void move_cursor(int bytes);
  void choose_cycle(int index);
  void turn(const std::string& part, int steps);
  void note(std::string text);
  void record();
  void go_on_recording();
  Needs needs() const;

  Session session_;
  std::unique_ptr<Recording> recording_;
  Choices choices_;
  HitBoxes hits_;
  View view_;
  Layout layout_;
  bool over_ = false, dirty_ = true;
  std::optional<Action> held_;  // what is done when the pointer comes up
  std::string key_holds_;       // button that a key holds down
  Point pointer_;
  double note_left_ = 0, until_look_ = 0, until_still_ = 0;
};

}  // namespace prewire::front::desk
