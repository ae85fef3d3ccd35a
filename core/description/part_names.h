// What somebody means who writes a part number or a trade word that is no type.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace prewire {

struct PartName {
  std::string_view name, title;
};

/// The parts that have the same number, or whose name or title has the word in it; likely ones first.
std::vector<std::string> parts_meant(std::string_view word, const std::vector<PartName>& parts);

/// A hint that names them, or the parts of the same family; else `otherwise`. A part of another family, or with another
/// number, is never taken for the one that is missing.
std::string part_hint(std::string_view word, const std::vector<PartName>& parts, std::string otherwise);

}  // namespace prewire
