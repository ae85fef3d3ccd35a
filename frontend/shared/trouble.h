// What ends a command early, with one message.
#pragma once

#include <exception>
#include <string>
#include <vector>

#include "exit.h"

namespace prewire::front {

class Trouble : public std::exception {
 public:
  /// `what` is one sentence; the others may be empty. Each is shown in one line, whatever it holds.
  Trouble(Exit exit, const std::string& what, const std::string& expected = {}, const std::string& found = {},
          const std::string& hint = {});

  Exit exit() const { return exit_; }
  const char* what() const noexcept override { return text_.c_str(); }
  /// The same with where it came up before the sentence, and with another status.
  Trouble at(const std::string& place, Exit exit) const;

 private:
  Exit exit_;
  std::string what_, expected_, found_, hint_;
  std::string text_;
};

/// `did you mean --until?`, or `otherwise`.
std::string meant(const std::string& word, const std::vector<std::string>& candidates,
                  const std::string& otherwise = {});

}  // namespace prewire::front
