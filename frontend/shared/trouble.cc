#include "trouble.h"

#include <fmt/format.h>

#include "prewire/error.h"
#include "prewire/text.h"

namespace prewire::front {

Trouble::Trouble(Exit exit, const std::string& what, const std::string& expected, const std::string& found,
                 const std::string& hint)
    : exit_(exit), what_(what), expected_(expected), found_(found), hint_(hint) {
  text_ = fmt::format("prewire: {}\n", printable(what));
  if (!expected.empty()) text_ += fmt::format("    expected: {}\n", printable(expected));
  if (!found.empty()) text_ += fmt::format("    found:    {}\n", printable(found));
  if (!hint.empty()) text_ += fmt::format("    hint:     {}\n", printable(hint));
}

Trouble Trouble::at(const std::string& place, Exit exit) const {
  return {exit, fmt::format("{}: {}", place, what_), expected_, found_, hint_};
}

std::string meant(const std::string& word, const std::vector<std::string>& candidates, const std::string& otherwise) {
  const std::string near = did_you_mean(word, candidates);
  return near.empty() ? otherwise : fmt::format("did you mean {}?", near);
}

}  // namespace prewire::front
