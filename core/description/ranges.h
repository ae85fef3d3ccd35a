// Ranges of names, as people write them: "PA0..PA7", "PA0..7", "a..g", "1A..4A".
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace prewire {

/// What stands before and behind the two dots; empty if there are none.
std::optional<std::pair<std::string_view, std::string_view>> range_ends(std::string_view text);

/// Names from `first` to `last`, up or down. `last` is a whole name or only what differs: the number at the end, of
/// three figures at most, one last letter, or the figure in front. Empty if that makes no range.
std::vector<std::string> expand_range(std::string_view first, std::string_view last);

/// The range that was meant by two names with another sign between them, "R0-R7", with all its names; else empty.
std::vector<std::string> range_in_disguise(std::string_view text);

/// Names as a person writes them in a wire: "PA0..PA7, CA1, CA2".
std::string pin_list(const std::vector<std::string>& names);

}  // namespace prewire
