#include "trouble.h"

#include <fmt/format.h>

#include "prewire/error.h"

namespace prewire::front {

Trouble::Trouble(Exit exit, const std::string& what, const std::string& expected, const std::string& found,
                 const std::string& hint)
    : exit_(exit), text_(fmt::format("prewire: {}\n", what)) {
  if (!expected.empty()) text_ += fmt::format("    expected: {}\n", expected);
  if (!found.empty()) text_ += fmt::format("    found:    {}\n", found);
  if (!hint.empty()) text_ += fmt::format("    hint:     {}\n", hint);
  text_ = printable(text_);
}

std::string meant(const std::string& word, const std::vector<std::string>& candidates, const std::string& otherwise) {
  const std::string near = did_you_mean(word, candidates);
  return near.empty() ? otherwise : fmt::format("did you mean {}?", near);
}

}  // namespace prewire::front
