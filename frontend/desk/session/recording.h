// Writes down what was to be seen in a session: runs it again on a machine of its own, a little at a time.
#pragma once

#include <optional>
#include <string>

#include "prewire/description.h"
#include "prewire/lab_check.h"

namespace prewire::front::desk {

class Recording {
 public:
  /// `script` is the text of a check file with one check, and `name` stands for it in messages. Throws `InputError` for
  /// what the machine does not take.
  Recording(const Description& description, std::string script, std::string name);

  /// Goes on for about `budget` seconds. False when it is over.
  bool go_on(double budget);
  /// When it is over: the check file, or nothing if there was nothing to be seen that a check could expect.
  std::optional<std::string> take_text();

 private:
  std::string script_, name_;
  CheckRun run_;
};

}  // namespace prewire::front::desk
