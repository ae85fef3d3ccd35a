#include "inputs.h"

#include <fmt/format.h>

#include "trouble.h"

namespace prewire::front {

Stimulus parse_set(const std::string& text) {
  const std::size_t equals = text.find('=');
  const std::size_t at = text.rfind('@');
  Stimulus stimulus;
  stimulus.part = text.substr(0, equals);
  if (equals == std::string::npos || equals == 0 || (at != std::string::npos && at < equals)) {
    throw Trouble(Exit::usage, "--set cannot be read", "NAME=VALUE or NAME=VALUE@MOMENT, such as FLOAT=2.5V@10ms",
                  text);
  }
  stimulus.value = text.substr(equals + 1, at == std::string::npos ? at : at - equals - 1);
  stimulus.part_place.file = stimulus.value_place.file = fmt::format("--set {}", text);
  if (at == std::string::npos) return stimulus;
  const auto moment = parse_moment(text.substr(at + 1));
  if (!moment) {
    throw Trouble(Exit::usage, "--set names no moment after the '@'",
                  "a time such as 10ms, or a count of cycles such as 1200cycles", text.substr(at + 1),
                  "time counts from power-on");
  }
  stimulus.at = *moment;
  return stimulus;
}

}  // namespace prewire::front
