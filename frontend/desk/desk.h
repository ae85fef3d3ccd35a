// The desk: does what a person asks for, lets the machine run, draws. It knows no window, so that tests can drive it.
#pragma once

#include <filesystem>
#include <functional>
#include <memory>
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
  void act(const Action& action);
  /// Text goes into the answer to what is asked, or as hex digits into memory that has the focus.
  void type(const std::string& text);
  /// The last character of the answer.
  void erase();
  /// Takes the answer as it is.
  void answer();
  /// Lets `seconds` pass: the machine runs, files are looked at, messages fade.
  void pass(double seconds, double budget = 0.012);
  void draw(Painter& painter, Size window);

  /// Something has happened that may show.
  void wake() { dirty_ = true; }
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
  void type_hex(char digit);
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
  double note_left_ = 0, until_look_ = 0, until_still_ = 0;
};

}  // namespace prewire::front::desk
