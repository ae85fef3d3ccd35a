// Lines from a person at a terminal, with editing, completion and the lines before.
#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace prewire::front::debug {

class Terminal {
 public:
  /// `complete` returns what the last word of a line can become.
  using Complete = std::function<std::vector<std::string>(std::string_view line)>;

  Terminal(std::string prompt, Complete complete);
  ~Terminal();
  Terminal(const Terminal&) = delete;
  Terminal& operator=(const Terminal&) = delete;

  /// Empty at the end of input. An empty line repeats nothing.
  std::optional<std::string> line();

  struct Inside;

 private:
  std::unique_ptr<Inside> inside_;
};

}  // namespace prewire::front::debug
