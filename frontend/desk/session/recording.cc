#include "recording.h"

#include <limits>

#include "budget.h"

namespace prewire::front::desk {

namespace {

// What the check itself does not limit.
constexpr CheckLimits kNoLimits{std::numeric_limits<Cycle>::max() / 8, std::numeric_limits<Picoseconds>::max(),
                                std::numeric_limits<std::uint64_t>::max()};

}  // namespace

Recording::Recording(const Description& description, std::string script, std::string name)
    : script_(std::move(script)),
      name_(std::move(name)),
      run_(read_checks(script_, name_).front(), description, kNoLimits) {}

bool Recording::go_on(double budget) {
  const Budget left(budget);
  while (run_.go_on()) {
    if (left.used_up()) return true;
  }
  return false;
}

std::optional<std::string> Recording::take_text() {
  const std::string text = record_checks(script_, name_, {run_.take_result()});
  if (read_checks(text, name_).front().expects_nothing()) return std::nullopt;
  return text;
}

}  // namespace prewire::front::desk
