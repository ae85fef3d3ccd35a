// Texts as messages show them.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace prewire {

/// Without the blanks at its ends.
std::string_view trim(std::string_view text);

/// `text` in double quotes for a message: shortened, and escaped as in JSON.
std::string in_quotes(std::string_view text);
/// `did you mean "PIA"?`, also for a part of a name, or `otherwise`.
std::string meant(std::string_view word, const std::vector<std::string>& candidates, std::string otherwise);
/// `"a", "b" or "c"`.
std::string one_of(const std::vector<std::string>& words);

}  // namespace prewire
